package compose

import (
	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// An instance is a shape at a pitch in a slot, with its weight.
type instance struct {
	pick
	weight float64
	first  int16 // index of its first pitch among the slot's firsts
	turn   int8  // the direction of its first move, if it has one
	demand demand
	inner  []int8 // semitones between its notes
	text   string // the same, to be compared
	word   int32  // its number in the lattice being built
	mean   float64
	rise   int // steps from the first note to the last
	top    int // the highest note's staff position
}

// A demand is what the last interval asks of the next: an answer to a leap, or to go on.
type demand uint8

const (
	free      demand = iota
	needsDown        // a leap up of more than a fourth: go down, or repeat
	needsUp
	rising // by step or a small leap
	falling
	demands = 5
)

// wide is the size in semitones from which a leap must be answered: more than a
// perfect fourth.
const wide = 6

// after reports the demand that an interval of so many semitones makes.
func after(semitones int) demand {
	switch {
	case semitones >= wide:
		return needsDown
	case semitones <= -wide:
		return needsUp
	case semitones > 0:
		return rising
	case semitones < 0:
		return falling
	}
	return free
}

// open reports whether a leap waits for its answer.
func (d demand) open() bool { return d == needsDown || d == needsUp }

// answers reports whether an interval answers the demand.
func (d demand) answers(semitones int) bool {
	switch d {
	case needsDown:
		return semitones <= 0 && semitones >= -wide+1
	case needsUp:
		return semitones >= 0 && semitones <= wide-1
	}
	return true
}

// instances lists what may stand in the slot.
func (p *piece) instances(sl *slot) []instance {
	if sl.pick != nil {
		return []instance{p.instance(sl, *sl.pick, 1)}
	}
	key := p.cacheKey(sl)
	plain, ok := p.cache[key]
	if !ok {
		plain = p.plainInstances(sl)
		p.cache[key] = plain
	}
	out := make([]instance, len(plain))
	copy(out, plain)
	for i := range out {
		out[i].weight = even(out[i].weight * p.pull(sl, &out[i]))
	}
	return out
}

// even rounds a weight to single precision, so that the last digits of exponentials,
// which differ from machine to machine, do not decide what is drawn.
func even(w float64) float64 { return float64(float32(w)) }

// An instanceKey is all that a slot's instances depend on, but for the contour.
type instanceKey struct {
	cell        *rhythm.Cell
	at          rhythm.Offset
	first, last theory.Chord
	key         theory.Key
	final       string
	trap        bool
	wanted      bool
	leads       bool
	model       *pick
	moved       bool
	must        int8
	only        *figure.Shape
}

func (p *piece) cacheKey(sl *slot) instanceKey {
	k := instanceKey{sl.cell, sl.at, sl.chords[0], sl.chords[len(sl.chords)-1], sl.key, sl.final, sl.trap, sl.wanted, sl.leads, nil, sl.moved, sl.must, sl.only}
	if sl.like != nil {
		k.model = sl.like.pick
	}
	return k
}

// plainInstances lists what may stand in the slot, weighed without the contour.
func (p *piece) plainInstances(sl *slot) []instance {
	var out []instance
	index := map[string]int{}
	starts := p.starts(sl)
	var scratch [40]theory.Pitch
	for _, shape := range p.shapesFor(sl) {
		base := p.shapeWeight(sl, shape)
		if base <= 0 {
			continue
		}
		for _, start := range starts {
			in := figure.Context{Key: sl.key, Chord: sl.chords[0]}
			pitches, ok := shape.Realize(start, in, scratch[:0])
			if !ok {
				continue
			}
			w := base * p.lineWeight(sl, pitches) * sl.sequence(pitches)
			if w < leastWeight {
				continue
			}
			name := key(pitches)
			if i, ok := index[name]; ok { // the same notes under another name
				if w > out[i].weight {
					out[i].shape = shape
				}
				out[i].weight += w
				continue
			}
			index[name] = len(out)
			out = append(out, p.instance(sl, pick{shape, append([]theory.Pitch(nil), pitches...)}, w))
		}
	}
	return out
}

// key spells pitches so that they can be compared.
func key(pitches []theory.Pitch) string {
	var b [80]byte
	s := b[:0]
	for _, q := range pitches {
		s = append(s, byte(q.Step()), byte(q.Alter+2))
	}
	return string(s)
}

func (p *piece) instance(sl *slot, pk pick, w float64) instance {
	in := instance{pick: pk, weight: w}
	for _, q := range pk.pitches {
		in.mean += float64(q.Step()) / float64(len(pk.pitches))
		in.top = max(in.top, q.Step())
	}
	in.rise = pk.pitches[len(pk.pitches)-1].Step() - pk.pitches[0].Step()
	for i := 1; i < len(pk.pitches); i++ {
		in.inner = append(in.inner, int8(pk.pitches[i].MIDI()-pk.pitches[i-1].MIDI()))
		in.text += string(rune(pk.pitches[i].MIDI() - pk.pitches[i-1].MIDI() + 64))
	}
	if n := len(in.inner); n > 0 {
		in.demand = after(int(in.inner[n-1]))
		in.turn = in.inner[0]
	}
	return in
}

// starts lists the pitches a figure may start on: the key's, the chord's own
// alterations, in minor the raised seventh.
func (p *piece) starts(sl *slot) []theory.Pitch {
	var out []theory.Pitch
	for step := p.low.Step(); step <= p.high.Step(); step++ {
		natural := sl.key.At(step)
		if p.inRange(natural) {
			out = append(out, natural)
		}
		for _, c := range sl.chords[0].Tones() {
			if c.Letter == natural.Letter && c.Alter != natural.Alter {
				if q := c.In(natural.Octave); p.inRange(q) {
					out = append(out, q)
				}
			}
		}
	}
	return out
}

func (p *piece) inRange(q theory.Pitch) bool {
	return q.Step() >= p.low.Step() && q.Step() <= p.high.Step() && q.MIDI() >= p.floor && q.MIDI() <= p.ceiling
}

// shapesFor lists the shapes with as many notes as the slot has onsets that the rung
// allows there.
func (p *piece) shapesFor(sl *slot) []*figure.Shape {
	if sl.like != nil && sl.like.pick != nil {
		return []*figure.Shape{sl.like.pick.shape}
	}
	var out []*figure.Shape
	for _, s := range p.world.Catalogue.ShapesOf(len(sl.onsets)) {
		if sl.wanted {
			if p.bounds.FreshShapes[s.Name] && p.bounds.AllowsFigure(s, sl.cell) && p.drilledOn(s, sl.cell) {
				out = append(out, s)
			}
		} else if sl.trap {
			if p.bounds.Traps[s.Name] {
				out = append(out, s)
			}
		} else if p.bounds.AllowsShape(s) && p.bounds.AllowsFigure(s, sl.cell) {
			out = append(out, s)
		}
	}
	return out
}

// kinShare says how far the shapes of one family share its weight: 0 not at all, 1
// wholly, so that a family with many shapes is no oftener heard than one with few.
const kinShare = 0.8

// A kinship is a family's shapes of one number of notes.
type kinship struct {
	family string
	notes  int
}

// kin counts the shapes of the family and number of notes that the rung has.
func (p *piece) kin(s *figure.Shape) int {
	k := kinship{s.Family, s.Notes()}
	n, ok := p.kinds[k]
	if !ok {
		for _, o := range p.world.Catalogue.ShapesOf(k.notes) {
			if o.Family == k.family && (p.bounds.AllowsShape(o) || p.bounds.Traps[o.Name]) {
				n++
			}
		}
		n = max(n, 1)
		p.kinds[k] = n
	}
	return n
}

// drilledOn reports whether the shape was drilled on the cell; without a vocabulary all
// counts as drilled.
func (p *piece) drilledOn(s *figure.Shape, c *rhythm.Cell) bool {
	if p.drilled == nil {
		return true
	}
	_, ok := p.drilled.figures[figure.Figure{Shape: s.Name, Cell: c.Name}]
	return ok
}
