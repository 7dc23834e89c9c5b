package compose

import (
	"onward/compose/critic"
	"onward/compose/tune"
	"onward/rhythm"
)

// bestOf is how many melodies the critic chooses among.
const bestOf = 5

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

// tune reports the passage's melody without its key.
func (p *piece) tune(pas *passage) *tune.Tune {
	s := pas.section
	t := &tune.Tune{Kind: p.req.Style.Tunes, Beats: p.learned.Measured / p.learned.Beat, Unit: 4, Measures: len(s.bars), Minor: s.plan.Minor}
	if p.learned.Compound() {
		t.Beats, t.Unit = 3*t.Beats, 8
	}
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
