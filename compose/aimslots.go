package compose

import (
	"math/rand/v2"

	"onward/compose/figure"
	"onward/compose/score"
)

// standsOut reports whether the figure has a place in the slot, and is found there as
// itself: not as shorter ones that the player knows.
func (p *piece) standsOut(sl *slot, f figure.Figure) bool {
	sl.must, sl.only = -1, p.world.Catalogue.Shape(f.Shape)
	instances := p.plainInstances(sl)
	sl.must, sl.only = 0, nil
	for i := range instances {
		if instances[i].shape.Name != f.Shape {
			continue
		}
		if p.vocabulary == nil {
			return true
		}
		key, meter := sl.key, p.meter
		m := score.Measure{Number: 1, Length: meter.Measure(), Key: &key, Meter: &meter}
		at, next, tied := sl.at, -1, len(sl.onsets) < sl.cell.Onsets() // from the measure before
		for _, e := range sl.cell.Events {
			if !e.Rest {
				if !tied {
					next++
				}
				if next >= 0 {
					m.Notes = append(m.Notes, score.Note{At: at, Value: e.Value, Pitch: instances[i].pitches[next], TieStop: tied, TieStart: e.Tied})
				}
			}
			tied, at = e.Tied && !e.Rest, at.Add(e.Value.Duration())
		}
		for _, found := range p.world.Catalogue.RecognizeIn(&score.Part{Measures: []score.Measure{m}}, p.vocabulary) {
			if found.Figure == f {
				return true
			}
		}
		return false
	}
	return false
}

// root reports the slot whose figure this one takes.
func (sl *slot) root() *slot {
	for {
		switch {
		case sl.same != nil:
			sl = sl.same
		case sl.like != nil:
			sl = sl.like
		default:
			return sl
		}
	}
}

// placeAims says of the section's slots which get a figure that is known and which one that
// is not, so that so many of its notes are known as is planned.
func (p *piece) placeAims(rng *rand.Rand, s *section) {
	if !p.aimsAtKnown() {
		return
	}
	p.placeNew(rng, s)
	var roots []*slot
	notes, own := map[*slot]int{}, map[*slot]bool{}
	total, known := 0, 0
	for _, sl := range s.slots() {
		root := sl.root()
		own[sl] = true
		if notes[root] == 0 {
			roots = append(roots, root)
		}
		notes[root] += len(sl.onsets)
		total += len(sl.onsets)
	}
	rng.Shuffle(len(roots), func(i, j int) { roots[i], roots[j] = roots[j], roots[i] })
	var open []*slot
	for _, root := range roots {
		switch {
		case !own[root], root.must != 0: // settled before
			if root.must > 0 {
				known += notes[root]
			}
			continue
		case root.trap:
			continue
		}
		can, cannot := p.mayKnow(root)
		switch {
		case can && cannot:
			open = append(open, root)
		case can:
			root.must = 1
			known += notes[root]
		default:
			root.must = -1
			p.onlyNew(rng, root)
		}
	}
	want := int(p.aim.share*float64(total)+0.5) - known
	sum := 0
	for _, sl := range open {
		sum += notes[sl]
	}
	p.aim.scarce, p.aim.surplus = p.aim.scarce || want < 0, p.aim.surplus || want > sum
	if p.aim.Coverage == nil {
		want = total
	}
	for i, chosen := range nearest(open, notes, want) {
		if open[i].must = -1; chosen {
			open[i].must = 1
		} else {
			p.onlyNew(rng, open[i])
		}
	}
}

// slots lists the section's slots: upbeat, bars and first ending.
func (s *section) slots() []*slot {
	var all []*slot
	if s.lead != nil {
		all = append(all, s.lead.slots...)
	}
	for _, b := range s.bars {
		all = append(all, b.slots...)
	}
	if s.ending != nil {
		all = append(all, s.ending.slots...)
	}
	return all
}

// mayKnow reports whether the slot may get a known figure, and whether an unknown one.
func (p *piece) mayKnow(sl *slot) (can, cannot bool) {
	for _, shape := range p.shapesFor(sl) {
		f := figure.Figure{Shape: shape.Name, Cell: sl.cell.Name}
		switch {
		case p.knows(f):
			can = true
		case p.aim.New == nil || len(sl.onsets) < 2:
			cannot = true
		default:
			for _, o := range p.aim.only {
				cannot = cannot || o == f
			}
		}
	}
	return can, cannot
}

// onlyNew lets the slot have one of the new figures alone, if any has its cell.
func (p *piece) onlyNew(rng *rand.Rand, sl *slot) {
	var fits []figure.Figure
	for _, f := range p.aim.only {
		if f.Cell == sl.cell.Name {
			fits = append(fits, f)
		}
	}
	if len(fits) > 0 {
		sl.only = p.world.Catalogue.Shape(fits[rng.IntN(len(fits))].Shape)
	}
}

// nearest chooses slots whose notes add up most nearly to so many.
func nearest(open []*slot, notes map[*slot]int, want int) []bool {
	from := map[int]int{0: -1} // sum: the slot that made it
	sums := []int{0}
	for i, sl := range open {
		for _, sum := range append([]int(nil), sums...) {
			next := sum + notes[sl]
			if _, had := from[next]; !had {
				from[next] = i
				sums = append(sums, next)
			}
		}
	}
	best := 0
	for _, sum := range sums {
		if abs(sum-want) < abs(best-want) {
			best = sum
		}
	}
	chosen := make([]bool, len(open))
	for best > 0 {
		i := from[best]
		chosen[i] = true
		best -= notes[open[i]]
	}
	return chosen
}

func abs(n int) int { return max(n, -n) }

// offAim is how much less gladly a slot gets a figure other than it is to get.
const offAim = 1e-5

// aimWeight is how gladly the slot gets a shape for the read's aims, times w, which is how
// gladly it does by style; asDrilled is the same with how well it is known.
func (p *piece) aimWeight(sl *slot, f figure.Figure, w, asDrilled float64) float64 {
	switch knows := p.knows(f); {
	case sl.must > 0 && !knows, sl.must < 0 && knows:
		return asDrilled * offAim
	case sl.must < 0 && sl.only != nil && sl.only.Name != f.Shape:
		return w * offAim
	case sl.must < 0:
		return w
	}
	return asDrilled
}
