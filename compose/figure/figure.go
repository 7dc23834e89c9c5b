// Package figure holds the catalogue of figures, melodic shapes and rhythm cells,
// finds them again in written parts, and keeps a player's vocabulary of them.
package figure

import (
	"onward/rhythm"
	"onward/theory"
)

// A Shape is a named melodic shape: how the notes move.
type Shape struct {
	Name   string // "five up the scale"
	Family string // "scale", "arpeggio", "neighbour" ...
	Moves  []Move // one fewer than the notes
	// From is the chord member the shape starts on, 1 the root; 0 for any.
	From int
	// Members is how many members the chord must have, 3 or 4; 0 for either.
	Members int
	// LooksLike names the shape that this one starts like before it leaves it; ""
	// if it is no trap.
	LooksLike string
	// Level is the order in which shapes are usually learned, 1 to 12.
	Level int
	Words string // what a player would call it, for the look-over
}

// Notes reports how many notes the shape has.
func (s *Shape) Notes() int { return len(s.Moves) + 1 }

// A Unit is what a Move is measured in.
type Unit uint8

// The units of a Move.
const (
	// Scale: steps of the key's scale (in minor, the raised sixth and seventh
	// where the chord or the direction asks for them).
	Scale Unit = iota
	// ChordTone: members of the chord sounding; the shape then starts on one.
	ChordTone
	// Chromatic: a half step to a neighbouring letter (chromatic neighbour).
	Chromatic
	// ChromaticRun: a half step of a chromatic scale, sharps up, flats down.
	ChromaticRun
)

// A Move is the way from one note of a shape to the next, up positive.
type Move struct {
	Unit Unit
	By   int
}

// A Context is what a shape is realized in.
type Context struct {
	Key   theory.Key
	Chord theory.Chord
}

// A Catalogue is the shapes and cells there are. Make one with Default or Parse.
type Catalogue struct {
	Shapes []Shape
	Cells  []rhythm.Cell

	shapes  map[string]*Shape
	cells   map[string]*rhythm.Cell
	byNotes map[int][]*Shape
	// patterns holds the cells as they are heard, by meter.
	patterns map[string][]pattern
}

// Shape finds a shape by name; nil if there is none.
func (c *Catalogue) Shape(name string) *Shape { return c.shapes[name] }

// Cell finds a cell by name; nil if there is none.
func (c *Catalogue) Cell(name string) *rhythm.Cell { return c.cells[name] }

// ShapesOf lists the shapes with that many notes, in the catalogue's order; empty
// if there are none. The list is the catalogue's own: do not change it.
func (c *Catalogue) ShapesOf(notes int) []*Shape { return c.byNotes[notes] }

// A Figure is a shape laid on a cell, by name.
type Figure struct {
	Shape string `toml:"shape" json:"shape"`
	Cell  string `toml:"cell" json:"cell"`
}
