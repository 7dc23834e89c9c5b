package compose

import (
	"slices"

	"onward/compose/figure"
	"onward/compose/idiom"
	"onward/rhythm"
	"onward/theory"
)

// An instance is a shape at a pitch in a slot, with its weight.
type instance struct {
	pick
	weight float64
}

// A choice is what may stand in a slot.
type choice struct {
	list []instance
	tree tree // of the list
}

// instances lists what may stand in the slot.
func (p *piece) instances(sl *slot) []instance { return p.choice(sl).list }

// choice reports what may stand in the slot.
func (p *piece) choice(sl *slot) choice {
	if sl.pick != nil {
		return p.choiceOf([]instance{{*sl.pick, 1}})
	}
	key := p.cacheKey(sl)
	plain, ok := p.cache[key]
	if !ok {
		plain = p.choiceOf(p.plainInstances(sl))
		p.cache[key] = plain
	}
	if sl.like == nil || sl.like.pick == nil {
		return plain
	}
	var out []instance
	for i := range plain.list {
		if sl.takesUp(plain.list[i].pitches) {
			out = append(out, plain.list[i])
		}
	}
	if len(out) == 0 { // chord or range forbid it: only the rhythm returns
		return plain
	}
	return p.choiceOf(out)
}

func (p *piece) choiceOf(list []instance) choice { return choice{list, p.newTree(list)} }

// takesUp reports whether the pitches take up those of the slot's model as they should.
func (sl *slot) takesUp(pitches []theory.Pitch) bool {
	model := sl.like.pick.pitches
	if len(model) != len(pitches) {
		return false
	}
	for i, q := range pitches {
		switch {
		case sl.moved != 0 && q.Step() != model[i].Step()+sl.moved:
			return false
		case sl.moved == 0 && sl.head > 0 && i < sl.head && q != model[i]:
			return false
		case sl.moved == 0 && sl.head == 0 && i > 0 && sign(q.Step()-pitches[i-1].Step()) != sign(model[i].Step()-model[i-1].Step()):
			return false
		}
	}
	return true
}

// even rounds a weight to single precision, so that the last digits of exponentials,
// which differ from machine to machine, do not decide what is drawn.
func even(w float64) float64 { return float64(float32(w)) }

// An instanceKey is all that a slot's instances depend on, but for what they take up.
type instanceKey struct {
	cell        *rhythm.Cell
	at          rhythm.Offset
	notes       int
	first, last theory.Chord
	key         theory.Key
	final       string
	end         int
	trap        bool
	wanted      bool
	must        int8
	only        *figure.Shape
}

func (p *piece) cacheKey(sl *slot) instanceKey {
	return instanceKey{sl.cell, sl.at, len(sl.onsets), sl.chords[0], sl.chords[len(sl.chords)-1], sl.key, sl.final, sl.end, sl.trap, sl.wanted, sl.must, sl.only}
}

// plainInstances lists what may stand in the slot, whatever it takes up.
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
			pitches, ok := shape.Realize(start, figure.Context{Key: sl.key, Chord: sl.chords[0]}, scratch[:0])
			if !ok {
				continue
			}
			w := even(base * p.chordWeight(sl, pitches))
			if w == 0 {
				continue
			}
			name := spelled(pitches)
			if i, ok := index[name]; ok { // the same notes under another name
				if w > out[i].weight {
					out[i].shape, out[i].weight = shape, w
				}
				continue
			}
			index[name] = len(out)
			out = append(out, instance{pick{shape, slices.Clone(pitches)}, w})
		}
	}
	return out
}

// spelled spells pitches so that they can be compared.
func spelled(pitches []theory.Pitch) string {
	var b [80]byte
	s := b[:0]
	for _, q := range pitches {
		s = append(s, byte(q.Step()), byte(q.Alter+2))
	}
	return string(s)
}

// chromaticRungs is the rung from which a figure may start on a note that neither key nor
// chord has: chromatic neighbours are a thing of the rung below.
const chromaticRungs = 7

// starts lists the pitches a figure may start on: the key's, the chord's own alterations, in
// minor the raised seventh; on the upper rungs chromatic notes, which go on by step.
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
		if p.req.Rung >= chromaticRungs && sl.final == "" && sl.key.Mode == theory.Major {
			for _, by := range []int{-1, 1} {
				q := natural
				if q.Alter += by; q.Alter >= -1 && q.Alter <= 1 && p.inRange(q) && !slices.Contains(out, q) {
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

// drilledOn reports whether the shape was drilled on the cell; without a vocabulary all
// counts as drilled.
func (p *piece) drilledOn(s *figure.Shape, c *rhythm.Cell) bool {
	if p.drilled == nil {
		return true
	}
	_, ok := p.drilled.figures[figure.Figure{Shape: s.Name, Cell: c.Name}]
	return ok
}

// How gladly a shape is used that was drilled on another cell, or not at all, and one that
// the read is to bring. Set by hand.
const (
	knownShape    = 0.02
	unknownFigure = 0.0003
	freshShape    = 2
	ownShape      = 1e7 // of the player's own, which tunes hardly have
)

// shapeWeight is how gladly the shape is used, by freshness and vocabulary: how well it
// sounds is learned.
func (p *piece) shapeWeight(sl *slot, s *figure.Shape) float64 {
	w := 1.0
	if p.bounds.FreshShapes[s.Name] {
		w = freshShape
	}
	if sl.must != 0 && s.Notes() > 1 {
		fig := figure.Figure{Shape: s.Name, Cell: sl.cell.Name}
		return p.aimWeight(sl, fig, w, p.drilledWeight(sl, s, w))
	}
	return p.drilledWeight(sl, s, w)
}

// drilledWeight is how gladly the shape is used by a player who drilled it or did not; w is
// how gladly otherwise.
func (p *piece) drilledWeight(sl *slot, s *figure.Shape, w float64) float64 {
	d := p.drilled
	if d == nil || s.Notes() == 1 || sl.trap {
		return w
	}
	fig := figure.Figure{Shape: s.Name, Cell: sl.cell.Name}
	if much, ok := d.figures[fig]; ok {
		if s.Family == figure.OwnFamily {
			w *= ownShape
		}
		return w * (0.5 + much)
	}
	if d.shapes[s.Name] {
		return w * knownShape
	}
	return w * unknownFigure
}

// leaningRungs is the rung from which a note outside the chord may stand on a strong beat.
const leaningRungs = 5

// leaning is how much rarer a note leans than the learned chances have it, which know no band.
const leaning = 1.0

// strayHold is how much rarer a note outside the chord is held for more than a beat.
const strayHold = 0.2

// chordWeight weighs a figure's pitches against the chords in force: 0 where a rule is
// broken.
func (p *piece) chordWeight(sl *slot, pitches []theory.Pitch) float64 {
	w := 1.0
	for i, q := range pitches {
		if !p.inRange(q) {
			return 0
		}
		if sl.chords[i].Has(q.Class()) {
			continue
		}
		if sl.strong[i] {
			if !p.mayLean(sl, pitches, i) {
				return 0
			}
			w *= leaning
		}
		if sl.held[i] > p.meter.Beat() {
			w *= strayHold
		}
	}
	last := pitches[len(pitches)-1]
	long := sl.held[len(pitches)-1] >= p.meter.Beat()
	if sl.final != "" && (sl.final == "close" || long) && !p.closes(sl, last) {
		return 0
	}
	if sl.end != idiom.None {
		if degree, altered := sl.key.DegreeOf(last.Class()); degree-1 != sl.end || altered != 0 {
			w *= otherEnd
		}
	}
	return w
}

// mayLean reports whether note i, outside the chord on a strong beat, may lean on the note
// after it: it is of the key and no longer than a beat. That the line then goes on by step is
// seen to where it is drawn.
func (p *piece) mayLean(sl *slot, pitches []theory.Pitch, i int) bool {
	_, altered := sl.key.DegreeOf(pitches[i].Class())
	return p.req.Rung >= leaningRungs && altered == 0 && sl.held[i] <= p.meter.Beat() && (sl.final == "" || i+1 < len(pitches))
}

// closes reports whether a phrase may end on the pitch: on the tonic where it
// closes, on a member of the dominant at a half cadence, on third or fifth (or any
// member of another chord) where it stays open.
func (p *piece) closes(sl *slot, q theory.Pitch) bool {
	chord := sl.chords[len(sl.chords)-1]
	degree, altered := sl.key.DegreeOf(q.Class())
	if !chord.Has(q.Class()) {
		return false
	}
	switch sl.final {
	case "close":
		return degree == 1 && altered == 0
	case "half":
		return degree != 4 // not on the seventh of V7
	}
	return degree != 7
}

// dominant reports whether the chord has the build of a dominant.
func dominant(c theory.Chord) bool {
	return c.Quality == theory.DominantSeventh || c.Quality == theory.MajorTriad
}
