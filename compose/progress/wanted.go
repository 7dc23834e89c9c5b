package progress

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"onward/compose/figure"
)

// Which figures and keys come back.
const (
	mostWanted = 6
	mostFaded  = 2    // of them, for being half forgotten
	weakFigure = 0.08 // weakness from which a figure is wanted, in logarithms of load
	weakSure   = 1.0  // deviations that it must lie above none at least
	weakKey    = 0.08
	keySure    = 1.0
	keyTakes   = 3   // one read in so many is to be in a weak family of keys
	faded      = 0.4 // share known below which a figure is half forgotten
	fadedTimes = 4   // if it was met so often
)

// wanted lists the figures that should come back, the weakest first, then those that are
// fading.
func (m *Model) wanted(known []figure.Known) []figure.Figure {
	var weak []figure.Figure
	for f, w := range m.figures {
		if w.mean >= weakFigure && w.mean >= weakSure*math.Sqrt(w.variance) {
			weak = append(weak, f)
		}
	}
	slices.SortFunc(weak, func(f, g figure.Figure) int {
		return cmp.Or(cmp.Compare(m.figures[g].mean, m.figures[f].mean), cmp.Compare(f.Shape, g.Shape), cmp.Compare(f.Cell, g.Cell))
	})
	weak = weak[:min(len(weak), mostWanted)]
	for _, f := range fading(known) {
		if len(weak) < mostWanted && !slices.Contains(weak, f) {
			weak = append(weak, f)
		}
	}
	return weak
}

// fading lists the figures that were known and are half forgotten, in whatever keys, the
// latest met first: they come back with the least effort.
func fading(known []figure.Known) []figure.Figure {
	best := map[figure.Figure]figure.Known{}
	times := map[figure.Figure]int{}
	for _, k := range known {
		times[k.Figure] += k.Times
		if b, ok := best[k.Figure]; !ok || k.Share > b.Share {
			best[k.Figure] = k
		}
	}
	var out []figure.Known
	for f, k := range best {
		if k.Share < faded && times[f] >= fadedTimes {
			out = append(out, k)
		}
	}
	slices.SortFunc(out, func(a, b figure.Known) int {
		return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Shape, b.Shape), cmp.Compare(a.Cell, b.Cell))
	})
	var names []figure.Figure
	for _, k := range out[:min(len(out), mostFaded)] {
		names = append(names, k.Figure)
	}
	return names
}

// weakKeys lists the families of keys in which the player reads clearly worse, the weakest
// first.
func (m *Model) weakKeys() []figure.Family {
	var out []figure.Family
	for _, f := range m.families {
		if n := m.guess(keysPart(f)); -n.mean >= weakKey && -n.mean >= keySure*math.Sqrt(n.variance) {
			out = append(out, f)
		}
	}
	slices.SortStableFunc(out, func(f, g figure.Family) int {
		return cmp.Compare(m.guess(keysPart(f)).mean, m.guess(keysPart(g)).mean)
	})
	return out
}

// What is known and new in a read, by how the latest takes went: "one new element a piece"
// is a composers' guide's; more is for who is at ease, none for who is not.
const usualCoverage = 0.9

// fresh settles how much of the read is known.
func (a *asking) fresh(p *Proposal) {
	p.Coverage, p.New = usualCoverage, 1
	s := a.styles[a.ask.Style]
	if s == nil {
		return
	}
	last := s.latest[len(s.latest)-1]
	switch n := len(s.latest); {
	case last.stopped() || last.share() < Least-0.05:
		p.Coverage, p.New = 0.95, 0
	case n > 1 && easy(&last) && easy(&s.latest[n-2]):
		p.Coverage, p.New = 0.8, 2
	}
}

// easy reports whether a take gave less than it could.
func easy(t *Take) bool { return !t.stopped() && t.share() >= Most }

// extras adds what a player at ease may take on: a weak family of keys, or a pressure.
func (m *Model) extras(s *standing, p *Proposal) {
	if last := &s.latest[len(s.latest)-1]; !comfortable(last) {
		return
	}
	if len(p.WeakKeys) > 0 && s.inKeys >= keyTakes-1 {
		p.Key = &p.WeakKeys[0]
		p.Why = append(p.Why, fmt.Sprintf("Keys with %s slip oftener: this read is in one.", p.Key))
		return
	}
	if step := m.climb.offer(); step != "" {
		p.Pressure = []string{step}
		p.Why = append(p.Why, pressureWords[step])
	}
}
