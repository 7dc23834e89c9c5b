package compose

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"onward/compose/idiom"
	"onward/compose/ladder"
	"onward/rhythm"
	"onward/theory"
)

// thingsARead is how many of the things its rung adds a read carries at most.
const thingsARead = 2

// chooseThings takes one or two of the rung's own things: first those that the request
// needs, then such as can show together in a read of this style, the likelier ones rather.
func (p *piece) chooseThings(rng *rand.Rand) error {
	var chosen []int
	for i := range p.rung.Adds {
		if p.asksFor(&p.rung.Adds[i]) {
			chosen = append(chosen, i)
		}
	}
	if len(chosen) > thingsARead {
		return refuse("key and meter together carry more than %d of the things rung %d adds; leave one of them to the read, or take rung %d", thingsARead, p.req.Rung, p.req.Rung+1)
	}
	p.places = p.meters()
	for _, i := range chosen {
		p.bring(&p.rung.Adds[i])
	}
	want := 1 + rng.IntN(thingsARead)
	if p.req.Aims.bringFigures(p.req.Vocabulary) && len(chosen) > 0 && !slices.ContainsFunc(p.things, hasFigures) {
		want = thingsARead // what was asked for has none of them
	}
	for len(chosen) < want {
		i := draw(rng, len(p.rung.Adds), func(i int) float64 {
			t := &p.rung.Adds[i]
			if slices.Contains(chosen, i) || p.drilled != nil && !p.drilled.knows(t) || !p.goesWith(t) {
				return 0
			}
			if p.req.Aims.nothingNew(p.req.Vocabulary) && hasFigures(t) {
				return 0
			}
			if p.req.Aims.bringFigures(p.req.Vocabulary) && !hasFigures(t) {
				return even(p.showing(t) * noFigures)
			}
			return p.showing(t)
		})
		if i < 0 {
			break
		}
		chosen = append(chosen, i)
		p.bring(&p.rung.Adds[i])
	}
	slices.Sort(chosen)
	b, err := p.world.Ladder.Bounds(p.req.Rung, chosen)
	p.bounds = b
	return err
}

// hasFigures reports whether the thing brings figures other than traps.
func hasFigures(t *ladder.Thing) bool { return len(t.Cells)+len(t.Shapes) > 0 }

// noFigures is how much less gladly a thing is brought that is no figure, where the read is
// to have figures that are not known.
const noFigures = 0.02

// asksFor reports whether the request names a key or meter, or wants traps, that the thing
// brings and the lower rungs do not.
func (p *piece) asksFor(t *ladder.Thing) bool {
	if p.req.Key != nil {
		for _, s := range t.Keys {
			if k, err := theory.ParseKey(s); err == nil && k == *p.req.Key {
				return true
			}
		}
	}
	if p.req.Traps != nil && *p.req.Traps > 0 && len(t.Traps) > 0 && p.req.Rung == p.world.firstTraps() {
		return true
	}
	return p.req.Meter != nil && slices.Contains(t.Meters, p.req.Meter.String())
}

// bring notes a thing that the read is to bring, and keeps to the meters that have it.
func (p *piece) bring(t *ladder.Thing) {
	p.things = append(p.things, t)
	if common := p.meetings(t); len(common) > 0 {
		p.places = common
	}
}

// meters lists the style's meters that a read may get: the request's one, or those that
// its rung has or adds.
func (p *piece) meters() []string {
	if p.req.Meter != nil {
		return []string{p.req.Meter.String()}
	}
	var out []string
	take := func(t *ladder.Thing) {
		for _, m := range t.Meters {
			if p.styleMeter(m) != nil {
				out = append(out, m)
			}
		}
	}
	take(&p.world.Ladder.Ground.Thing)
	for i := range p.req.Rung {
		for j := range p.world.Ladder.Rungs[i].Adds {
			take(&p.world.Ladder.Rungs[i].Adds[j])
		}
	}
	return out
}

// meetings lists the meters, of those still open, in which the thing can show.
func (p *piece) meetings(t *ladder.Thing) []string {
	var out []string
	for _, name := range p.places {
		m, err := rhythm.ParseMeter(name)
		if err != nil || p.others(name, t) || len(t.Meters) > 0 && !slices.Contains(t.Meters, name) {
			continue
		}
		if len(t.Meters) > 0 || p.fits(t, m) {
			out = append(out, name)
		}
	}
	return out
}

// others reports whether the meter is brought by another thing of the rung, which is not
// chosen.
func (p *piece) others(meter string, t *ladder.Thing) bool {
	for i := range p.rung.Adds {
		if o := &p.rung.Adds[i]; o != t && slices.Contains(o.Meters, meter) && !slices.Contains(p.things, o) {
			return true
		}
	}
	return false
}

// fits reports whether the meter has a cell for what the thing brings: one of its own, or
// one of a lower rung with as many notes as one of its shapes.
func (p *piece) fits(t *ladder.Thing, m rhythm.Meter) bool {
	shapes := slices.Concat(t.Shapes, t.Traps)
	if len(t.Cells)+len(shapes) == 0 {
		return true
	}
	for i := range p.world.Catalogue.Cells {
		c := &p.world.Catalogue.Cells[i]
		if !c.Fits(m) {
			continue
		}
		if slices.Contains(t.Cells, c.Name) {
			return true
		}
		if c.Level >= p.req.Rung && !slices.Contains(t.On, c.Name) {
			continue
		}
		for _, s := range shapes {
			if p.world.Catalogue.Shape(s).Notes() == c.Onsets() {
				return true
			}
		}
	}
	return false
}

// goesWith reports whether the thing can show beside those chosen: in a meter that all
// have, and with one key at most.
func (p *piece) goesWith(t *ladder.Thing) bool {
	if len(t.Keys) > 0 && slices.ContainsFunc(p.things, func(o *ladder.Thing) bool { return len(o.Keys) > 0 }) {
		return false
	}
	return len(p.meetings(t)) > 0
}

const (
	// keyShows is how gladly a key or meter is brought, which always shows: not so often
	// that little else is.
	keyShows = 0.7
	// shapeShows is how much rarer a shape that its style likes finds a place than a cell.
	shapeShows = 0.4
	// leadingHairpin is the same of a hairpin that must lead to a louder mark.
	leadingHairpin = 0.2
)

// minorOnly reports whether the thing brings keys, all of them minor.
func minorOnly(t *ladder.Thing) bool {
	return len(t.Keys) > 0 && !slices.ContainsFunc(t.Keys, func(k string) bool { return !strings.HasSuffix(k, "minor") })
}

// showing is how likely the thing shows in a read of this style, 0 to 1.
func (p *piece) showing(t *ladder.Thing) float64 {
	switch {
	case len(t.Keys) > 0 && p.req.Key != nil || len(t.Meters) > 0 && p.req.Meter != nil:
		return 0
	case minorOnly(t):
		return even(keyShows * p.req.Style.Minor)
	case len(t.Keys)+len(t.Meters)+len(t.Frees) > 0:
		return keyShows
	}
	best := 0.0
	for _, name := range t.Cells {
		best = max(best, p.cellShows(p.world.Catalogue.Cell(name)))
	}
	for _, name := range slices.Concat(t.Shapes, t.Traps) {
		if p.world.Catalogue.Shape(name) != nil {
			best = max(best, shapeShows)
		}
	}
	for _, m := range t.Marks {
		best = max(best, p.markShows(m))
	}
	return min(even(math.Sqrt(best)), 1)
}

// cellShows is how gladly the style uses the cell.
func (p *piece) cellShows(c *rhythm.Cell) float64 {
	if hasGrace(c) {
		return p.req.Style.Rhythm.Graces
	}
	return 1
}

// markShows is how gladly the style writes the mark, in the form asked for.
func (p *piece) markShows(mark string) float64 {
	m := p.req.Style.Marks
	switch mark {
	case "dynamics":
		return 1
	case "extremes":
		if f, err := p.req.Style.Form(p.req.Form); err == nil {
			for _, s := range f.Sections {
				if s.Dynamic == "ff" || s.Dynamic == "pp" || s.Again == "ff" || s.Again == "pp" {
					return 1
				}
			}
		}
	case "slur":
		return m.Slur
	case "staccato":
		return m.Staccato
	case "accent":
		return m.Accent
	case "tenuto":
		return m.Tenuto
	case "hairpin":
		if !m.Legato {
			return m.Hairpin * leadingHairpin
		}
		return m.Hairpin
	}
	return 0
}

// mayShow reports whether something of what the read is to bring can show in the rhythm as
// it is: it does, or there is a place for it.
func (p *piece) mayShow() bool {
	repeated := p.repeated()
	return len(p.things) == 0 || slices.ContainsFunc(p.things, func(t *ladder.Thing) bool { return p.hasPlace(t, repeated) })
}

// hasPlace reports whether the thing shows in form and rhythm, or has a place there.
func (p *piece) hasPlace(t *ladder.Thing, repeated map[*bar]bool) bool {
	if len(t.Marks) > 0 || slices.Contains(t.Meters, p.meter.String()) || slices.Contains(t.Keys, p.home.String()) {
		return true
	}
	for _, s := range p.sections {
		for _, b := range s.bars {
			for _, l := range b.cells {
				if slices.Contains(t.Cells, l.cell.Name) || slices.Contains(t.Frees, l.cell.Name) {
					return true
				}
				if l.cell.Onsets() > 1 && !repeated[b] && p.takes(b, l, s, t) {
					return true
				}
			}
		}
	}
	return false
}

// repeated lists the bars that repeat others or are repeated.
func (p *piece) repeated() map[*bar]bool {
	out := map[*bar]bool{}
	for _, s := range p.sections {
		for _, b := range s.bars {
			if b.source != nil && b.Kind < idiom.Beat {
				out[b], out[b.source] = true, true
			}
		}
	}
	return out
}

// takes reports whether the cell in its place may get one of the thing's shapes or traps.
func (p *piece) takes(b *bar, l laid, s *section, t *ladder.Thing) bool {
	for _, name := range slices.Concat(t.Shapes, t.Traps) {
		if p.world.Catalogue.Shape(name).Notes() == l.cell.Onsets() {
			sl := p.newSlot(b, l, s.key, false)
			sl.wanted, sl.trap = len(t.Shapes) > 0, len(t.Traps) > 0
			return len(p.plainInstances(sl)) > 0
		}
	}
	return false
}
