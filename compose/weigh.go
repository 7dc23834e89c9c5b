package compose

import (
	"math"
	"sync"
	"sync/atomic"

	"onward/compose/idiom"
	"onward/theory"
)

// A lineKey is what the chances of an interval depend on besides the line before it.
type lineKey struct {
	meter *idiom.Meter
	idiom.Context
}

// lines reports the chances of the intervals into a note.
func (p *piece) chances(ctx idiom.Context) *chances {
	ctx.Step, ctx.Last, ctx.Turn = 0, 0, 0
	k := lineKey{p.learned.Meter, ctx}
	c, ok := p.near[k]
	if !ok {
		c = p.world.lines.of(k)
		p.near[k] = c
	}
	return c
}

// The steps about the tonic that chances are kept for.
const (
	lowestStep = -24
	stepsKept  = 56
	memories   = (2*idiom.Memory + 1) * 3
)

// chances keeps the chances of intervals in one context, by the note before and the two
// intervals before it. Each is worked out when it is first asked for.
type chances [stepsKept * memories]atomic.Pointer[[idiom.Intervals]float64]

// A lineBook keeps chances, which all reads of a world share; nil keeps nothing.
type lineBook struct{ m *sync.Map }

func (b lineBook) of(k lineKey) *chances {
	if b.m == nil {
		return &chances{}
	}
	if v, ok := b.m.Load(k); ok {
		return v.(*chances)
	}
	v, _ := b.m.LoadOrStore(k, &chances{})
	return v.(*chances)
}

// at reports the chances after a note so many steps above the tonic.
func (c *chances) at(m *idiom.Meter, ctx idiom.Context) *[idiom.Intervals]float64 {
	i := (ctx.Step-lowestStep)*memories + (ctx.Last+idiom.Memory)*3 + ctx.Turn + 1
	if i < 0 || i >= len(c) {
		return &beyondSteps
	}
	if got := c[i].Load(); got != nil {
		return got
	}
	w := m.IntervalChances(&ctx)
	for j := range w {
		w[j] = max(even(w[j]), leastChance)
	}
	c[i].Store(&w)
	return &w
}

// beyondSteps stands for the chances so far from the tonic that none were learned.
var beyondSteps [idiom.Intervals]float64

func init() {
	for i := range beyondSteps {
		beyondSteps[i] = leastChance
	}
}

// What the learned chances leave open, set by hand: intervals that were hardly ever met,
// augmented ones and the tritone, each step beyond the form's compass, and a degree other
// than the form begins or ends a phrase on.
const (
	leastChance  = 1e-6
	unsung       = 0.02
	tritone      = 0.25
	pastCompass  = 0.25
	otherOpening = 0.03
	otherEnd     = 1e-4
)

// awkward weighs intervals that are hard to sing: augmented and doubly altered ones, the
// tritone; 1 for all others.
func awkward(i theory.Interval) float64 {
	steps, semis := i.Steps, i.Semitones
	if steps < 0 {
		steps, semis = -steps, -semis
	}
	octaves := steps / 7
	steps, semis = steps-7*octaves, semis-12*octaves
	least := [7]int{0, 1, 3, 5, 6, 8, 10}
	most := [7]int{0, 2, 4, 5, 7, 9, 11}
	switch {
	case i.Steps != 0 && semis == 6 && (steps == 3 || steps == 4):
		return tritone
	case semis < least[steps] || semis > most[steps]:
		return unsung
	}
	return 1
}

// sign reports the direction of an interval.
func sign(i int) int { return min(1, max(-1, i)) }

// clip keeps an interval to what a line remembers of it.
func clip(i int) int { return min(idiom.Memory, max(-idiom.Memory, i)) }

// alteration weighs the spelling of a note by how it was reached and left: notes that the
// key lacks come mostly as neighbours and passing notes.
func (p *piece) alteration(key theory.Key, q theory.Pitch, arrive, leave int) float64 {
	degree, altered := key.DegreeOf(q.Class())
	minor := key.Mode == theory.Minor
	near := func(i int) int { return min(2, max(-2, i)) }
	i := (((degree-1)*5+near(arrive)+2)*5 + near(leave) + 2) * 2
	if minor {
		i++
	}
	odds := &p.odds[i]
	if odds[1] == 0 {
		flat, natural, sharp := p.learned.AlterOdds(degree-1, near(arrive), near(leave), minor)
		*odds = [3]float64{even(flat), even(natural), even(sharp)}
	}
	if altered < -1 || altered > 1 {
		return leastChance
	}
	return max(odds[altered+1], leastChance)
}

// step weighs the interval between two notes for the rung's largest leap, which it may not
// pass, and for what the instrument makes costly.
func (p *piece) step(a, b theory.Pitch) float64 {
	steps := b.Step() - a.Step()
	if max(steps, -steps)+1 > p.rung.Leap {
		return 0
	}
	return even(math.Exp(-p.costShare*float64(p.req.Instrument.Cost(a, b))) * awkward(theory.Between(a, b)))
}

// compass weighs a note by how far it lies beyond the form's compass.
func (s *section) compass(q theory.Pitch) float64 {
	if s.plan == nil {
		return 1
	}
	step := q.Step() - s.base
	beyond := max(0, s.plan.Low-step, step-s.plan.High)
	return even(math.Pow(pastCompass, float64(beyond)))
}
