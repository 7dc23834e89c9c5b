package ladder

import (
	"onward/compose/figure"
	"onward/rhythm"
)

// What there is to take in, in hundredths of a figure: a known figure counts a hundred.
// The shares are the program's own; their order follows published findings (the number
// of sound events matters most, then tempo and length; minor costs more than major).
const (
	loadFigure     = 100
	loadHeld       = 50 // a note by itself
	loadNote       = 30 // each further note of an unknown figure, which is read note by note
	loadKnownNote  = 10 // each further note of a known one
	loadLevel      = 4  // each level of the ladder that shape and cell stand on
	loadAccidental = 30
	loadGrace      = 30
	loadEdge       = 8 // a note in the top fifth of the instrument's range
	loadCost       = 3 // a unit of what the instrument makes costly
	loadSignature  = 3 // each sharp or flat of the written signature
	loadMinor      = 15
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

// Hundredths reports what the figure weighs, in hundredths of a known figure.
func (t Taken) Hundredths() int {
	more := t.Shape.Notes() - 1
	w := loadFigure
	switch {
	case more == 0:
		w = loadHeld
	case t.Known:
		w += loadKnownNote * more
	default:
		w += loadNote * more
	}
	w += loadLevel*(t.Shape.Level+t.Cell.Level-2) + loadAccidental*t.Accidentals + loadGrace*t.Graces
	w += loadEdge*t.High + loadCost*t.Cost + loadSignature*t.Signature
	if t.Minor {
		w += loadMinor
	}
	return w
}
