package compose

import (
	"fmt"
	"slices"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// assemble writes the piece as a score, and notes where its parts lie.
func (p *piece) assemble() *Read {
	in := p.req.Instrument
	part := score.Part{Name: in.Name, Sounds: in.Sounds, Program: in.Program}
	p.soften()
	r := &Read{Seed: p.req.Seed, Style: p.req.Style, Request: p.req, Rung: p.req.Rung, Meter: p.meter, Key: p.home, Tempo: p.tempo,
		LegalLog10: p.legal, Loosened: p.loosened}
	if p.carried {
		r.Loosened = append(slices.Clip(r.Loosened), fmt.Sprintf("rung %d has none of your rhythms in %s: your figures stand on others", p.req.Rung, p.meter))
	}
	key := theory.Key{Fifths: 99}
	letter := 'A'
	for si, s := range p.sections {
		first := len(part.Measures)
		bars, lead := p.onPage(s), s.leads()
		toConcert := theory.Between(s.key.Tonic().In(4), s.concert.Tonic().In(4))
		for i, b := range bars {
			m := p.measure(b, len(part.Measures)+1-p.leads(), lastNote(part.Measures))
			if s.key != key {
				k := s.key
				m.Key, key = &k, s.key
			}
			if b == s.lead {
				cut(&m, b.cells[0].at)
			}
			m.NewSystem = i >= lead && (i-lead)%phraseLength == 0 && len(part.Measures) > lead && i < len(bars)-1
			p.placeFigures(r, b, len(part.Measures))
			for _, c := range b.chords {
				r.Chords = append(r.Chords, Chord{len(part.Measures), c.at, c.chord.Transpose(toConcert)})
			}
			part.Measures = append(part.Measures, m)
		}
		p.signs(part.Measures[first+lead:], s, si, &letter)
		r.Sections = append(r.Sections, p.section(s, first+lead, len(bars)-lead))
	}
	p.opening(&part.Measures[0])
	end := &part.Measures[len(part.Measures)-1]
	end.DoubleBar = false
	if !end.RepeatEnd {
		end.FinalBar = true
	}
	r.Title = fmt.Sprintf("%s in %s", p.req.Style.Title, spoken(p.home))
	r.Score = &score.Score{Title: r.Title, Subtitle: p.subtitle(), Parts: []score.Part{part}}
	return r
}

// subtitle says what the read is, as printed under its title.
func (p *piece) subtitle() string {
	return fmt.Sprintf("rung %d, read %d", p.req.Rung, p.req.Seed)
}

// spoken reports a key as it is said: "B-flat", "G minor".
func spoken(k theory.Key) string {
	t := k.Tonic()
	s := t.Letter.String() + [...]string{"-flat", "", "-sharp"}[t.Alter+1]
	if k.Mode == theory.Minor {
		s += " minor"
	}
	return s
}

// onPage lists a section's bars as written: the upbeat first, the first ending before the
// last bar.
func (p *piece) onPage(s *section) []*bar {
	var out []*bar
	if s.lead != nil {
		out = append(out, s.lead)
	}
	n := len(s.bars) - 1
	out = append(out, s.bars[:n]...)
	if s.ending != nil {
		out = append(out, s.ending)
	}
	return append(out, s.bars[n])
}

// leads reports how many measures of upbeat the section has on the page, 0 or 1.
func (s *section) leads() int {
	if s.lead != nil {
		return 1
	}
	return 0
}

// leads reports the same of the piece: its first section alone may have one.
func (p *piece) leads() int { return p.sections[0].leads() }

// cut leaves out what stands before from in the measure: it becomes an upbeat.
func cut(m *score.Measure, from rhythm.Offset) {
	m.Implicit, m.Length = true, rhythm.Offset(m.Length).Since(from)
	for i := range m.Notes {
		m.Notes[i].At = rhythm.Offset(m.Notes[i].At.Since(from))
	}
}

// measure writes one bar's notes. last is the note before it, nil for none, which a held bar
// ties on.
func (p *piece) measure(b *bar, number int, last *score.Note) score.Measure {
	m := score.Measure{Number: number, Length: p.meter.Measure()}
	pitch, tied := theory.Pitch{}, b.into > 0 && last != nil
	if tied {
		pitch, last.TieStart = last.Pitch, true
	}
	var pitches []theory.Pitch // still to be written
	for _, sl := range b.slots {
		pitches = append(pitches, sl.pick.pitches...)
	}
	for _, l := range b.cells {
		at := l.at
		for _, e := range l.cell.Events {
			note := score.Note{At: at, Value: e.Value, Rest: e.Rest}
			if !e.Rest {
				if !tied {
					pitch, pitches = pitches[0], pitches[1:]
				}
				note.Pitch, note.TieStop, note.TieStart = pitch, tied, e.Tied
				if e.Grace > 0 {
					note.Grace = make([]theory.Pitch, e.Grace) // pitched by the marks
				}
			}
			m.Notes = append(m.Notes, note)
			tied = e.Tied && !e.Rest
			at = at.Add(e.Value.Duration())
		}
	}
	p.writeRests(&m)
	return m
}

// lastNote reports the last note of the measures, nil if they end in a rest.
func lastNote(measures []score.Measure) *score.Note {
	if len(measures) == 0 {
		return nil
	}
	notes := measures[len(measures)-1].Notes
	if len(notes) == 0 || notes[len(notes)-1].Rest {
		return nil
	}
	return &notes[len(notes)-1]
}

// placeFigures notes the figures of one bar.
func (p *piece) placeFigures(r *Read, b *bar, measure int) {
	for _, sl := range b.slots {
		f := Placed{Measure: measure, At: sl.at - p.upbeatAt(b), Notes: len(sl.onsets), Trap: sl.trap}
		f.Shape, f.Cell = sl.pick.shape.Name, sl.cell.Name
		if p.drilled != nil {
			_, f.Known = p.drilled.figures[f.Figure]
		}
		r.Figures = append(r.Figures, f)
		if sl.trap {
			like := p.world.Catalogue.Shape(sl.pick.shape.LooksLike)
			r.Traps = append(r.Traps, Trap{measure, sl.pick.shape.Name, like.Name, sl.pick.shape.Words})
		}
	}
}

// upbeatAt reports where in its measure the upbeat of the piece begins, 0 for any other
// bar: on the page the measure begins there.
func (p *piece) upbeatAt(b *bar) rhythm.Offset {
	if s := p.sections[0]; s.lead == b {
		return b.cells[0].at
	}
	return 0
}

// signs writes a section's repeats, endings, letter and words.
func (p *piece) signs(ms []score.Measure, s *section, index int, letter *rune) {
	n := len(ms)
	if s.Repeat {
		ms[0].RepeatStart = index > 0 || s.lead != nil
		if s.ending != nil {
			ms[n-2].Ending, ms[n-2].EndingStart, ms[n-2].EndingStop, ms[n-2].RepeatEnd = 1, true, true, true
			ms[n-1].Ending, ms[n-1].EndingStart, ms[n-1].EndingStop = 2, true, true
		} else {
			ms[n-1].RepeatEnd = true
		}
	}
	if !ms[n-1].RepeatEnd {
		ms[n-1].DoubleBar = len(p.sections) > 1
	}
	if s.Letter {
		ms[0].Rehearsal = string(*letter)
		*letter++
	}
	ms[0].Words = s.Words
}

func (p *piece) section(s *section, first, measures int) Section {
	out := Section{Name: s.Name, First: first, Measures: measures, Key: s.concert,
		Dynamic: s.Dynamic, Again: s.Again, Character: s.Character, Repeat: s.Repeat, Endings: s.ending != nil, Stinger: s.Stinger}
	for _, ph := range s.phrases {
		out.Phrases = append(out.Phrases, Phrase{first + ph.first, ph.measures, ph.letter, ph.cadence})
	}
	if s.ending != nil { // the last phrase has a measure more on the page
		out.Phrases[len(out.Phrases)-1].Measures++
	}
	return out
}

// opening writes meter, clef and tempo at the head.
func (p *piece) opening(m *score.Measure) {
	meter, clef := p.meter, p.req.Instrument.Clef
	m.Meter, m.Clef = &meter, &clef
	m.Tempo = &score.Tempo{Beat: p.meter.BeatValue(), BPM: p.tempo, Word: p.sheet.Words}
	m.NewSystem = false
}
