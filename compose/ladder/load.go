package ladder

import (
	"onward/compose/figure"
	"onward/rhythm"
)

// What there is to take in, in figures: a known figure counts one. The shares are the
// program's own; their order follows published findings (the number of sound events
// matters most, then tempo and length; minor costs more than major).
const (
	loadHeld       = 0.5  // a note by itself
	loadNote       = 0.3  // each further note of an unknown figure, which is read note by note
	loadKnownNote  = 0.1  // each further note of a known one
	loadLevel      = 0.04 // each level of the ladder that shape and cell stand on
	loadAccidental = 0.3
	loadGrace      = 0.3
	loadEdge       = 0.08 // a note in the top fifth of the instrument's range
	loadCost       = 0.03 // a unit of what the instrument makes costly
	loadSignature  = 0.03 // each sharp or flat of the written signature
	loadMinor      = 0.15
)

// Taken is one figure as there is to take in.
type Taken struct {
	Shape *figure.Shape
	Cell  *rhythm.Cell
	Known bool // drilled; without a vocabulary, of a lower rung
	// Accidentals, Graces, High count its notes with a printed accidental, its grace
	// notes, its notes near the top of the range; Cost is what the instrument makes
	// of its intervals (theory.Instrument.Cost).
	Accidentals, Graces, High, Cost int
	Signature                       int // sharps or flats of the written key, never negative
	Minor                           bool
}

// Figures reports what the figure weighs, in known figures.
func (t Taken) Figures() float64 {
	more := float64(t.Shape.Notes() - 1)
	w := 1.0
	switch {
	case t.Shape.Notes() == 1:
		w = loadHeld
	case t.Known:
		w += loadKnownNote * more
	default:
		w += loadNote * more
	}
	w += loadLevel * float64(t.Shape.Level+t.Cell.Level-2)
	w += loadAccidental*float64(t.Accidentals) + loadGrace*float64(t.Graces) + loadEdge*float64(t.High)
	w += loadCost*float64(t.Cost) + loadSignature*float64(t.Signature)
	if t.Minor {
		w += loadMinor
	}
	return w
}
