package compose

import (
	"onward/compose/figure"
	"onward/theory"
)

// drilled is a vocabulary made quick to ask.
type drilled struct {
	figures map[figure.Figure]float64 // how much each was drilled, 0 to 1
	shapes  map[string]bool
	cells   map[string]bool
	meters  map[string]bool
	keys    map[theory.Key]bool // written
}

// newDrilled reports nil for no vocabulary.
func newDrilled(v *figure.Vocabulary) *drilled {
	if v == nil {
		return nil
	}
	d := &drilled{map[figure.Figure]float64{}, map[string]bool{}, map[string]bool{}, map[string]bool{}, map[theory.Key]bool{}}
	for _, e := range v.Figures {
		d.figures[e.Figure] = v.Weight(e.Figure)
		d.shapes[e.Shape], d.cells[e.Cell] = true, true
	}
	for _, c := range v.Cells {
		d.cells[c.Cell] = true
	}
	for _, m := range v.Meters {
		d.meters[m.Meter] = true
	}
	for _, k := range v.Keys {
		d.keys[k.Key] = true
	}
	return d
}
