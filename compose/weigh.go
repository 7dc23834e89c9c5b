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
	meter     *idiom.Meter
	low, high int // the steps that a note before it may have, from the tonic
	idiom.Context
}

// chances reports the chances of the intervals into a note of the section.
func (p *piece) chances(s *section, ctx idiom.Context) *chances {
	ctx.Step, ctx.Last, ctx.Turn = 0, 0, 0
	k := lineKey{p.learned.Meter, p.low.Step() - s.base, p.high.Step() - s.base, ctx}
	c, ok := p.near[k]
	if !ok {
		c = &chances{p.low.Step(), p.world.lines.of(k)}
		p.near[k] = c
	}
	return c
}

// chances are the chances of the intervals into a note.
type chances struct {
	low   int // the lowest step that the note before may have
	table []byMemory
}

// byMemory has the chances by the two intervals before; see idiom.MemoryOf.
type byMemory = [idiom.Memories]chance

// of reports the chances after a note on a step.
func (c *chances) of(step int) *byMemory { return &c.table[step-c.low] }

// A chance is the chance of each interval; never less than leastChance.
type chance [idiom.Intervals]float32

// at reports the chance of an interval of so many steps.
func (c *chance) at(steps int) float64 {
	if steps < -idiom.Span || steps > idiom.Span {
		return leastChance
	}
	return float64(c[steps+idiom.Span])
}

// A lineBook keeps chances, which all reads of a world share; nil keeps nothing.
type lineBook struct {
	m sync.Map // by lineKey
	n atomic.Int32
}

// linesKept is how many tables are kept, of some 40 kilobytes each, until all are dropped.
const linesKept = 1024

func (b *lineBook) of(k lineKey) []byMemory {
	if b == nil {
		return tableOf(k)
	}
	if v, ok := b.m.Load(k); ok {
		return v.([]byMemory)
	}
	if b.n.Add(1) > linesKept {
		b.m.Clear()
		b.n.Store(1)
	}
	t := tableOf(k)
	b.m.Store(k, t)
	return t
}

// tableOf works the chances out, by the step of the note before.
func tableOf(k lineKey) []byMemory {
	learned := k.meter.Table(&k.Context, k.low, k.high)
	out := make([]byMemory, len(learned))
	for i := range learned {
		for memory := range learned[i] {
			for j, c := range &learned[i][memory] {
				out[i][memory][j] = float32(max(c, leastChance))
			}
		}
	}
	return out
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

// alterOdds weighs the spelling of a note by the steps that reach and leave it, see near.
type alterOdds [alterSides][alterSides]float64

// alterSides is how many kinds of steps count for the spelling of a note.
const alterSides = 5

// near numbers the steps that reach or leave a note, as far as its spelling depends on them.
func near(steps int) int { return min(2, max(-2, steps)) + 2 }

// alteration reports the odds of a note's spelling: notes that the key lacks come mostly as
// neighbours and passing notes.
func (p *piece) alteration(key theory.Key, c theory.Class) *alterOdds {
	degree, altered := key.DegreeOf(c)
	if altered < -1 || altered > 1 {
		return &unheard
	}
	odds := &p.odds[degree-1][altered+1][key.Mode]
	if odds[0][0] != 0 {
		return odds
	}
	for arrive := range odds {
		for leave := range odds[arrive] {
			flat, natural, sharp := p.learned.AlterOdds(degree-1, arrive-2, leave-2, key.Mode == theory.Minor)
			odds[arrive][leave] = max(even([3]float64{flat, natural, sharp}[altered+1]), leastChance)
		}
	}
	return odds
}

// unheard are the odds of a note altered twice.
var unheard = func() (all alterOdds) {
	for i := range all {
		for j := range all[i] {
			all[i][j] = leastChance
		}
	}
	return all
}()

// firstLeaps is how much rarer leaps are on the first rung, whose published level goes mostly
// by step. Set by hand.
const firstLeaps = 0.15

// step weighs the interval between two notes for the rung's largest leap, which it may not
// pass, nor an octave, and for what the instrument makes costly.
func (p *piece) step(a, b theory.Pitch) float64 {
	steps, semis := b.Step()-a.Step(), b.MIDI()-a.MIDI()
	if max(steps, -steps)+1 > p.rung.Leap || max(semis, -semis) > 12 {
		return 0
	}
	w := math.Exp(-p.costShare*float64(p.req.Instrument.Cost(a, b))) * awkward(theory.Between(a, b))
	if p.req.Rung == 1 && max(steps, -steps) > 1 {
		w *= firstLeaps
	}
	return even(w)
}

// compass weighs a step by how far it lies beyond the form's compass.
func (s *section) compass(step int) float64 {
	if s.plan == nil {
		return 1
	}
	step -= s.base
	w := 1.0
	for range max(0, s.plan.Low-step, step-s.plan.High) {
		w *= pastCompass
	}
	return even(w)
}
