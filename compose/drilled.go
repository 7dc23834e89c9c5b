package compose

import (
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/rhythm"
	"onward/theory"
)

// drilled is a vocabulary made quick to ask.
type drilled struct {
	figures map[figure.Figure]float64 // how much each was drilled, 0 to 1
	shapes  map[string]bool
	cells   map[string]float64 // how much each was drilled, 0 to 1; with whatever shape
	// meters holds, by meter, how much of what was drilled fits it, 0 to 1.
	meters    map[string]float64
	keys      map[theory.Key]bool // written
	drilledIn map[string]bool     // the meters of the exercises
}

// fewKinds is how many shapes a cell must have been drilled with to count half.
const fewKinds = 2

// knows reports whether what the thing brings was drilled, or is no figure at all.
func (d *drilled) knows(t *ladder.Thing) bool {
	known := len(t.Cells)+len(t.Shapes) == 0
	for _, c := range t.Cells {
		known = known || d.cells[c] > 0
	}
	for _, s := range t.Shapes {
		known = known || d.shapes[s]
	}
	return known
}

// fewestNotes is from how many notes on a figure is more than a step to the eye.
const fewestNotes = 3

// carryOver lets the shapes that were drilled stand on the cells of as many notes that rung and
// meter have, where they have none of the rhythms in which these shapes were drilled: else a
// read would be made of single notes.
func (p *piece) carryOver() {
	v := p.req.Vocabulary
	if v == nil {
		return
	}
	var more figure.Vocabulary
	for _, e := range v.Figures {
		s := p.world.Catalogue.Shape(e.Shape)
		if s == nil || s.Notes() < fewestNotes || !p.bounds.AllowsShape(s) {
			continue
		}
		for i := range p.world.Catalogue.Cells {
			c := &p.world.Catalogue.Cells[i]
			if c.Onsets() != s.Notes() || !p.hasCell(c) || !p.bounds.AllowsFigure(s, c) {
				continue
			}
			if c.Name == e.Cell {
				return
			}
			on := e
			on.Cell = c.Name
			more = more.Merge(figure.Vocabulary{Figures: []figure.Entry{on}})
		}
	}
	if len(more.Figures) > 0 {
		wider := v.Merge(more)
		p.vocabulary, p.carried, p.drilled = &wider, true, newDrilled(&wider, p.world.Catalogue)
	}
}

// hasCell reports whether the piece may use a cell.
func (p *piece) hasCell(c *rhythm.Cell) bool {
	return c.Fits(p.meter) && p.bounds.AllowsCell(c) && !tiedOut(c)
}

// shapesAny reports whether any of the shapes was drilled.
func (d *drilled) shapesAny(shapes map[string]bool) bool {
	for s := range shapes {
		if d.shapes[s] {
			return true
		}
	}
	return false
}

// newDrilled reports nil for no vocabulary.
func newDrilled(v *figure.Vocabulary, cat *figure.Catalogue) *drilled {
	if v == nil {
		return nil
	}
	d := &drilled{map[figure.Figure]float64{}, map[string]bool{}, map[string]float64{}, map[string]float64{}, map[theory.Key]bool{}, map[string]bool{}}
	notes, kinds := 0, map[string]int{}
	weights := v.Weights()
	for i, e := range v.Figures {
		d.figures[e.Figure] = weights[i]
		d.shapes[e.Shape] = true
		kinds[e.Cell]++
		d.cells[e.Cell] += float64(2*e.Count + e.Within)
		notes += e.Notes
	}
	for _, e := range v.Figures {
		for _, m := range cat.Cell(e.Cell).Meters {
			d.meters[m] += float64(e.Notes) / float64(max(notes, 1))
		}
	}
	most := 0.0
	for _, n := range d.cells {
		most = max(most, n)
	}
	for name, n := range d.cells { // a cell drilled with one shape only makes dull reads
		k := float64(kinds[name])
		d.cells[name] = n / most * k / (k + fewKinds)
	}
	for _, m := range v.Meters {
		d.drilledIn[m.Meter] = true
	}
	for _, k := range v.Keys {
		d.keys[k.Key] = true
	}
	return d
}
