package compose

import (
	"math"
	"math/rand/v2"
	"slices"

	"onward/compose/figure"
)

// A newcomer is a new figure with a slot for it.
type newcomer struct {
	figure.Figure
	at     *slot
	cut    bool // the slot is to be by itself: it takes up another, or others it
	weight float64
}

const (
	cutNew    = 0.03 // how gladly a slot is cut off from others for a new figure
	forcedNew = 1000 // how much rather a slot gets one that has nothing known anyway
	newTries  = 60   // how often a new figure is looked for at most
)

// placeNew gives the section its share of the new figures aimed at, with those that the
// sections before it had no place for: each a slot where it is found as itself, and where
// about as many notes become unknown as the coverage aimed at leaves to it.
func (p *piece) placeNew(rng *rand.Rand, s *section) {
	if p.aim.New == nil {
		return
	}
	for left := p.aimedUpTo(p.aim.news, s) - len(p.aim.only); left > 0; left-- {
		if !p.placeOne(rng, s, p.newcomers(s, left)) {
			return
		}
	}
}

func (p *piece) placeOne(rng *rand.Rand, s *section, all []newcomer) bool {
	for range newTries {
		i := draw(rng, len(all), func(i int) float64 { return all[i].weight })
		if i < 0 {
			return false
		}
		c := &all[i]
		c.weight = 0
		back := func() {}
		if c.cut {
			back = c.at.alone(s)
		}
		if !p.standsOut(c.at, c.Figure) {
			back()
			continue
		}
		c.at.must, c.at.only = -1, p.world.Catalogue.Shape(c.Shape)
		p.aim.only = append(p.aim.only, c.Figure)
		return true
	}
	return false
}

// newcomers lists what of new figures the section has slots for, where so many are to be
// placed still.
func (p *piece) newcomers(s *section, left int) []newcomer {
	notes, linked := map[*slot]int{}, map[*slot]bool{}
	total, unknown := 0, 0
	for _, sl := range s.slots() {
		root := sl.root()
		notes[root] += len(sl.onsets)
		total += len(sl.onsets)
		if root != sl {
			linked[root], linked[sl.same], linked[sl.like] = true, true, true
		}
		if root.trap || root.must < 0 {
			unknown += len(sl.onsets)
		}
	}
	need := 0.0
	if p.aim.Coverage != nil {
		need = max(1, ((1-p.aim.share)*float64(total)-float64(unknown))/float64(left))
	}
	var out []newcomer
	for _, sl := range s.slots() {
		alone := *sl
		alone.same, alone.like = nil, nil
		if len(sl.onsets) < 2 || sl.trap || sl.must != 0 || sl.pick != nil || s.ending != nil && sl.bar == s.ending {
			continue
		}
		for _, f := range p.unknownFor(&alone) {
			for _, cut := range []bool{false, true} {
				n, w := notes[sl], 1.0
				switch {
				case !cut && sl.root() != sl, cut && sl.root() == sl && !linked[sl]:
					continue
				case cut:
					n, w = len(sl.onsets), cutNew
				}
				if p.aim.Coverage != nil {
					w *= math.Exp(-math.Abs(float64(n) - need))
				} else {
					w *= float64(n * n) // one that returns is not so easily lost
				}
				if can, _ := p.mayKnow(&alone); !can {
					w *= forcedNew
				}
				out = append(out, newcomer{f, sl, cut, even(w)})
			}
		}
	}
	return out
}

// unknownFor lists the figures that the slot may get, the player does not know, and the
// read has not yet.
func (p *piece) unknownFor(sl *slot) []figure.Figure {
	var out []figure.Figure
	for _, shape := range p.shapesFor(sl) {
		if f := (figure.Figure{Shape: shape.Name, Cell: sl.cell.Name}); !p.knows(f) && !slices.Contains(p.aim.only, f) {
			out = append(out, f)
		}
	}
	return out
}

// aimedUpTo reports how many of n that are aimed at the sections up to this one have, by
// their measures.
func (p *piece) aimedUpTo(n int, s *section) int {
	upTo, all := 0, 0
	for _, o := range p.sections {
		if o.of != nil {
			continue
		}
		if all += len(o.bars); o == s {
			upTo = all
		}
	}
	return n * upTo / all
}
