package survey

import (
	"fmt"
	"strings"

	"onward/rhythm"
)

// A Meter is a meter from a measure on.
type Meter struct {
	Measure int    `json:"measure"`
	Meter   string `json:"meter"`
}

// A Tempo is what stands at the head.
type Tempo struct {
	Beat  string `json:"beat"`  // the note value that is felt: "4", "4.", "2"
	BPM   int    `json:"bpm"`   // of it
	Given bool   `json:"given"` // the page has a number
	Word  string `json:"word,omitempty"`
}

// A Word is what is written at a measure.
type Word struct {
	Measure int    `json:"measure"`
	Text    string `json:"text"`
}

// A Form is the way through the page.
type Form struct {
	Measures int       `json:"measures"` // printed, an upbeat left out
	Upbeat   bool      `json:"upbeat"`
	Played   int       `json:"played"` // with repeats, likewise
	Way      []Stretch `json:"way"`
	Sections []Section `json:"sections"`
}

// A Stretch is a row of measures played without a jump.
type Stretch struct {
	First int `json:"first"`
	Last  int `json:"last"`
}

// A Section lies between double bars, repeats, letters or new signatures.
type Section struct {
	Stretch
	Letter   string `json:"letter,omitempty"`
	Words    string `json:"words,omitempty"`
	Repeated bool   `json:"repeated"`
	Endings  bool   `json:"endings"`
}

// time tells meters, tempo and words.
func (s *Survey) time(p *page) {
	for i, m := range p.meters {
		if i == 0 || m != p.meters[i-1] {
			s.Meters = append(s.Meters, Meter{p.number(i), m.String()})
		}
	}
	beat := p.meters[0].BeatValue()
	s.Tempo = Tempo{Beat: beat.String(), BPM: int(60e6/float64(p.micros[0])*float64(rhythm.Quarter)/float64(p.meters[0].Beat()) + 0.5)}
	for i := range p.line.Measures {
		m := &p.line.Measures[i]
		var texts []string
		if m.Tempo != nil {
			if i == 0 {
				s.Tempo.Given, s.Tempo.Word = true, m.Tempo.Word
				felt := p.meters[0].Beat()
				s.Tempo.BPM = int((2*rhythm.Duration(m.Tempo.BPM)*m.Tempo.Beat.Duration() + felt) / (2 * felt))
			}
			texts = append(texts, m.Tempo.Word)
		}
		for _, t := range append(texts, m.Words) {
			if t = strings.TrimSpace(t); t != "" {
				s.Words = append(s.Words, Word{m.Number, t})
			}
		}
		for _, d := range m.Dynamics {
			s.Dynamics = append(s.Dynamics, Word{m.Number, d.Mark})
		}
	}
	if s.Tempo.Word == "" && len(s.Words) > 0 && s.Words[0].Measure <= 1 {
		s.Tempo.Word = s.Words[0].Text
	}
}

// form tells the way through, and the sections.
func (s *Survey) form(p *page) {
	f := &s.Form
	for _, o := range p.piece.Order {
		if !p.piece.Measures[o.Index].Implicit {
			f.Played++
		}
	}
	for i := range p.line.Measures {
		if p.line.Measures[i].Implicit {
			f.Upbeat = f.Upbeat || i == 0
		} else {
			f.Measures++
		}
	}
	from := 0
	order := p.piece.Order
	for i := range order {
		if i+1 < len(order) && order[i+1].Index == order[i].Index+1 {
			continue
		}
		f.Way = append(f.Way, Stretch{p.piece.Measures[order[from].Index].Number, p.piece.Measures[order[i].Index].Number})
		from = i + 1
	}
	from = 0
	for i := range p.line.Measures {
		if i+1 < len(p.line.Measures) && !p.divided(i+1) {
			continue
		}
		f.Sections = append(f.Sections, p.section(from, i))
		from = i + 1
	}
}

// divided reports whether a section begins with measure i.
func (p *page) divided(i int) bool {
	before, m := &p.line.Measures[i-1], &p.line.Measures[i]
	switch {
	case m.Ending > 1 && before.Ending > 0: // the next ending belongs to its section
		return false
	case m.RepeatStart, before.RepeatEnd, before.DoubleBar, before.FinalBar, m.Rehearsal != "":
		return true
	}
	return p.signatures[i].Fifths != p.signatures[i-1].Fifths || strings.EqualFold(strings.Trim(m.Words, ". "), "trio")
}

func (p *page) section(a, b int) Section {
	s := Section{Stretch: Stretch{p.number(a), p.number(b)}, Letter: p.line.Measures[a].Rehearsal, Words: p.line.Measures[a].Words}
	for i := a; i <= b; i++ {
		s.Repeated = s.Repeated || p.line.Measures[i].RepeatEnd
		s.Endings = s.Endings || p.line.Measures[i].Ending > 0
	}
	return s
}

// String says a stretch: "1 to 8", or one number.
func (s Stretch) String() string {
	name := func(n int) string {
		if n == 0 {
			return "the upbeat"
		}
		return fmt.Sprint(n)
	}
	if s.First == s.Last {
		return name(s.First)
	}
	return name(s.First) + " to " + name(s.Last)
}
