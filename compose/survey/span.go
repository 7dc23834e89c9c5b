package survey

import (
	"fmt"
	"slices"

	"onward/compose/score"
	"onward/theory"
)

// A Range is how far the part goes.
type Range struct {
	Low  Extreme `json:"low"`
	High Extreme `json:"high"`
	// Bracket is the least of the instrument's ranges that holds all; "" if none does.
	Bracket string `json:"bracket"`
	// Beyond says how far it leaves the bracket before that one: "a third above".
	Beyond []string `json:"beyond"`
	// Inside names the bracket that Beyond leaves; "" if the first holds all.
	Inside string `json:"inside,omitempty"`
}

// An Extreme is the lowest or the highest note, where it first comes.
type Extreme struct {
	Pitch    string `json:"pitch"` // on the page
	Measure  int    `json:"measure"`
	Measures []int  `json:"measures"` // all it stands in

	Written theory.Pitch `json:"-"`
}

// span tells the range against the instrument's brackets.
func (s *Survey) span(p *page) {
	low, high := 0, 0
	for i, o := range p.onsets {
		if o.Pitch.MIDI() < p.onsets[low].Pitch.MIDI() {
			low = i
		}
		if o.Pitch.MIDI() > p.onsets[high].Pitch.MIDI() {
			high = i
		}
	}
	s.Range.Low, s.Range.High = p.extreme(low), p.extreme(high)
	by := p.sounds.Add(p.Instrument.Sounds.Neg())
	a, b := p.onsets[low].Pitch.Transpose(by), p.onsets[high].Pitch.Transpose(by)
	inside := -1
	for i, r := range p.Instrument.Ranges {
		if r.Has(a) && r.Has(b) {
			s.Range.Bracket = theory.Bracket(i).String()
			break
		}
		inside = i
	}
	if inside < 0 {
		return
	}
	r := p.Instrument.Ranges[inside]
	s.Range.Inside = theory.Bracket(inside).String()
	if b.MIDI() > r.High.MIDI() {
		s.Range.Beyond = append(s.Range.Beyond, distance(r.High, b)+" above")
	}
	if a.MIDI() < r.Low.MIDI() {
		s.Range.Beyond = append(s.Range.Beyond, distance(a, r.Low)+" below")
	}
}

func (p *page) extreme(at int) Extreme {
	o := p.onsets[at]
	e := Extreme{Pitch: o.Pitch.String(), Measure: p.number(o.Measure), Written: o.Pitch}
	for _, x := range p.onsets {
		if n := p.number(x.Measure); x.Pitch.MIDI() == o.Pitch.MIDI() && !slices.Contains(e.Measures, n) {
			e.Measures = append(e.Measures, n)
		}
	}
	return e
}

var intervals = []string{"", "second", "third", "fourth", "fifth", "sixth", "seventh"}

// distance says how far b lies above a: "a third", "an octave and a second".
func distance(a, b theory.Pitch) string {
	steps := b.Step() - a.Step()
	var words string
	switch octaves := steps / 7; {
	case steps == 0:
		return "a half step"
	case octaves == 1:
		words = "an octave"
	case octaves > 1:
		words = fmt.Sprintf("%d octaves", octaves)
	}
	if name := intervals[steps%7]; name != "" && words != "" {
		return words + " and a " + name
	} else if name != "" {
		return "a " + name
	}
	return words
}

// Accidentals are the accidentals printed.
type Accidentals struct {
	Tally
	Notes []AccidentalNote `json:"notes"` // by pitch class, in order of meeting
}

// An AccidentalNote is a pitch class that bears accidentals.
type AccidentalNote struct {
	Class    string `json:"class"` // "F#", "Bb", "B" for a natural
	Measures []int  `json:"measures"`

	Spelled theory.Class `json:"-"`
}

// A Tally is how many there are, and where.
type Tally struct {
	Count    int   `json:"count"`
	Measures []int `json:"measures"`
}

func (t *Tally) add(measure, n int) {
	if n > 0 {
		t.Count += n
		t.Measures = noted(t.Measures, measure)
	}
}

// noted adds a number that is not the last.
func noted(list []int, n int) []int {
	if len(list) > 0 && list[len(list)-1] == n {
		return list
	}
	return append(list, n)
}

// signs tells accidentals, grace notes and the densest measure.
func (s *Survey) signs(p *page) {
	for i := range p.line.Measures {
		m := &p.line.Measures[i]
		notes := 0
		for k := range m.Notes {
			n := &m.Notes[k]
			if n.Rest || n.TieStop {
				continue
			}
			notes += 1 + len(n.Grace)
			s.Graces.add(m.Number, len(n.Grace))
			if n.Accidental == score.Shown {
				s.Accidental.add(m.Number, 1)
				s.Accidental.note(n.Pitch.Class(), m.Number)
			}
		}
		for k, o := range p.in(i) { // what a machine wrote for grace notes
			before := -1
			if k > 0 {
				before = p.in(i)[k-1].Note
			}
			tiny := 0
			for j := before + 1; j < o.Note; j++ {
				if !m.Notes[j].Rest && !m.Notes[j].TieStop {
					tiny++
				}
			}
			s.Graces.add(m.Number, tiny)
		}
		if notes > s.Densest.Notes {
			s.Densest = Dense{m.Number, notes}
		}
	}
}

func (a *Accidentals) note(c theory.Class, measure int) {
	for i := range a.Notes {
		if a.Notes[i].Spelled == c {
			a.Notes[i].Measures = noted(a.Notes[i].Measures, measure)
			return
		}
	}
	a.Notes = append(a.Notes, AccidentalNote{c.String(), []int{measure}, c})
}

// A Rest is a run of measures of rest, and how the part comes in after it.
type Rest struct {
	Measure  int    `json:"measure"`
	Measures int    `json:"measures"`
	Entry    int    `json:"entry"` // the measure of the next note; 0 for none
	Beat     string `json:"beat"`  // of it, felt beats from 1
	Pitch    string `json:"pitch"`
}

// longRest is from how many measures on a rest is to be counted.
const longRest = 2

// rests lists the long rests.
func (s *Survey) rests(p *page) {
	for i := 0; i < len(p.line.Measures); i++ {
		j := i
		for j < len(p.line.Measures) && silent(&p.line.Measures[j]) {
			j++
		}
		if j-i >= longRest {
			r := Rest{Measure: p.number(i), Measures: j - i}
			if next := p.first[j]; next < len(p.onsets) {
				o := p.onsets[next]
				r.Entry, r.Beat, r.Pitch = p.number(o.Measure), p.beat(o), o.Pitch.String()
			}
			s.Rests = append(s.Rests, r)
		}
		i = max(i, j)
	}
}

func silent(m *score.Measure) bool {
	return !slices.ContainsFunc(m.Notes, func(n score.Note) bool { return !n.Rest })
}
