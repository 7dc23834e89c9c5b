package figure

import (
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// An Onset is a note that the player starts: tied notes count once, grace notes and
// the very short notes that a machine writes for them not at all.
type Onset struct {
	Measure int             // index into the part's measures
	Note    int             // index into the measure's notes
	Length  rhythm.Duration // with what is tied to it
	Pitch   theory.Pitch
}

// Onsets lists the notes that a player starts, in order. Found counts in this list.
func Onsets(p *score.Part) []Onset {
	var all []Onset
	for _, b := range hear(p) {
		for _, s := range b.sounds {
			all = append(all, Onset{b.index, s.note, s.length, s.pitch})
		}
	}
	return all
}

// A sound is one note as it is heard: tied notes merged.
type sound struct {
	at     rhythm.Offset // from where a full measure would start
	length rhythm.Duration
	pitch  theory.Pitch
	grace  int // grace notes ahead of it
	note   int // index into the measure's notes
}

// tiny is the longest note that is heard as a grace note where it runs into the
// next: a sixty-fourth, as files made from MIDI write them.
const tiny = rhythm.Sixteenth / 4

// A bar is a measure as it is heard: its onsets, in the key and meter in force.
type bar struct {
	index int
	key   theory.Key
	meter rhythm.Meter
	// missing is the time that a pickup lacks at its start.
	missing rhythm.Duration
	first   int // index of its first sound in the part
	sounds  []sound
}

// hear reads the part measure by measure. Where no key or meter stands, they are C
// major and 4/4.
func hear(p *score.Part) []bar {
	bars := make([]bar, len(p.Measures))
	key, meter := theory.Key{}, rhythm.Meter{Beats: 4, Unit: 4}
	var last *sound // the sound that a tie may go on with
	count := 0
	for i := range p.Measures {
		m, b := &p.Measures[i], &bars[i]
		if m.Key != nil {
			key = *m.Key
		}
		if m.Meter != nil {
			meter = *m.Meter
		}
		*b = bar{index: i, key: key, meter: meter, first: count}
		if m.Implicit && m.Length < meter.Measure() {
			b.missing = meter.Measure() - m.Length
		}
		last = b.hear(m, last)
		count += len(b.sounds)
	}
	return bars
}

// hear reads one measure; it takes and reports the sound that may be tied over.
func (b *bar) hear(m *score.Measure, last *sound) *sound {
	b.sounds = make([]sound, 0, len(m.Notes)) // never grows: last stays valid
	for i, n := range m.Notes {
		d := n.Duration(m)
		switch {
		case n.Rest:
			last = nil
		case n.TieStop && last != nil && last.pitch.MIDI() == n.Pitch.MIDI():
			last.length += d
		default:
			s := sound{at: n.At.Add(b.missing), length: d, pitch: n.Pitch, grace: len(n.Grace), note: i}
			b.sounds = append(b.takeGraces(&s), s)
			last = &b.sounds[len(b.sounds)-1]
		}
	}
	return last
}

// takeGraces counts the tiny notes that run into s as its grace notes and reports
// the bar's sounds without them.
func (b *bar) takeGraces(s *sound) []sound {
	sounds, start := b.sounds, s.at
	for n := len(sounds); n > 0 && s.length > tiny; n-- {
		g := sounds[n-1]
		if g.length > tiny || g.at.Add(g.length) != start {
			break
		}
		sounds, start = sounds[:n-1], g.at
		s.grace += 1 + g.grace
	}
	return sounds
}

// A pattern is a cell as it is heard: when its notes start and how long they last.
type pattern struct {
	cell  *rhythm.Cell
	notes []sound // without pitch
}

func patternOf(c *rhythm.Cell) pattern {
	p := pattern{cell: c}
	at, tied := rhythm.Offset(0), false
	for _, e := range c.Events {
		d := e.Value.Duration()
		switch {
		case tied:
			p.notes[len(p.notes)-1].length += d
		case !e.Rest:
			p.notes = append(p.notes, sound{at: at, length: d, grace: e.Grace})
		}
		tied, at = e.Tied, at.Add(d)
	}
	return p
}

// patternsIn lists the cells that are at home in the meter as patterns; for a meter
// that no cell names, the cells of a meter with the same beat.
func (c *Catalogue) patternsIn(m rhythm.Meter) []pattern {
	name := m.String()
	if len(c.patterns[name]) > 0 {
		return c.patterns[name]
	}
	switch m.Beat() {
	case 3 * rhythm.Eighth:
		return c.patterns["6/8"]
	case rhythm.Quarter:
		return c.patterns["4/4"]
	case rhythm.Half:
		return c.patterns["cut"]
	}
	return nil
}
