package fit

import (
	"fmt"
	"slices"
	"strings"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// Hand-set, as in the prototype unless said otherwise: how much the strains of a band count
// beside dances, and tunes that are learned for the line alone.
const (
	strainTimes   = 12  // rhythms, first notes and closes
	strainForms   = 3   // forms: few strains should not be in all reads
	strainAltered = 60  // altered notes
	strainLine    = 5   // the line; by bits of one march left out at a time
	danceLine     = .15 // the line of dances in the other meter; by the same
	denseLine     = .2  // dances too dense or wide to sight-read
	otherLine     = .8  // songs in other meters; by bits
	mostDense     = 900 // tunes
)

// A Kind is what tunes are learned together: "march" from strains and dances, "song" from
// songs, vocalises and airs in 3/4.
type Kind string

// The kinds.
const (
	March Kind = "march"
	Song  Kind = "song"
)

// meters of each kind, with the notes that a measure of a dance has at least and at most to
// be learned from. Hand-set, as in the prototype.
var meters = map[Kind][]meter{
	March: {{2, 4, 2.0, 3.85}, {6, 8, 2.5, 5.3}},
	Song:  {{4, 4, 0, 99}, {3, 4, 1.8, 4.8}, {2, 4, 0, 99}, {6, 8, 0, 99}, {3, 8, 0, 99}},
}

type meter struct {
	beats, unit int
	low, high   float64
}

// A Report says how well a meter was learned.
type Report struct {
	Meter   string
	Forms   int
	Lessons int
	Held    int     // tunes that nothing was learned from
	Notes   int     // new ones of these
	Bits    float64 // that each takes
}

// Learn learns an idiom from rows of melodies, but from none that is held back, which it
// measures the line by.
func Learn(kind Kind, rows []*tune.Row, rounds int) (*idiom.Idiom, []Report, error) {
	var taught, held []*tune.Tune
	for _, t := range Cut(kind, rows) {
		if t.HeldBack() {
			held = append(held, t)
		} else {
			taught = append(taught, t)
		}
	}
	d := new(idiom.Idiom)
	var reports []Report
	for _, m := range meters[kind] {
		c := course(kind, m, taught)
		c.Rounds = rounds
		learned, err := Meter(c)
		if err != nil {
			return nil, nil, fmt.Errorf("%s in %d/%d: %w", kind, m.beats, m.unit, err)
		}
		var test []*tune.Tune
		for _, l := range course(kind, m, held).Lessons {
			test = append(test, l.Tune)
		}
		bits, notes := Bits(learned, test)
		reports = append(reports, Report{learned.Name, len(learned.Forms), len(c.Lessons), len(test), notes, bits})
		d.Meters = append(d.Meters, learned)
	}
	return d, reports, nil
}

// Cut cuts the rows of a kind into tunes, each opening of a length and meter once.
func Cut(kind Kind, rows []*tune.Row) []*tune.Tune {
	var all []*tune.Tune
	seen := map[string]bool{}
	for _, r := range rows {
		sung := r.Kind == "song" || r.Kind == "vocalise"
		if air := r.Kind == "dance" && r.Meter == [2]int{3, 4}; (kind == Song) != (sung || air) {
			continue
		}
		for _, t := range r.Tunes() {
			if o := opening(t); !seen[o] {
				seen[o] = true
				all = append(all, t)
			}
		}
	}
	return all
}

// opening names the first nine notes of a tune, its meter and length.
func opening(t *tune.Tune) string {
	var b strings.Builder
	fmt.Fprint(&b, t.Beats, t.Unit, t.Measures)
	last, count := 0, 0
	for _, n := range t.Notes {
		if n.Onset >= 0 && count < 9 {
			if count > 0 {
				fmt.Fprint(&b, " ", n.Step-last)
			}
			last, count = n.Step, count+1
		}
	}
	return b.String()
}

// course gives the tunes of a kind their parts in learning a meter.
func course(kind Kind, m meter, tunes []*tune.Tune) *Course {
	c := &Course{Beats: m.beats, Unit: m.unit, Penalty: 3}
	if kind == Song {
		c.Penalty = 8
	}
	var dense []Lesson
	for _, t := range tunes {
		ofBand := t.Kind == strain
		same := t.Beats == m.beats && t.Unit == m.unit
		fits := ofBand && t.Readable() || t.Plain() && t.Density() >= m.low && t.Density() <= m.high
		lesson := Lesson{t, 1, 1}
		if ofBand {
			lesson = Lesson{t, strainTimes, strainLine}
		}
		home := t.Measures == homeLength(kind, t) || t.Measures == 8 && !inside(t, tunes)
		switch {
		case same && fits:
			c.Forms = append(c.Forms, lesson)
			if home && (kind == March || closes(t)) {
				c.Lessons = append(c.Lessons, lesson)
			}
		case kind == Song && home && closes(t) && t.Plain():
			lesson.Line = otherLine
			c.More = append(c.More, lesson)
		case kind == March && !same && fits && home && !ofBand:
			lesson.Line = danceLine
			c.More = append(c.More, lesson)
		case kind == March && same && home:
			lesson.Line = denseLine
			dense = append(dense, lesson)
		}
		if home && t.Readable() {
			if ofBand {
				lesson.Times = strainAltered
			}
			c.Altered = append(c.Altered, lesson)
		}
	}
	c.More = append(c.More, thin(dense, mostDense)...)
	return c
}

// homeLength reports how many measures a tune of a kind has that lines and rhythms are
// learned from.
func homeLength(kind Kind, t *tune.Tune) int {
	if kind == March && (t.Beats == 2 || t.Kind == strain) {
		return 16
	}
	return 8
}

// inside reports whether a tune of 8 measures is part of one of 16.
func inside(t *tune.Tune, tunes []*tune.Tune) bool {
	return slices.ContainsFunc(tunes, func(o *tune.Tune) bool {
		return o.Name == t.Name && o.Measures == 16 && t.Start >= o.Start && t.Start < o.Start+16*o.Measured()
	})
}

// closes reports whether a tune ends on its tonic.
func closes(t *tune.Tune) bool { return mod7(t.Notes[len(t.Notes)-1].Step) == 0 }

// thin keeps at most so many lessons, evenly spread.
func thin(lessons []Lesson, most int) []Lesson {
	if len(lessons) <= most {
		return lessons
	}
	var kept []Lesson
	for i := range most {
		kept = append(kept, lessons[i*len(lessons)/most])
	}
	return kept
}
