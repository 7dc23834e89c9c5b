package compose

import (
	"onward/compose/idiom"
	"onward/theory"
)

// A sung is a pitch with what is asked of it most often.
type sung struct {
	pitch      theory.Pitch
	number     int32 // among those of the piece, from 0
	step, midi int32
}

// alterations is how many spellings a step has: from two flats to two sharps.
const alterations = 5

// sungs is how many pitches the piece numbers.
func (p *piece) sungs() int { return alterations * (p.high.Step() - p.low.Step() + 1) }

// number reports the number of a pitch, from 0.
func (p *piece) number(q theory.Pitch) int {
	return (q.Step()-p.low.Step())*alterations + q.Alter + alterations/2
}

func (p *piece) sung(q theory.Pitch) sung {
	return sung{q, int32(p.number(q)), int32(q.Step()), int32(q.MIDI())}
}

// A tree holds a slot's instances by their first notes; twig 0 is its root.
type tree []twig

type twig struct {
	sung
	next []int32
	leaf int32 // index of the instance that ends here, -1 for none
}

func (p *piece) newTree(insts []instance) tree {
	t := tree{{leaf: -1}}
	for i := range insts {
		at := int32(0)
		for _, q := range insts[i].pitches {
			to := int32(-1)
			for _, c := range t[at].next {
				if t[c].pitch == q {
					to = c
					break
				}
			}
			if to < 0 {
				to = int32(len(t))
				t = append(t, twig{sung: p.sung(q), leaf: -1})
				t[at].next = append(t[at].next, to)
			}
			at = to
		}
		t[at].leaf = int32(i)
	}
	return t
}

// A stepper weighs the ways to one note of a slot.
type stepper struct {
	p       *piece
	section *section
	slot    *slot
	k       int
	chances *chances
	chord   theory.Chord // in force at the note before
	leans   bool         // that note must belong to it, or go on by step
	closes  bool         // the note closes its section
	early   bool         // too few notes are before it to know repeats by
	into    []float64    // by a pitch's number: its weight, whatever leads to it
	leaves  []leaves     // by a pitch's number: what its steps depend on; filled when asked for
}

// newStep prepares the weighing of the ways to note k of a slot that so many notes are before.
func (p *piece) newStep(s *section, sl *slot, k int, chord theory.Chord, leans bool, notes int) *stepper {
	w := &stepper{p: p, section: s, slot: sl, k: k, chord: chord, leans: leans, chances: p.chances(s, sl.ctx[k])}
	w.early = notes < 3
	w.closes = sl.final == "close" && k == len(sl.onsets)-1
	w.into, w.leaves = make([]float64, p.sungs()), make([]leaves, p.sungs())
	for i := range w.into {
		step := p.low.Step() + i/alterations
		w.into[i] = s.compass(step, sl.bar)
		if k == 0 && sl.begin != idiom.None {
			if degree, _ := sl.key.DegreeOf(sl.key.At(step).Class()); degree-1 != sl.begin {
				w.into[i] *= otherOpening
			}
		}
	}
	return w
}

// leaves is what the steps from a pitch depend on, whatever led to it.
type leaves struct {
	sung
	chances   *[idiom.Memories]chance
	odds      *alterOdds
	costs     []float64 // by the number of the next pitch, see step; less than 0 where it was not asked for yet
	chromatic bool      // goes on by semitone or whole tone
	leans     bool      // goes on by step
}

// A way is what the steps from a node depend on.
type way struct {
	w       *stepper
	*leaves // nil where nothing is before
	chance  *chance
	odds    *[alterSides]float64 // by the steps that leave the node
	stay    float64              // weighs the same note again
	leapt   int8                 // the wide leap that led to the node, 0 for none
}

// leaving prepares the weighing of what goes on from a node.
func (w *stepper) leaving(n *node) way {
	if n.start {
		return way{w: w}
	}
	l := &w.leaves[w.p.number(n.pitch)]
	if l.chances == nil {
		*l = w.leavesOf(w.p.sung(n.pitch))
	}
	return way{w, l, &l.chances[idiom.MemoryOf(int(n.last), int(n.turn))], &l.odds[near(int(n.last))], w.stay(n), wide(n.last)}
}

func (w *stepper) leavesOf(q sung) leaves {
	class := q.pitch.Class()
	_, altered := w.slot.key.DegreeOf(class)
	outside := !w.chord.Has(class)
	n := w.p.sungs()
	return leaves{
		sung: q, chances: w.chances.of(int(q.step)), odds: w.p.alteration(w.slot.key, class, w.chord),
		costs:     w.p.costs[int(q.number)*n:][:n],
		chromatic: outside && altered != 0, leans: outside && w.leans,
	}
}

// What a note's second repeat weighs, and each further one. Set by hand.
const (
	secondRepeat  = 0.5
	furtherRepeat = 0.15
)

// stay weighs the same note again after a node.
func (w *stepper) stay(n *node) float64 {
	stay := 1.0
	if r := w.p.req.Style.Rhythm.Repeats; r != 0 {
		stay = r
	}
	switch {
	case n.last != 0 || w.early:
	case n.turn != 0:
		stay *= secondRepeat
	default:
		stay *= furtherRepeat
	}
	return even(stay)
}

// What weighs a line that goes on in the direction of a wide leap, and one that leaps back.
// Set by hand: tunes turn back by step mostly.
const (
	leapGoesOn   = 0.3
	leapLeapBack = 0.6
)

// wide reports an interval of a fifth or more, 0 for a smaller one.
func wide(steps int8) int8 {
	if max(steps, -steps) >= 4 {
		return steps
	}
	return 0
}

// recovery weighs what follows a wide leap.
func recovery(leap, steps int) float64 {
	switch {
	case sign(leap) == sign(steps):
		return leapGoesOn
	case max(steps, -steps) > 2:
		return leapLeapBack
	}
	return 1
}

// to weighs the step to a pitch, 0 for none.
func (a *way) to(q *sung) float64 {
	if a.leaves == nil {
		return a.w.first(q)
	}
	cost := a.costs[q.number]
	if cost < 0 {
		cost = a.w.p.step(a.pitch, q.pitch)
		a.costs[q.number] = cost
	}
	steps, semis := int(q.step-a.step), q.midi-a.midi
	switch {
	case cost == 0,
		a.chromatic && (semis == 0 || semis < -2 || semis > 2),
		a.leans && (steps == 0 || steps < -1 || steps > 1):
		return 0
	}
	weight := a.w.into[q.number] * cost * a.chance.at(steps) * a.odds[near(steps)]
	switch {
	case steps == 0:
		weight *= a.stay
	case a.leapt != 0:
		weight *= recovery(int(a.leapt), steps)
	}
	if a.w.closes && steps >= -idiom.Span && steps <= idiom.Span {
		weight *= a.w.p.learned.close[steps+idiom.Span]
	}
	return weight
}

// first weighs a pitch that nothing is before.
func (w *stepper) first(q *sung) float64 {
	degree, altered := w.slot.key.DegreeOf(q.pitch.Class())
	if altered != 0 {
		return 0
	}
	first := w.p.learned.FirstChances(w.slot.ctx[w.k].Chord)
	return w.into[q.number] * even(first[degree-1]+leastChance)
}

// from weighs the way from a node to a pitch, 0 for none.
func (w *stepper) from(n *node, q theory.Pitch) float64 {
	way, to := w.leaving(n), w.p.sung(q)
	return way.to(&to)
}
