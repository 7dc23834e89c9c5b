package theory

import (
	"fmt"
	"strings"
)

// A Clef is the clef a part is read in.
type Clef int

// The clefs in use.
const (
	Treble Clef = iota
	Bass
)

// String reports "treble" or "bass".
func (c Clef) String() string { return [...]string{"treble", "bass"}[c] }

// ParseClef reads "treble" or "bass".
func ParseClef(s string) (Clef, error) {
	for _, c := range []Clef{Treble, Bass} {
		if s == c.String() {
			return c, nil
		}
	}
	return 0, fmt.Errorf("clef %q is not treble or bass", s)
}

// A Range is a lowest and a highest written pitch, both included.
type Range struct{ Low, High Pitch }

// Has reports whether p sounds no lower than the range's lowest pitch and no higher
// than its highest, however it is spelled.
func (r Range) Has(p Pitch) bool {
	return r.Low.MIDI() <= p.MIDI() && p.MIDI() <= r.High.MIDI()
}

// Transpose moves the range by i: a written range by Instrument.Sounds is the
// sounding one.
func (r Range) Transpose(i Interval) Range { return Range{r.Low.Transpose(i), r.High.Transpose(i)} }

// A Bracket names how far into its range a player's part goes.
type Bracket int

// The brackets, each wider than the one before. SixNotes is the first six degrees
// of concert B-flat.
const (
	SixNotes Bracket = iota
	Beginner
	Intermediate
	Advanced
	Beyond
)

// String reports the bracket's name in words.
func (b Bracket) String() string {
	return [...]string{"six notes", "beginner", "intermediate", "advanced", "beyond"}[b]
}

// ParseBracket reads a bracket's name as String gives it; "six-notes" will do too.
func ParseBracket(s string) (Bracket, error) {
	for b := SixNotes; b <= Beyond; b++ {
		if strings.ReplaceAll(s, "-", " ") == b.String() {
			return b, nil
		}
	}
	return 0, fmt.Errorf("bracket %q is not six-notes, beginner, intermediate, advanced or beyond", s)
}

// An Instrument is what the program knows of one way to read one instrument; its
// values come from instruments.json.
type Instrument struct {
	ID   string // as in --instrument: "euphonium-tc"
	Name string // as printed on the part: "Euphonium T.C."
	Clef Clef
	// Sounds is the interval from written to sounding pitch: {-1, -2} for a
	// B-flat trumpet.
	Sounds Interval
	// Ranges holds the written range of each bracket.
	Ranges [5]Range
	// Breath is how long one breath lasts in seconds at soft, medium and loud.
	Breath [3]float64
	// Program is the General MIDI program, 0 to 127, that stands for it.
	Program int
	// Fingerings holds valves ("0", "12", "123") or slide positions ("1" to "7") by
	// written MIDI number; nil where the cost of fingering is not modelled.
	Fingerings map[int]Fingering
	Slide      bool
}

// A Fingering is how one note is played on a brass instrument.
type Fingering struct {
	Valves  string // "0", "1", "12" ... or the slide position "1" to "7"
	Partial int    // the partial of the open tube's series, 2 upward
}
