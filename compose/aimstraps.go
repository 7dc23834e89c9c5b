package compose

import (
	"math/rand/v2"
	"slices"

	"onward/compose/figure"
)

// A host is a slot that may get a trap.
type host struct {
	*slot
	phrase *phrase
	rank   int // what the form loses by it: 0 nothing
}

// What the form loses by a trap in a slot.
const (
	loose  = iota // nothing: the slot is by itself
	answer        // it takes up another, and is then a return that leaves its model
	motto         // others take it up, and are then new
)

// pinAimed sets as many traps as the section is to have of those aimed at, with those that
// sections before it had no place for: where the form loses least, then in phrases and
// measures that have none yet, and where a coverage is aimed at on few notes.
func (p *piece) pinAimed(rng *rand.Rand, s *section) {
	hosts := p.hosts(s)
	rng.Shuffle(len(hosts), func(i, j int) { hosts[i], hosts[j] = hosts[j], hosts[i] })
	inPhrase, inBar := map[*phrase]int{}, map[*bar]int{}
	for want := p.aimedUpTo(*p.aim.Traps, s) - p.aim.placed; want > 0 && len(hosts) > 0; {
		best := 0
		for i, h := range hosts {
			b := hosts[best]
			d := []int{h.rank - b.rank, inPhrase[h.phrase] - inPhrase[b.phrase], inBar[h.bar] - inBar[b.bar], len(h.onsets) - len(b.onsets)}
			if p.aim.Coverage == nil {
				d[3] = 0
			}
			if slices.Compare(d, make([]int, len(d))) < 0 {
				best = i
			}
		}
		h := hosts[best]
		hosts = slices.Delete(hosts, best, best+1)
		h.trap = true
		if back := h.alone(s); len(p.instances(h.slot)) == 0 || !p.passable(s, h.slot) {
			h.trap = false
			back()
			continue
		}
		inPhrase[h.phrase]++
		inBar[h.bar]++
		p.aim.placed++
		want--
	}
}

// hosts lists the section's slots that a trap of the rung may stand in, cadences left out.
func (p *piece) hosts(s *section) []host {
	taken := map[*slot]bool{}
	for _, sl := range s.slots() {
		taken[sl.same], taken[sl.like] = true, true
	}
	var out []host
	for _, b := range s.bars {
		for _, sl := range b.slots {
			h := host{sl, b.phrase, loose}
			switch {
			case sl.final != "" || sl.trap || sl.wanted || !p.trapsOn(len(sl.onsets)):
				continue
			case taken[sl]:
				h.rank = motto
			case sl.same != nil || sl.like != nil:
				h.rank = answer
			}
			out = append(out, h)
		}
	}
	return out
}

// trapsOn reports whether the read may have a trap of so many notes.
func (p *piece) trapsOn(notes int) bool {
	return slices.ContainsFunc(p.world.Catalogue.ShapesOf(notes), func(s *figure.Shape) bool { return p.bounds.Traps[s.Name] })
}

// alone lets the slot, and those of the section that take it up, be drawn by themselves;
// back links them again.
func (sl *slot) alone(s *section) (back func()) {
	var cut, was []*slot
	for _, o := range append(s.slots(), sl) {
		if linked := o == sl || o.same == sl || o.like == sl; !linked || slices.Contains(cut, o) {
			continue
		}
		before := *o
		cut, was = append(cut, o), append(was, &before)
		o.same, o.like = nil, nil
	}
	return func() {
		for i, o := range cut {
			o.same, o.like = was[i].same, was[i].like
		}
	}
}

// looseTraps loosens what keeps the traps aimed at from their places: first the returns
// beside them, then one of them gives way. It reports false where there is none.
func (p *piece) looseTraps(s *section, pas *passage) bool {
	if p.aim == nil || p.aim.Traps == nil {
		return false
	}
	var last *slot
	changed := false
	for i, sl := range pas.slots {
		if !sl.trap {
			continue
		}
		last = sl
		for _, o := range pas.slots[max(0, i-1):min(len(pas.slots), i+2)] {
			if o.same != nil || o.like != nil {
				o.alone(s)
				changed = true
			}
		}
	}
	switch {
	case last == nil:
		return false
	case changed:
		p.loosened = append(p.loosened, s.Name+": a phrase returns otherwise beside a trap")
	default:
		last.trap = false
		p.aim.placed--
	}
	return true
}
