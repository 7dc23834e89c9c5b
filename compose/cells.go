package compose

import (
	"math"
	"math/rand/v2"
	"slices"

	"onward/rhythm"
)

// stock is the cells that a piece may use, with how often each.
type stock struct {
	meter  rhythm.Meter
	cells  []*rhythm.Cell
	wanted []float64 // how much likelier than others, by vocabulary, aims and what is fresh
	weight []float64 // the same, for tiling: the cells of one length share the weight of one
	fresh  []bool    // brought by this read
	known  []bool    // drilled; all of them without a vocabulary
	sounds [][]sound // what they are at the start of a measure
}

// How much rarer a cell is that the vocabulary lacks, and one of a level farther from the
// rung's middle. Set by hand.
const (
	unknownCell = 0.0000005
	knownNote   = 0.1 // a cell of one note that was drilled: it says little of the figures
	knownCell   = 4   // one of several notes, times how much it was drilled
	leastMuch   = 0.2
	farLevel    = 0.85
	middleLevel = 0.55
)

// newStock gathers the cells of the piece's meter and rung.
func (p *piece) newStock() *stock {
	st := &stock{meter: p.meter}
	total := map[rhythm.Duration]float64{}
	for i := range p.world.Catalogue.Cells {
		c := &p.world.Catalogue.Cells[i]
		if !p.hasCell(c) || p.shapesOf(c) < fewestShapes {
			continue
		}
		w, fresh, known := 1.0, p.bounds.FreshCells[c.Name], true
		if p.drilled != nil {
			much, ok := p.drilled.cells[c.Name]
			switch w, known = unknownCell, ok; {
			case !ok:
				fresh = false
			case c.Onsets() == 1:
				w = knownNote
			default:
				w = knownCell * (leastMuch + much)
			}
		}
		w *= p.cellFactor(c)
		st.cells, st.wanted, st.sounds = append(st.cells, c), append(st.wanted, w), append(st.sounds, sounds(c, 0))
		st.fresh, st.known = append(st.fresh, fresh && !p.keepsBack()), append(st.known, known)
		w *= math.Pow(farLevel, math.Abs(float64(c.Level)-middleLevel*float64(p.req.Rung)))
		st.weight = append(st.weight, w)
		total[c.Span] += w
	}
	for i, c := range st.cells {
		if st.weight[i] = even(st.weight[i] / total[c.Span]); c.Onsets() == 0 || hasGrace(c) {
			st.weight[i] = 0
		}
	}
	return st
}

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

// holding reports the cell of one note, longest sounding, that lasts from at to end;
// nil if there is none.
func (st *stock) holding(at, end rhythm.Offset) *rhythm.Cell {
	var best *rhythm.Cell
	for i, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && c.Events[0].Grace == 0 && st.known[i] && at.Add(c.Span) == end &&
			st.mayStart(c, at) && (best == nil || sounding(c) > sounding(best)) {
			best = c
		}
	}
	return best
}

// shortest reports the cell of one note that lasts from the barline to at and sounds least;
// nil if there is none.
func (st *stock) shortest(at rhythm.Offset) *rhythm.Cell {
	var short *rhythm.Cell
	for _, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && c.Events[0].Grace == 0 && rhythm.Offset(c.Span) == at &&
			(short == nil || sounding(c) < sounding(short)) {
			short = c
		}
	}
	return short
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

// A sound is a stretch of a measure: one note, ties joined, or silence.
type sound struct {
	from, to rhythm.Offset
	rest     bool
}

// sounds reports what the cell is when it stands at an offset, rests in a row joined.
func sounds(c *rhythm.Cell, at rhythm.Offset) []sound {
	var out []sound
	tied := false
	for _, e := range c.Events {
		to := at.Add(e.Value.Duration())
		if n := len(out) - 1; n >= 0 && (tied || e.Rest && out[n].rest) {
			out[n].to = to
		} else {
			out = append(out, sound{at, to, e.Rest})
		}
		at, tied = to, e.Tied && !e.Rest
	}
	return out
}

// match writes sounds that fill a measure as cells of the stock: the fewest, drilled ones
// before others; nil if no cells say just that.
func (st *stock) match(want []sound, end rhythm.Offset) []laid {
	type way struct {
		cost int
		cell *rhythm.Cell
	}
	best := map[rhythm.Offset]way{end: {}}
	var find func(at rhythm.Offset) way
	find = func(at rhythm.Offset) way {
		if w, ok := best[at]; ok {
			return w
		}
		w := way{cost: impossible}
		best[at] = w
		if silent := st.silence(want, at); silent != nil {
			if next := find(at.Add(silent.Span)); next.cost+1 < w.cost {
				w = way{next.cost + 1, silent}
			}
		}
		for i, c := range st.cells {
			if at.Add(c.Span) > end || !st.mayStart(c, at) || !stands(st.sounds[i], at, at.Add(c.Span), want) || hasGrace(c) {
				continue
			}
			cost := 1
			if !st.known[i] {
				cost = unknownCost
			}
			if next := find(at.Add(c.Span)); next.cost+cost < w.cost {
				w = way{next.cost + cost, c}
			}
		}
		best[at] = w
		return w
	}
	if find(0).cost >= impossible {
		return nil
	}
	var out []laid
	for at := rhythm.Offset(0); at < end; {
		c := best[at].cell
		out = append(out, laid{c, at})
		at = at.Add(c.Span)
	}
	return out
}

// What the ways to write a measure cost: a cell 1, one that was not drilled more.
const (
	unknownCost = 20
	impossible  = 1 << 20
)

// silence reports a nameless cell for the silence that begins at an offset, nil for none.
func (st *stock) silence(want []sound, at rhythm.Offset) *rhythm.Cell {
	for _, s := range want {
		if s.rest && s.from == at && at%rhythm.Offset(st.meter.Beat()) == 0 && s.to%rhythm.Offset(st.meter.Beat()) == 0 {
			return st.rest(at, s.to)
		}
	}
	return nil
}

// graced lists the ways to put grace notes ahead of notes of the cells: where in the measure,
// and with which cell of the stock.
func (st *stock) graced(cells []laid) (ways []laid, fresh []bool) {
	for _, l := range cells {
		for i, c := range st.cells {
			if hasGrace(c) && !hasGrace(l.cell) && c.Span == l.cell.Span && slices.Equal(sounds(c, 0), sounds(l.cell, 0)) {
				ways, fresh = append(ways, laid{c, l.at}), append(fresh, st.fresh[i])
			}
		}
	}
	return ways, fresh
}

// hasGrace reports whether the cell has grace notes.
func hasGrace(c *rhythm.Cell) bool {
	for _, e := range c.Events {
		if e.Grace > 0 {
			return true
		}
	}
	return false
}

// stands reports whether the sounds of a cell, put from one offset to another, say what is
// wanted there.
func stands(cell []sound, at, end rhythm.Offset, want []sound) bool {
	k := 0
	for k < len(want) && want[k].to <= at {
		k++
	}
	for _, s := range cell {
		if k == len(want) {
			return false
		}
		w := want[k]
		if w.rest { // silence may go on beyond the cell
			w.from, w.to = max(w.from, at), min(w.to, end)
		}
		if w != (sound{at + s.from, at + s.to, s.rest}) {
			return false
		}
		k++
	}
	return true
}
