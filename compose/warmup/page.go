package warmup

import (
	"fmt"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// dynamic is how loud a warm-up is marked.
const dynamic = "p"

// Score writes the warm-up as a page: a line to a system, an exercise's title and number
// of times as words ahead of it.
func (d *Day) Score(title, subtitle, identity string) *score.Score {
	b := newBook(d)
	for i := range d.Exercises {
		e := &d.Exercises[i]
		for k := range e.Lines {
			begin := len(b.part.Measures)
			b.line(e, k)
			m := &b.part.Measures[begin]
			m.NewSystem = begin > 0
			if k == 0 {
				m.Rehearsal = fmt.Sprint(i + 1)
				m.Words = e.Heading()
				m.Dynamics = []score.Dynamic{{Mark: dynamic}}
			} else {
				m.Words = e.Lines[k].Words
			}
			last := &b.part.Measures[len(b.part.Measures)-1]
			last.DoubleBar = k == len(e.Lines)-1 || e.Lines[k+1].Key != e.Lines[k].Key
		}
	}
	last := &b.part.Measures[len(b.part.Measures)-1]
	last.DoubleBar, last.FinalBar = false, true
	return &score.Score{Title: title, Subtitle: subtitle, Identity: identity, Parts: []score.Part{b.done()}}
}

// A Played measure says what a measure of the part that Played makes is.
type Played struct {
	Exercise int // index
	Time     int // from 1
	Line     int // index; of a rest or a count 0
	Kind     PlayedKind
}

// A PlayedKind is what the player does in a measure.
type PlayedKind int

// The kinds: playing, resting, or resting while the next entry is counted.
const (
	Playing PlayedKind = iota
	Resting
	Counted
)

// Played writes the warm-up as it goes: each exercise as many times as it is played, the
// rests between, and a measure counted ahead of each time, all written out.
func (d *Day) Played() (score.Part, []Played) {
	b := newBook(d)
	var kinds []Played
	rest := func(n int, e int, kind PlayedKind) {
		for range n {
			b.rest(&d.Exercises[e])
			kinds = append(kinds, Played{Exercise: e, Kind: kind})
		}
	}
	for i := range d.Exercises {
		e := &d.Exercises[i]
		for time := 1; time <= e.Times; time++ {
			rest(1, i, Counted)
			for k := range e.Lines {
				b.line(e, k)
				for range e.Lines[k].Measures {
					kinds = append(kinds, Played{i, time, k, Playing})
				}
			}
			if time < e.Times || i+1 < len(d.Exercises) {
				rest(e.Count()-1, i, Resting)
			}
		}
	}
	b.part.Measures[0].Dynamics = []score.Dynamic{{Mark: dynamic}}
	b.part.Measures[len(b.part.Measures)-1].FinalBar = true
	return b.done(), kinds
}

// A book is a part being written.
type book struct {
	part  score.Part
	clef  theory.Clef
	key   theory.Key
	meter rhythm.Meter
	tempo score.Tempo
}

func newBook(d *Day) *book {
	in := &d.Instrument
	return &book{part: score.Part{Name: in.Name, Sounds: in.Sounds, Program: in.Program}, clef: in.Clef}
}

// add writes a measure with what is new at its start.
func (b *book) add(m score.Measure, e *Exercise, key theory.Key) {
	first := len(b.part.Measures) == 0
	if first {
		m.Clef = &b.clef
	}
	m.Number = len(b.part.Measures) + 1
	if first || key != b.key {
		b.key = key
		m.Key = &key
	}
	if meter := e.Meter; meter != b.meter {
		b.meter = meter
		m.Meter = &meter
	}
	if tempo := (score.Tempo{Beat: e.Meter.BeatValue(), BPM: e.Tempo}); tempo != b.tempo {
		b.tempo = tempo
		m.Tempo = &tempo
	}
	m.Notes = append([]score.Note(nil), m.Notes...)
	b.part.Measures = append(b.part.Measures, m)
}

func (b *book) line(e *Exercise, k int) {
	for _, m := range e.Lines[k].Measures {
		b.add(m, e, e.Lines[k].Key)
	}
}

func (b *book) rest(e *Exercise) {
	m := score.Measure{Length: e.Meter.Measure()}
	m.Notes = []score.Note{{Rest: true, WholeMeasure: true, Value: rhythm.Value{Base: 1}}}
	b.add(m, e, e.Key)
}

// done sets what follows from the notes.
func (b *book) done() score.Part {
	score.SetBeams(&b.part)
	score.SetTuplets(&b.part)
	score.SetAccidentals(&b.part)
	return b.part
}

// Heading is what stands over the exercise on the page: "Scale to the ninth and back; play
// three times". How to tongue stands at the notes.
func (e *Exercise) Heading() string { return e.Title + "; play " + times(e.Times) }

// Recipe tells the exercise so that it can be played from the head: "E-flat: scale to the
// ninth and back; eighths, slur two, tongue two; quarter = 84; three times".
func (e *Exercise) Recipe() string {
	return KeyWords(e.Key) + ": " + lower(e.Title) + "; " + e.How()
}

// How says in what rhythm, articulation and tempo, and how often.
func (e *Exercise) How() string {
	return fmt.Sprintf("%s, %s; %s = %d; %s", e.Rhythm, e.Tongue, BeatWords(e.Meter), e.Tempo, times(e.Times))
}

// lower begins a title with a small letter.
func lower(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// times says how often.
func times(n int) string {
	return [...]string{"", "once", "twice", "three times", "four times", "five times", "six times", "seven times", "eight times", "nine times", "ten times"}[n]
}

// KeyWords names a key by its tonic: "E-flat", "F-sharp minor".
func KeyWords(k theory.Key) string {
	t := k.Tonic()
	words := t.Letter.String() + [...]string{"-flat", "", "-sharp"}[t.Alter+1]
	if k.Mode == theory.Minor {
		words += " minor"
	}
	return words
}

// BeatWords names the note that is counted: "quarter", "dotted quarter".
func BeatWords(m rhythm.Meter) string {
	v := m.BeatValue()
	return strings.Repeat("dotted ", v.Dots) + map[int]string{2: "half", 4: "quarter", 8: "eighth"}[v.Base]
}
