package compose_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A published is what a published level allows. Empty lists allow everything.
type published struct {
	name     string
	rungs    [2]int
	keys     []string // concert
	meters   []string
	low      string // written, B-flat treble
	high     string
	span     int // scale steps from lowest to highest note at most, 0 for any
	tempo    [2]int
	rhythms  []string // beyond whole, half, dotted half, quarter and their rests
	marks    string   // articulation that may appear
	pairs    bool     // eighths only as two repeated notes
	measures int      // asked for
}

// The limits as the documents have them. Sources: Florida Bandmasters Association
// sight-reading criteria, class MD; Missouri State High School Activities Association
// sight-reading criteria sheet, rev. 2002-03; a Massachusetts district's band
// curriculum map, 2014, grades 5 to 8.
var levels = []published{
	{name: "FBA MD", rungs: [2]int{1, 1}, keys: []string{"Bb major"}, meters: []string{"2/4", "3/4", "4/4"}, low: "C4", high: "A4",
		rhythms: []string{"paired eighths"}, pairs: true, measures: 48},
	{name: "Massachusetts 5", rungs: [2]int{1, 2}, keys: []string{"Bb major", "F major"}, meters: []string{"2/4", "3/4", "4/4"},
		rhythms: []string{"paired eighths"}, marks: "accent slur staccato"},
	{name: "Massachusetts 6", rungs: [2]int{1, 3}, keys: []string{"Bb major", "F major", "Eb major", "Ab major"},
		meters: []string{"2/4", "3/4", "4/4", "cut"}, marks: "accent slur staccato tenuto marcato",
		rhythms: []string{"paired eighths", "dotted quarter", "single eighth", "syncopation"}},
	{name: "MSHSAA 1", rungs: [2]int{3, 4}, keys: []string{"Bb major", "F major", "Eb major", "G minor", "D minor", "C minor"},
		meters: []string{"2/4", "3/4", "4/4"}, span: 9, tempo: [2]int{88, 92},
		rhythms: []string{"paired eighths", "dotted quarter", "single eighth", "syncopation", "four sixteenths"}},
	{name: "Massachusetts 7", rungs: [2]int{1, 4}, keys: []string{"Bb major", "F major", "Eb major", "Ab major", "C major"},
		meters:  []string{"2/4", "3/4", "4/4", "cut", "3/8", "6/8"},
		rhythms: []string{"paired eighths", "dotted quarter", "single eighth", "syncopation", "four sixteenths"}},
	{name: "MSHSAA 2", rungs: [2]int{5, 6}, keys: []string{"Bb major", "F major", "Eb major", "G minor", "D minor", "C minor"},
		meters: []string{"2/4", "3/4", "4/4", "cut", "6/8", "5/4"}, span: 9,
		rhythms: []string{"paired eighths", "dotted quarter", "single eighth", "syncopation", "four sixteenths", "sixteenth combination"}},
	{name: "Massachusetts 8", rungs: [2]int{1, 5}, keys: []string{"Bb major", "F major", "Eb major", "Ab major", "C major", "G major"},
		meters:  []string{"2/4", "3/4", "4/4", "cut", "3/8", "6/8"},
		rhythms: []string{"paired eighths", "dotted quarter", "single eighth", "syncopation", "four sixteenths", "sixteenth combination", "triplet"}},
}

// Each level looks at the reads of its rungs, in both styles and all forms; one that asks for
// so many measures has its own.
func TestPublishedLevelsAreMetByTheirRungs(t *testing.T) {
	seeds := 12 // of a style and rung
	if long() {
		seeds = 250
	}
	made := map[[2]int][]*compose.Read{} // by rung and measures asked for
	for _, lv := range levels {
		t.Run(lv.name, func(t *testing.T) {
			for rung := lv.rungs[0]; rung <= lv.rungs[1]; rung++ {
				at := [2]int{rung, lv.measures}
				if made[at] == nil {
					made[at] = composed(t, world(t), levelRequests(t, rung, lv.measures, seeds))
				}
				for _, r := range made[at] {
					for _, fault := range lv.faults(r) {
						t.Errorf("%s: %s\n%s", r.Identity, fault, score.Text(r.Score.Parts[0]))
					}
					if t.Failed() {
						return
					}
				}
			}
		})
	}
}

func levelRequests(t *testing.T, rung, measures, seeds int) []compose.Request {
	var all []compose.Request
	for i := range seeds * len(styles.Names()) {
		s := sheet(t, styles.Names()[i%2])
		req := compose.Request{Style: s, Rung: rung, Instrument: instrument(t, "euphonium-tc"), Seed: uint64(i), Measures: measures}
		if measures == 0 {
			req.Form = []string{"snippet", "strain", s.Forms[len(s.Forms)-1].Name}[i/2%3]
		}
		all = append(all, req)
	}
	return all
}

// faults lists what of a read the document does not allow.
func (lv *published) faults(r *compose.Read) []string {
	var out []string
	bad := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	part := &r.Score.Parts[0]
	for _, s := range r.Sections {
		if !slices.Contains(lv.keys, s.Key.String()) {
			bad("key %s", s.Key)
		}
	}
	if !slices.Contains(lv.meters, r.Meter.String()) {
		bad("meter %s", r.Meter)
	}
	quarters := r.Tempo * int(r.Meter.Beat()) / int(rhythm.Quarter)
	if lv.tempo[0] > 0 && (quarters < lv.tempo[0] || quarters > lv.tempo[1]) {
		bad("quarter = %d", quarters)
	}
	if n := len(part.Measures); lv.measures > 0 && (n < 40 || n > 64) {
		bad("%d measures", n)
	}
	lo, hi, steps, moves := theory.Pitch{}, theory.Pitch{}, 0, 0
	var last *score.Note
	for i := range part.Measures {
		m := &part.Measures[i]
		for _, e := range elements(m, r.Meter) {
			if !slices.Contains(lv.rhythms, e) {
				bad("measure %d: %s", m.Number, e)
			}
		}
		for j := range m.Notes {
			n := &m.Notes[j]
			if n.Rest {
				continue
			}
			for mark, on := range map[string]bool{"accent": n.Accent, "slur": n.SlurStart, "staccato": n.Staccato, "tenuto": n.Tenuto, "marcato": n.Marcato} {
				if on && lv.marks != "" && !strings.Contains(lv.marks, mark) {
					bad("measure %d: %s", m.Number, mark)
				}
			}
			if lv.pairs && n.Value.Base == 8 && !pairedOnOneNote(m.Notes, j) {
				bad("measure %d: eighths that move", m.Number)
			}
			if last == nil || n.Pitch.MIDI() < lo.MIDI() {
				lo = n.Pitch
			}
			if last == nil || n.Pitch.MIDI() > hi.MIDI() {
				hi = n.Pitch
			}
			if last != nil && n.Pitch != last.Pitch {
				moves++
				if d := n.Pitch.Step() - last.Pitch.Step(); d == 1 || d == -1 {
					steps++
				}
			}
			last = n
		}
		for _, dyn := range m.Dynamics {
			if lv.marks != "" && !strings.Contains(" p mp mf f ", " "+dyn.Mark+" ") {
				bad("measure %d: %s", m.Number, dyn.Mark)
			}
		}
	}
	if lv.low != "" && (lo.MIDI() < theory.MustPitch(lv.low).MIDI() || hi.MIDI() > theory.MustPitch(lv.high).MIDI()) {
		bad("range %s to %s", lo, hi)
	}
	if lv.span > 0 && hi.Step()-lo.Step() > lv.span {
		bad("range %s to %s is more than an octave and a third", lo, hi)
	}
	if lv.pairs && 2*steps < moves { // "mostly stepwise"
		bad("%d steps in %d moves", steps, moves)
	}
	return out
}

// pairedOnOneNote reports whether the eighth is one of two on the same note.
func pairedOnOneNote(notes []score.Note, i int) bool {
	for _, j := range []int{i - 1, i + 1} {
		if j >= 0 && j < len(notes) && !notes[j].Rest && notes[j].Value == notes[i].Value && notes[j].Pitch == notes[i].Pitch {
			return true
		}
	}
	return false
}

// elements names the rhythms of a measure beyond whole, half, dotted half and quarter
// notes: how a curriculum counts them. Compound meters are one element of their own
// (their meter) as long as they keep to eighths and longer.
func elements(m *score.Measure, meter rhythm.Meter) []string {
	var out []string
	for i, n := range m.Notes {
		v := n.Value
		switch {
		case len(n.Grace) > 0:
			out = append(out, "grace note")
		case v.Tuplet.Actual != 0:
			out = append(out, "triplet")
		case v.Base == 16 && v.Dots == 0 && fourSixteenths(m.Notes, i):
			out = append(out, "four sixteenths")
		case v.Base == 16 || v.Base == 8 && v.Dots > 0:
			out = append(out, "sixteenth combination")
		case v.Base > 16 || v.Dots > 1:
			out = append(out, "value "+v.String())
		}
		if meter.Compound() || v.Tuplet.Actual != 0 {
			continue
		}
		beat := rhythm.Offset(rhythm.Quarter)
		switch {
		case v.Base == 4 && v.Dots == 1:
			out = append(out, "dotted quarter")
		case v.Base == 4 && n.At%beat != 0 && !n.Rest:
			out = append(out, "syncopation")
		case v.Base == 8 && v.Dots == 0 && n.Rest:
			out = append(out, "single eighth")
		case v.Base == 8 && v.Dots == 0:
			out = append(out, "paired eighths")
		}
	}
	return out
}

// fourSixteenths reports whether the note is one of four sixteenths that fill a
// quarter of the measure.
func fourSixteenths(notes []score.Note, i int) bool {
	quarter := notes[i].At / rhythm.Offset(rhythm.Quarter)
	n := 0
	for _, o := range notes {
		if o.At/rhythm.Offset(rhythm.Quarter) == quarter && o.Value == notes[i].Value && !o.Rest {
			n++
		}
	}
	return n == 4
}
