package compose

import (
	"fmt"
	"math/rand/v2"
	"slices"
)

// placeTraps marks the slots that get a trap, as many as the rung asks, and one for
// each eight measures that gets a shape the read is to bring.
func (p *piece) placeTraps(rng *rand.Rand, s *section) {
	open := looseSlots(s)
	rng.Shuffle(len(open), func(i, j int) { open[i], open[j] = open[j], open[i] })
	if !p.aimsAtKnown() && len(p.bounds.FreshShapes) > 0 && (p.drilled == nil || p.drilled.shapesAny(p.bounds.FreshShapes)) {
		p.pin(s, open, max(1, len(s.bars)/8), func(sl *slot, on bool) { sl.wanted = on })
	}
	if p.aim != nil && p.aim.Traps != nil {
		p.pinAimed(rng, s)
		return
	}
	most := p.rung.Traps[1]
	if most == 0 || len(p.bounds.Traps) == 0 {
		return
	}
	want := p.rung.Traps[0] + rng.IntN(most-p.rung.Traps[0]+1)
	want = max(min(want, 1), want*len(s.bars)/16)
	if left := p.pin(s, open, want, func(sl *slot, on bool) { sl.trap = on }); want-left < p.rung.Traps[0] {
		p.loosened = append(p.loosened, fmt.Sprintf("%s: room for %d of %d traps", s.Name, want-left, want))
	}
}

// looseSlots lists the slots of several notes that nothing else takes up and that take
// up nothing, cadences left out.
func looseSlots(s *section) []*slot {
	taken := map[*slot]bool{}
	for _, b := range s.bars {
		for _, sl := range b.slots {
			taken[sl.same], taken[sl.like] = true, true
		}
	}
	var open []*slot
	for _, b := range s.bars {
		for _, sl := range b.slots {
			if sl.same == nil && sl.like == nil && !taken[sl] && sl.final == "" && len(sl.onsets) >= 2 {
				open = append(open, sl)
			}
		}
	}
	return open
}

// pin sets up to so many of the slots, those where a melody leads through, and reports
// how many it found no place for.
func (p *piece) pin(s *section, open []*slot, want int, set func(*slot, bool)) int {
	tries := trapTries
	if p.aim != nil {
		tries = len(open)
	}
	for _, sl := range open[:min(len(open), tries)] {
		if want == 0 {
			break
		}
		if sl.trap || sl.wanted {
			continue
		}
		set(sl, true)
		if !p.passable(s, sl) {
			set(sl, false)
			continue
		}
		want--
	}
	return want
}

// trapTries is how many places are looked at for traps and wanted shapes.
const trapTries = 16

// passable reports whether some melody leads through the slots around sl, links and
// earlier music left aside.
func (p *piece) passable(s *section, sl *slot) bool {
	const around = 3
	var all []*slot
	for _, b := range s.bars {
		all = append(all, b.slots...)
	}
	i := slices.Index(all, sl)
	pas := &passage{section: s, slots: all[max(0, i-around):min(len(all), i+around+1)]}
	return len(p.buildGraph(pas).nodes) > 0
}
