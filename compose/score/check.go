package score

import (
	"fmt"
	"strings"

	"onward/rhythm"
)

// A Place is a place in the music.
type Place struct {
	Part    string        // the part's name, or its number from 1 where it has none
	Measure int           // the printed number
	Index   int           // the measure counted from 0
	At      rhythm.Offset // from the start of the measure
	Beat    string        // the felt beat from 1, with its fraction: "2", "1+2/3"
}

// String reports the place as in "Cornet, measure 12, beat 2".
func (p Place) String() string {
	return fmt.Sprintf("%s, measure %d, beat %s", p.Part, p.Measure, p.Beat)
}

// An Offence is what is wrong at one place.
type Offence struct {
	Place
	Text string
}

// A Finding is what one check found, and at how many places it looked: a check
// that looked at nothing has proved nothing.
type Finding struct {
	Check     string
	Examined  int
	Offenders []Offence
}

// A Report holds the findings of all checks, in the order of Check.
type Report []Finding

// Failed reports the names of the checks that found offenders.
func (r Report) Failed() []string {
	var names []string
	for _, f := range r {
		if len(f.Offenders) > 0 {
			names = append(names, f.Check)
		}
	}
	return names
}

// Of reports the finding of the check named; the zero Finding if there is none.
func (r Report) Of(check string) Finding {
	for _, f := range r {
		if f.Check == check {
			return f
		}
	}
	return Finding{}
}

// listed is how many offenders of a check an error names before it says how many more.
const listed = 5

// Err lists the offenders, each with its check and place; nil if there are none.
func (r Report) Err() error {
	var lines []string
	for _, f := range r {
		for i, o := range f.Offenders {
			if i == listed {
				lines = append(lines, fmt.Sprintf("%s: and at %d more places", f.Check, len(f.Offenders)-listed))
				break
			}
			lines = append(lines, fmt.Sprintf("%s: %s: %s", f.Check, o.Place, o.Text))
		}
	}
	if lines == nil {
		return nil
	}
	return fmt.Errorf("score: %s", strings.Join(lines, "\n\t"))
}

// checks names every check. Each looks at one part.
var checks = [...]struct {
	name string
	look func(*line, *Finding)
}{
	{"opening signs", openingSigns},
	{"measure numbers", measureNumbers},
	{"values", legalValues},
	{"order", noteOrder},
	{"filled", measuresFilled},
	{"full measures", fullMeasures},
	{"alterations", alterations},
	{"accidentals", accidentalsShown},
	{"graces", graces},
	{"ties", ties},
	{"slurs", slurs},
	{"breaths", breaths},
	{"tuplets", tuplets},
	{"beams", beams},
	{"beam groups", beamGroups},
	{"repeats", repeats},
	{"endings", endings},
	{"final bar", finalBar},
	{"dynamics", dynamics},
	{"hairpins", hairpins},
	{"tempo", tempos},
}

// Check looks the whole score over for what a copyist would not sign: measures that
// are not full, ties and slurs to nowhere, missing accidentals, beams across beats
// and so on. It does not judge whether the music is good or in range.
func Check(s *Score) Report {
	report := make(Report, len(checks))
	for i := range checks {
		report[i].Check = checks[i].name
	}
	for i := range s.Parts {
		l := lineOf(&s.Parts[i], i)
		for k := range checks {
			checks[k].look(l, &report[k])
		}
	}
	return report
}

// A line is a part as the checks see it.
type line struct {
	part  *Part
	name  string
	read  []attributes // by measure
	notes []spot       // every note and rest in order
}

// A spot is one note or rest with its measure's index.
type spot struct {
	measure, note int
	*Note
}

func lineOf(p *Part, i int) *line {
	l := &line{part: p, name: p.Name, read: make([]attributes, len(p.Measures))}
	if l.name == "" {
		l.name = fmt.Sprintf("part %d", i+1)
	}
	a := unsigned
	for i := range p.Measures {
		a = a.after(&p.Measures[i])
		l.read[i] = a
		for j := range p.Measures[i].Notes {
			l.notes = append(l.notes, spot{i, j, &p.Measures[i].Notes[j]})
		}
	}
	return l
}

// place reports the place at an offset of measure i.
func (l *line) place(i int, at rhythm.Offset) Place {
	m := &l.part.Measures[i]
	beat := int64(l.read[i].meter.Beat())
	return Place{l.name, m.Number, i, at, beatText(int64(at.Add(l.missing(i))), beat)}
}

// missing reports how much of the meter a pickup lacks at its front.
func (l *line) missing(i int) rhythm.Duration {
	m := &l.part.Measures[i]
	if full := l.read[i].meter.Measure(); m.Implicit && m.Length < full {
		return full - m.Length
	}
	return 0
}

func beatText(at, beat int64) string {
	whole, rest := at/beat+1, at%beat
	if rest == 0 {
		return fmt.Sprint(whole)
	}
	a, b := beat, rest
	for b != 0 {
		a, b = b, a%b
	}
	return fmt.Sprintf("%d+%d/%d", whole, rest/a, beat/a)
}

// blame adds an offence at an offset of measure i.
func (l *line) blame(f *Finding, i int, at rhythm.Offset, format string, args ...any) {
	f.Offenders = append(f.Offenders, Offence{l.place(i, at), fmt.Sprintf(format, args...)})
}

// blameNote adds an offence at a note.
func (l *line) blameNote(f *Finding, s spot, format string, args ...any) {
	l.blame(f, s.measure, s.At, format, args...)
}
