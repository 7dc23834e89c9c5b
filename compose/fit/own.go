package fit

import (
	"errors"
	"math"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// ownLine is how much a note of a player's own tunes counts against the weights that the
// line has already. Hand-set.
const ownLine = 2

// Own reports what base becomes by a player's own tunes of the kind: in each meter that
// they have, they count as much as all that base was learned from, in rhythms, forms, first
// and altered notes; the weights of the line move towards theirs. Base is not changed. It
// fails if no tune is in a meter of base, or none is one to learn from.
func Own(base *idiom.Idiom, kind Kind, rows []*tune.Row) (*idiom.Idiom, error) {
	tunes := Cut(kind, rows)
	d := &idiom.Idiom{Head: base.Head}
	learned := false
	for _, m := range base.Meters {
		for _, of := range meters[kind] {
			if c := course(kind, of, tunes); len(c.Lessons) > 0 && name(of.beats, of.unit) == m.Name {
				m = m.Clone()
				c.adapt(m)
				learned = true
			}
		}
		d.Meters = append(d.Meters, m)
	}
	if !learned {
		return nil, errors.New("none of the tunes has 8 measures, in a meter that is known, that close on the tonic")
	}
	return d, nil
}

// adapt teaches a meter the lessons of a course beside what it knows.
func (c *Course) adapt(m *idiom.Meter) {
	known, weight := m.Counted(), 0
	for i := range m.Forms {
		weight += m.Forms[i].Weight
	}
	measures := 0
	for _, l := range c.Lessons {
		for _, r := range rhythms(l.Tune) {
			m.AddRhythm(r)
			measures++
		}
	}
	for _, l := range c.Lessons {
		l.Times = max(1, known/measures)
		written := rhythms(l.Tune)
		countRhythms(m, l, written, likeliest(m, written))
		m.CountFirst(l.Tune.Chords()[0], mod7(l.Tune.Notes[0].Step), l.Times)
		countAltered(m, l)
	}
	var own []idiom.Form
	for _, l := range c.Forms {
		if f, ok := FormOf(l.Tune, likeliest(m, rhythms(l.Tune))); ok {
			own = append(own, f)
		}
	}
	for _, f := range own {
		f.Weight = max(1, weight/len(own))
		m.Forms = append(m.Forms, f)
	}
	for i := range c.Lessons {
		c.Lessons[i].Line = ownLine
	}
	c.More, c.Rounds = nil, 60
	c.fitLine(m)
}

// likeliest reports the class of rhythms that a tune's are most likely in.
func likeliest(m *idiom.Meter, written []idiom.Rhythm) int {
	best, most := 0, math.Inf(-1)
	for class := range m.Classes {
		chance := m.RhythmChances(class, -1, idiom.Rhythm{})
		sum := 0.0
		for _, r := range written {
			if k := m.Index(r); k >= 0 {
				sum += math.Log(chance[k])
			}
		}
		if sum > most {
			best, most = class, sum
		}
	}
	return best
}
