package compose

import (
	"math"
	"math/rand/v2"

	"onward/compose/figure"
	"onward/compose/score"
)

// trapsOf reports how many of the traps planned for the read the section gets, by its
// measures.
func (p *piece) trapsOf(s *section) int {
	before, all := 0, 0
	for _, o := range p.sections {
		if o.of != nil {
			continue
		}
		if o == s {
			before = all
		}
		all += len(o.bars)
	}
	return p.aim.traps*(before+len(s.bars))/all - p.aim.traps*before/all
}

// roomCounts is how much rather a new figure is taken that has room, as a power.
const roomCounts = 3

// chooseNew draws the figures that the read is to bring, for cells that the rhythm has.
func (p *piece) chooseNew(rng *rand.Rand) {
	p.aim.only, p.aim.open, p.aim.scarce, p.aim.surplus = nil, nil, false, false
	if p.aim.New == nil {
		return
	}
	type choice struct {
		figure.Figure
		at     *slot
		weight float64
	}
	var all []choice
	cells, total := map[string]int{}, 0
	for _, s := range p.sections {
		for _, b := range s.bars {
			for _, l := range b.cells {
				if total += l.cell.Onsets(); l.cell.Onsets() < 2 {
					continue
				}
				if cells[l.cell.Name]++; cells[l.cell.Name] > 1 {
					continue
				}
				sl := p.newSlot(b, l, s.key)
				for _, shape := range p.shapesFor(sl) {
					f := figure.Figure{Shape: shape.Name, Cell: l.cell.Name}
					if !p.knows(f) {
						all = append(all, choice{f, sl, 0})
					}
				}
			}
		}
	}
	need := math.Inf(1) // notes that one of them should have room for
	if p.aim.Coverage != nil {
		need = max(1, (1-p.aim.share)*float64(total)) / float64(max(*p.aim.New, 1))
	}
	for i, c := range all {
		room := float64(cells[c.Cell] * p.world.Catalogue.Cell(c.Cell).Onsets())
		all[i].weight = even(math.Pow(min(room, need), roomCounts))
	}
	for len(p.aim.only) < *p.aim.New {
		i := draw(rng, len(all), func(i int) float64 { return all[i].weight })
		if i < 0 {
			break
		}
		if p.standsOut(all[i].at, all[i].Figure) {
			p.aim.only = append(p.aim.only, all[i].Figure)
		}
		all[i].weight = 0
	}
	p.aim.open = append(p.aim.open, p.aim.only...)
}

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
		if p.req.Vocabulary == nil {
			return true
		}
		key, meter := sl.key, p.meter
		m := score.Measure{Number: 1, Length: meter.Measure(), Key: &key, Meter: &meter}
		at, next, tied := sl.at, -1, false
		for _, e := range sl.cell.Events {
			if !e.Rest {
				if !tied {
					next++
				}
				m.Notes = append(m.Notes, score.Note{At: at, Value: e.Value, Pitch: instances[i].pitches[next], TieStop: tied, TieStart: e.Tied})
			}
			tied, at = e.Tied && !e.Rest, at.Add(e.Value.Duration())
		}
		for _, found := range p.world.Catalogue.RecognizeIn(&score.Part{Measures: []score.Measure{m}}, p.req.Vocabulary) {
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
		case !own[root]: // settled in an earlier section
			if root.must > 0 {
				known += notes[root]
			}
			continue
		case root.trap:
			continue
		}
		can, cannot := p.mayKnow(root)
		switch {
		case p.aim.New != nil && cannot && p.placeNew(root):
			continue
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

// placeNew gives the slot a new figure that has no place yet, if one fits.
func (p *piece) placeNew(sl *slot) bool {
	for i, f := range p.aim.open {
		if f.Cell == sl.cell.Name {
			sl.must, sl.only = -1, p.world.Catalogue.Shape(f.Shape)
			p.aim.open = append(p.aim.open[:i:i], p.aim.open[i+1:]...)
			return true
		}
	}
	return false
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
