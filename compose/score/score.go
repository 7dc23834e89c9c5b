// Package score holds written music: score, part, measure, note and marks, in
// written pitch with the part's transposition beside it, and checks of legality.
package score

import (
	"onward/rhythm"
	"onward/theory"
)

// A Score is one piece: its heading and its parts.
type Score struct {
	Title    string
	Subtitle string // style, rung and so on, as printed under the title
	Composer string // printed at the right; "" for none
	// Identity is written into the file so that the read can be made again: seed,
	// request and generator version as one line; "" for none.
	Identity string
	Parts    []Part
}

// A Part is one player's line.
type Part struct {
	Name         string // "Euphonium T.C."
	Abbreviation string
	// Sounds is the interval from written to sounding pitch.
	Sounds   theory.Interval
	Program  int // General MIDI program, 0 to 127
	Measures []Measure
}

// A Measure is what stands between two barlines. Attributes that are nil or zero
// stay as they were in the measure before.
type Measure struct {
	// Number is the printed number; a pickup is 0. Second endings count on.
	Number int
	// Length is the time the notes fill; less than the meter's for a pickup and
	// for the last measure that completes it.
	Length rhythm.Duration
	// Implicit marks a measure that is not numbered on the page (a pickup).
	Implicit bool

	Key   *theory.Key   // a new key, at its start
	Meter *rhythm.Meter // a new meter, at its start
	Clef  *theory.Clef  // a new clef, at its start
	Tempo *Tempo        // a tempo mark, at its start

	RepeatStart bool // a forward repeat at its left barline
	RepeatEnd   bool // a backward repeat at its right barline
	// Ending is the bracket the measure lies under: 0 none, 1 first, 2 second.
	Ending int
	// EndingStart and EndingStop say that the bracket begins or ends here.
	EndingStart, EndingStop bool
	DoubleBar               bool   // a light double barline at its right
	FinalBar                bool   // a light-heavy barline at its right
	Rehearsal               string // a rehearsal letter, "" for none
	Words                   string // words above the staff at its start: "Trio", "dolce"
	NewSystem               bool   // begins a new line on the page

	Notes    []Note
	Dynamics []Dynamic
	Hairpins []Hairpin
}

// A Tempo is a tempo mark: felt beats a minute, and a word.
type Tempo struct {
	Beat rhythm.Value // the note value that is counted
	BPM  int          // 20 to 300
	Word string       // "Andante", "March tempo"; "" for none
}

// A Note is one written note or rest. Notes of a measure stand in order of At
// without gap or overlap; a chord is not written (single lines only).
type Note struct {
	At    rhythm.Offset // from the start of the measure
	Value rhythm.Value
	Rest  bool
	// WholeMeasure marks a rest that fills the measure whatever its length; its
	// Value is then a whole note and does not count.
	WholeMeasure bool
	Pitch        theory.Pitch // written pitch

	TieStart, TieStop bool // tied to the next note, from the one before
	// SlurStart and SlurStop: a slur begins or ends on the note. Slurs do not nest.
	SlurStart, SlurStop bool
	Grace               []theory.Pitch // grace notes ahead of the note, in order, beamed together
	GraceSlur           bool           // a slur from the first grace note to the note

	Staccato, Tenuto, Accent, Marcato, Fermata bool
	Breath                                     bool // a breath mark after the note

	// Beams has one entry for each beam of the note, eighth beam first. Empty for
	// flags and unbeamed values.
	Beams []Beam
	// Accidental says how the accidental is shown.
	Accidental Accidental
	// TupletStart and TupletStop open and close the bracket of a tuplet.
	TupletStart, TupletStop bool
}

// A Beam is one note's share in one beam.
type Beam int

// The shares of a beam. Hooks are partial beams.
const (
	BeamBegin Beam = iota
	BeamContinue
	BeamEnd
	BeamForwardHook
	BeamBackwardHook
)

// An Accidental says whether and how an accidental is printed.
type Accidental int

// Shown is one that the page needs; Courtesy is a reminder, printed in
// parentheses.
const (
	Hidden Accidental = iota
	Shown
	Courtesy
)

// A Dynamic is a dynamic mark at a point of a measure.
type Dynamic struct {
	At   rhythm.Offset
	Mark string // "pp" "p" "mp" "mf" "f" "ff" "fp" "sfz"
}

// A Hairpin opens or closes a crescendo or diminuendo at a point of a measure.
type Hairpin struct {
	At   rhythm.Offset
	Kind HairpinKind
}

// A HairpinKind is the start of a hairpin, or the stop of the open one.
type HairpinKind int

// The kinds of hairpin marks.
const (
	Crescendo HairpinKind = iota
	Diminuendo
	HairpinStop
)

// Duration reports how long the note or rest lasts in the measure m.
func (n Note) Duration(m *Measure) rhythm.Duration {
	if n.WholeMeasure {
		return m.Length
	}
	return n.Value.Duration()
}
