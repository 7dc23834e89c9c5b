package compose

import (
	"onward/compose/critic"
	"onward/compose/tune"
	"onward/rhythm"
)

// bestOf is how many melodies the critic chooses among.
const bestOf = 6

// tries is how many melodies are drawn of a section.
func (p *piece) tries() int {
	if p.world.Blind || p.world.Uncritical || p.critic() == nil {
		return 1
	}
	return bestOf
}

// critic reports the critic of the style's tunes in the piece's meter, nil for none.
func (p *piece) critic() *critic.Critic {
	c, err := critic.Shipped(p.req.Style.Tunes, p.learned.Name)
	if err != nil {
		return nil
	}
	return c
}

// judge scores the passage's melody as it stands: how like a real tune it is.
func (p *piece) judge(pas *passage) float64 {
	c := p.critic()
	if c == nil {
		return 0
	}
	return c.Score(p.tune(pas))
}

// emptyTune is a tune of the section's measures without notes.
func (p *piece) emptyTune(s *section) *tune.Tune {
	t := &tune.Tune{Kind: p.req.Style.Tunes, Beats: p.learned.Measured / p.learned.Beat, Unit: 4, Measures: len(s.bars), Minor: s.plan.Minor}
	if p.learned.Compound() {
		t.Beats, t.Unit = 3*t.Beats, 8
	}
	return t
}

// tune reports the passage's melody without its key.
func (p *piece) tune(pas *passage) *tune.Tune {
	s := pas.section
	t := p.emptyTune(s)
	at := map[*bar]int{}
	for i, b := range s.bars {
		at[b] = i * int(p.meter.Measure()/p.learned.unit)
	}
	if s.lead != nil {
		at[s.lead] = -int(p.meter.Measure() / p.learned.unit)
	}
	for _, sl := range pas.slots {
		for k, q := range sl.pick.pitches {
			_, altered := sl.key.DegreeOf(q.Class())
			t.Notes = append(t.Notes, tune.Note{Onset: at[sl.bar] + int(rhythm.Duration(sl.onsets[k])/p.learned.unit),
				Ticks: int(sl.held[k] / p.learned.unit), Step: q.Step() - s.base, Alter: altered})
		}
	}
	return t
}

// plansJudged is how many forms with their rhythms are drawn of a piece.
func (p *piece) plansJudged() int {
	if p.world.Blind || p.world.Uncritical || p.critic() == nil {
		return 1
	}
	return plansJudged
}

// judgeRhythm scores the rhythm of the piece's sections, before they have pitches.
func (p *piece) judgeRhythm() float64 {
	c := p.critic()
	if c == nil || p.world.Uncritical {
		return 0
	}
	sum := 0.0
	for _, s := range p.sections {
		if s.of == nil && s.from == nil && len(s.bars) >= 2*phraseLength {
			sum += c.ScoreRhythm(p.rhythmOf(s))
		}
	}
	return sum
}

// rhythmOf reports the section's rhythm as a tune on one note.
func (p *piece) rhythmOf(s *section) *tune.Tune {
	t := p.emptyTune(s)
	measure := int(p.meter.Measure() / p.learned.unit)
	add := func(b *bar, start int) {
		held := b.into > 0
		for _, l := range b.cells {
			for _, x := range sounds(l.cell, l.at) {
				if !x.rest && !held {
					t.Notes = append(t.Notes, tune.Note{Onset: start + int(rhythm.Duration(x.from)/p.learned.unit),
						Ticks: int(x.to.Since(x.from) / p.learned.unit)})
				}
				held = false
			}
		}
	}
	if s.lead != nil {
		add(s.lead, -measure)
	}
	for i, b := range s.bars {
		add(b, i*measure)
	}
	return t
}
