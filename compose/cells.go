package compose

import (
	"math"
	"math/rand/v2"

	"onward/rhythm"
)

// stock is the cells that a piece may use, with how often each, sorted by span.
type stock struct {
	meter  rhythm.Meter
	cells  []*rhythm.Cell
	base   []float64 // the style's and rung's weight
	wanted []float64 // the same, bent towards vocabulary and fresh things
	bare   []float64 // the vocabulary's and fresh things' bending alone
	liked  []float64 // how gladly the style uses the cell
	fresh  []float64 // 1 for what the rung brings, 0 for the rest
	blind  bool      // all cells alike
	// drilled says that a vocabulary chooses them.
	drilled bool
}

// unknownCell is how much less often a cell is used that the vocabulary lacks.
const unknownCell = 0.0000005

// freshCell is how much oftener a cell is used that the read is to bring.
const freshCell = 2.5

// newStock gathers the cells of the piece's meter and rung.
func (p *piece) newStock() *stock {
	st := &stock{meter: p.meter, blind: p.world.Blind, drilled: p.drilled != nil}
	for i := range p.world.Catalogue.Cells {
		c := &p.world.Catalogue.Cells[i]
		if !c.Fits(p.meter) || !p.bounds.AllowsCell(c) || tiedOut(c) || p.shapesOf(c) < fewestShapes {
			continue
		}
		base := p.liking(c)
		wanted, fresh := base, 0.0
		if p.bounds.FreshCells[c.Name] {
			wanted, fresh = wanted*freshCell, 1
		}
		if p.drilled != nil {
			much, ok := p.drilled.cells[c.Name]
			if wanted *= much; !ok {
				wanted, fresh = base*unknownCell, 0
			}
		}
		if f := p.cellFactor(c); f != 1 {
			wanted *= f
		}
		if p.keepsBack() {
			fresh = 0
		}
		st.cells, st.base, st.wanted = append(st.cells, c), append(st.base, base), append(st.wanted, wanted)
		st.bare = append(st.bare, wanted/base)
		st.fresh, st.liked = append(st.fresh, fresh), append(st.liked, base)
	}
	return st
}

// middleLevel times the rung is the level of the cells that it uses most.
const middleLevel = 0.55

// liking is how gladly the style uses the cell: as its sheet names it, and by kind.
func (p *piece) liking(c *rhythm.Cell) float64 {
	likes := p.req.Style.Rhythm
	w := math.Pow(likes.Plain, math.Abs(float64(c.Level)-middleLevel*float64(p.req.Rung)))
	if named, ok := p.req.Style.Cells[c.Name]; ok {
		w *= named
	}
	at := rhythm.Offset(0)
	for _, e := range c.Events {
		end := at.Add(e.Value.Duration())
		beat := rhythm.Offset(p.meter.Beat())
		if e.Grace > 0 {
			w *= likes.Graces
		}
		if e.Rest {
			w *= likes.Rests
		} else if at%beat != 0 && (end-1)/beat > at/beat {
			w *= likes.Syncopation
		}
		at = end
	}
	if p.drilled != nil { // what was drilled may be mixed
		return w
	}
	return w * math.Pow(likes.Mixed, float64(mixture(c)))
}

// mixture counts what makes a cell hard to sing at sight: each note value beyond two, and a
// short note on the beat before a longer one.
func mixture(c *rhythm.Cell) int {
	values := map[rhythm.Duration]bool{}
	for _, e := range c.Events {
		values[e.Value.Duration()] = true
	}
	n := max(len(values)-2, 0)
	if len(c.Events) > 1 && c.Events[0].Value.Duration() < c.Events[1].Value.Duration() {
		n++
	}
	return n
}

// A division is how a cell divides the beat.
type division int

const (
	inHalves division = iota
	inQuarters
	inTriplets
)

// divides reports how the cell divides the beat.
func divides(c *rhythm.Cell) division {
	d := inHalves
	for _, e := range c.Events {
		switch {
		case e.Value.Tuplet != (rhythm.Ratio{}):
			return inTriplets
		case e.Value.Duration() < rhythm.Eighth:
			d = inQuarters
		}
	}
	return d
}

// otherDivision is how much rarer triplets are in a section that has quarters of the beat,
// and the other way about.
const otherDivision = 0.05

// fewestShapes is how many shapes must be open to a cell of several notes: with
// fewer, a chord or a neighbour could leave it none.
const fewestShapes = 4

// shapesOf counts the shapes that the rung lets a cell carry. Notes by themselves, and
// cells that are tied to certain shapes, always have enough.
func (p *piece) shapesOf(c *rhythm.Cell) int {
	n := 0
	for _, s := range p.world.Catalogue.ShapesOf(c.Onsets()) {
		if s.Notes() <= 2 {
			return fewestShapes
		}
		if p.bounds.AllowsShape(s) && p.bounds.AllowsFigure(s, c) {
			n++
		}
	}
	return n
}

// tiedOut reports whether the cell ends in a tie to what follows it.
func tiedOut(c *rhythm.Cell) bool { return c.Events[len(c.Events)-1].Tied }

// leastDense is the least that a cell's density takes of its weight, however far it is
// from the bar's: a drilled cell is still likelier than one that was not.
const leastDense = 0.02

// weights reports the weight of each cell for bars that bear about onsets notes; tilt
// makes each note of a bar likelier, or rarer below 0.
// The cells of one span share the weight of one, so that a bar is tiled by long and
// by short cells alike.
func (st *stock) weights(onsets, tilt float64) []float64 {
	rate := onsets / float64(st.meter.Measure())
	out := make([]float64, len(st.cells))
	if st.blind {
		for i, c := range st.cells {
			out[i] = min(float64(c.Onsets()), 1)
		}
		return out
	}
	total := map[rhythm.Duration]float64{}
	for i, c := range st.cells {
		n := c.Onsets()
		if n == 0 {
			continue
		}
		off := (float64(n)/float64(c.Span) - rate) / (0.6 * rate)
		dense := max(math.Exp(-off*off/2), leastDense)
		out[i] = dense
		total[c.Span] += float64(dense * st.base[i])
	}
	for i, c := range st.cells {
		if out[i] > 0 && total[c.Span] > 0 {
			out[i] = even(out[i] * st.wanted[i] / total[c.Span] * math.Exp(float64(tilt*float64(c.Onsets()))))
		}
	}
	return out
}

// freshShare is how often a section uses what the read is to bring, against its
// likeliest cell of that length.
const freshShare = 0.4

// restsFirst is how much rarer a cell that begins with a rest is among those that a
// section is mostly made of.
const restsFirst = 0.25

// palette draws the few cells that a section is mostly made of, and makes the others
// rare among the weights.
func (st *stock) palette(rng *rand.Rand, weights []float64, size int, stray float64) []float64 {
	if st.blind {
		return weights
	}
	left := append([]float64(nil), weights...)
	out := make([]float64, len(weights))
	for i, w := range weights {
		out[i] = w * stray
	}
	if i := draw(rng, len(left), func(i int) float64 { return left[i] * st.fresh[i] }); i >= 0 {
		for j, c := range st.cells { // one that the read is to bring, as often as the best
			if c.Span == st.cells[i].Span {
				out[i] = max(out[i], weights[j]*freshShare*min(1, st.liked[i]))
			}
		}
		left[i] = 0
		st.keepDivision(i, left, out)
	}
	for i, c := range st.cells {
		if c.Events[0].Rest {
			left[i] *= restsFirst
		}
	}
	for range size {
		i := draw(rng, len(left), func(i int) float64 { return left[i] })
		if i < 0 {
			break
		}
		out[i], left[i] = weights[i], 0
		st.keepDivision(i, left, out)
	}
	return out
}

// keepDivision makes the cells rare that divide the beat otherwise than cell i, where no
// exercise has both.
func (st *stock) keepDivision(i int, all ...[]float64) {
	if st.drilled {
		return
	}
	d := divides(st.cells[i])
	for j, c := range st.cells {
		if o := divides(c); j != i && d != inHalves && o != inHalves && o != d {
			for _, weights := range all {
				weights[j] *= otherDivision
			}
		}
	}
}

// hasFresh reports whether the weights have a cell that the read is to bring.
func (st *stock) hasFresh(weights []float64) bool {
	for i, w := range weights {
		if w > 0 && st.fresh[i] > 0 {
			return true
		}
	}
	return false
}

// few leaves the cells of many notes out of the weights.
func (st *stock) few(weights []float64) []float64 {
	out := append([]float64(nil), weights...)
	for i, c := range st.cells {
		if c.Onsets() >= manyNotes {
			out[i] = 0
		}
	}
	return out
}

// mayStart reports whether the cell may begin at the measure offset: on a beat, and
// cells of two beats in four not across the middle of the measure.
func (st *stock) mayStart(c *rhythm.Cell, at rhythm.Offset) bool {
	beat := st.meter.Beat()
	unit := beat
	if c.Span < beat {
		unit = c.Span
	}
	if at%rhythm.Offset(unit) != 0 {
		return false
	}
	half := rhythm.Offset(2 * beat)
	if st.meter.Count() == 4 && at < half && at.Add(c.Span) > half {
		return at == 0
	}
	if st.meter.Count() == 5 { // three and two
		half += rhythm.Offset(beat)
		return at >= half || at.Add(c.Span) <= half || at == 0
	}
	return true
}

// tile draws cells that fill the measure from start to end exactly, with a
// probability proportional to the product of their weights; nil if none do.
func (st *stock) tile(rng *rand.Rand, start, end rhythm.Offset, weights []float64) []laid {
	ways := map[rhythm.Offset]float64{end: 1}
	var count func(at rhythm.Offset) float64
	count = func(at rhythm.Offset) float64 {
		if w, ok := ways[at]; ok {
			return w
		}
		total := 0.0
		for i, c := range st.cells {
			if weights[i] > 0 && at.Add(c.Span) <= end && st.mayStart(c, at) {
				total += float64(weights[i] * count(at.Add(c.Span)))
			}
		}
		ways[at] = total
		return total
	}
	if count(start) == 0 {
		return nil
	}
	var out []laid
	for at := start; at < end; {
		i := draw(rng, len(st.cells), func(i int) float64 {
			c := st.cells[i]
			if weights[i] == 0 || at.Add(c.Span) > end || !st.mayStart(c, at) {
				return 0
			}
			return weights[i] * count(at.Add(c.Span))
		})
		out = append(out, laid{st.cells[i], at})
		at = at.Add(st.cells[i].Span)
	}
	return out
}

// closings lists the ways to end a phrase: one note from at on that fills the rest of
// the measure, alone or with rests after it. breathe weighs those with a rest.
func (st *stock) closings(at rhythm.Offset, breathe float64) (ways [][]laid, weights []float64) {
	end := rhythm.Offset(st.meter.Measure())
	for i, c := range st.cells {
		if c.Onsets() != 1 || c.Events[0].Rest || c.Events[0].Grace > 0 || !st.mayStart(c, at) || at.Add(c.Span) > end {
			continue
		}
		if float64(sounding(c)) < (1-breathe)*float64(end-at)/2 || breathe < 1 && sounding(c) < st.meter.Beat() { // a song's last notes are full
			continue
		}
		way := []laid{{c, at}}
		w := st.bare[i] * math.Pow(float64(sounding(c))/float64(end-at), 2)
		if c.Events[len(c.Events)-1].Rest || at.Add(c.Span) < end {
			w *= breathe
		}
		if next := at.Add(c.Span); next < end {
			way = append(way, laid{st.rest(next, end), next})
		}
		if w > 0 {
			ways, weights = append(ways, way), append(weights, w)
		}
	}
	return ways, weights
}

// holding reports the cell of one note, longest sounding, that lasts from at to end;
// nil if there is none.
func (st *stock) holding(at, end rhythm.Offset) *rhythm.Cell {
	var best *rhythm.Cell
	for i, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && c.Events[0].Grace == 0 && st.bare[i] >= 1 && at.Add(c.Span) == end &&
			st.mayStart(c, at) && (best == nil || sounding(c) > sounding(best)) {
			best = c
		}
	}
	return best
}

// sounding reports how much of the cell sounds.
func sounding(c *rhythm.Cell) rhythm.Duration {
	d := rhythm.Duration(0)
	for _, e := range c.Events {
		if !e.Rest {
			d += e.Value.Duration()
		}
	}
	return d
}

// rest reports a nameless cell of rests that fills the measure from at to end.
func (st *stock) rest(at, end rhythm.Offset) *rhythm.Cell {
	c := &rhythm.Cell{Span: end.Since(at)}
	for _, v := range rhythm.SpellRest(at, c.Span, st.meter) {
		c.Events = append(c.Events, rhythm.Event{Value: v, Rest: true})
	}
	return c
}
