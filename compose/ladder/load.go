package ladder

import (
	"math"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// What there is to take in, in hundredths of a figure: a known figure of three notes on
// the lowest level counts a hundred and six. The shares are the program's own; their order
// follows published findings: difficulty grows most with the number of sound events, then
// with tempo and length (2,146 band pupils, dissertation of 1988); minor costs more than
// major (Frontiers in Psychology 2022, 933106); what is known is read as one thing
// (Thompson 1987).
const (
	loadFigure     = 16 // each figure, a note by itself too
	loadNote       = 30 // each note: the sound events
	loadSpelled    = 16 // each note of an unknown figure more, which is read note by note
	loadLevel      = 2  // each level of the ladder that shape and cell stand on, on each note
	loadAccidental = 20
	loadGrace      = 20
	loadHigh       = 8 // a note in the top fifth of the instrument's range
	loadLeap       = 8 // a leap of more than a fourth
	loadCost       = 3 // a unit of what the instrument makes costly
	loadSignature  = 2 // each sharp or flat of the written signature, on each figure
	loadMinor      = 10
)

// strangeLevel is the level that a shape or cell outside the catalogue counts as.
const strangeLevel = 12

// Taken is one figure as there is to take in.
type Taken struct {
	Shape *figure.Shape // nil for one that the catalogue lacks
	Cell  *rhythm.Cell  // nil likewise
	Notes int           // 1 or more
	Known bool          // drilled; without a vocabulary, of a lower rung
	// Accidentals, Graces, High, Leaps count its notes with a printed accidental, its
	// grace notes, its notes near the top of the range, its notes reached by more than a
	// fourth; Cost is what the instrument makes of its intervals (theory.Instrument.Cost).
	Accidentals, Graces, High, Leaps, Cost int

	Signature int // sharps or flats of the written key, never negative
	Minor     bool
}

// Hundredths reports what the figure weighs, in hundredths of a figure.
func (t Taken) Hundredths() int {
	w := loadFigure + loadNote*t.Notes
	if !t.Known && t.Notes > 1 {
		w += loadSpelled * t.Notes
	}
	w += loadLevel*(t.levels()-2)*t.Notes + loadAccidental*t.Accidentals + loadGrace*t.Graces
	w += loadHigh*t.High + loadLeap*t.Leaps + loadCost*t.Cost + loadSignature*t.Signature
	if t.Minor {
		w += loadMinor
	}
	return w
}

// levels reports the levels of shape and cell together.
func (t Taken) levels() int {
	n := 0
	if t.Shape != nil {
		n += t.Shape.Level
	} else {
		n += strangeLevel
	}
	if t.Cell != nil {
		return n + t.Cell.Level
	}
	return n + strangeLevel
}

// At counts one note of the figure by where it lies on the instrument.
func (t *Taken) At(p theory.Pitch, in *theory.Instrument) {
	all := in.Ranges[theory.Advanced]
	low, high := all.Low.MIDI(), all.High.MIDI()
	if p.MIDI() >= high-(high-low)/5 {
		t.High++
	}
}

// Move counts the way to a note of the figure from the note before.
func (t *Taken) Move(from, to theory.Pitch, in *theory.Instrument) {
	if d := to.MIDI() - from.MIDI(); d > wide || d < -wide {
		t.Leaps++
	}
	t.Cost += in.Cost(from, to)
}

// wide is the widest interval, in semitones, that is no leap to look out for: a fourth.
const wide = 5

// lengthShare is how much of a doubling in length goes into difficulty.
const lengthShare = 0.08

// usualLength is the length, in measures, at which difficulty is the load itself.
const usualLength = 16

// Difficulty reports a whole read's difficulty as one figure: the mean load of its
// measures, figures a second, and for each doubling of its length beyond sixteen
// measures some 6 % more, as length counts least among what was found to matter.
// Of no measures it is 0.
func Difficulty(loads []float64, lengths []rhythm.Duration) float64 {
	return Mean(loads, lengths) * math.Pow(float64(len(loads))/usualLength, lengthShare)
}

// Mean reports the mean load of measures by how long they are; of none it is 0.
func Mean(loads []float64, lengths []rhythm.Duration) float64 {
	sum, time := 0.0, 0.0
	for i, l := range loads {
		sum += float64(l * float64(lengths[i]))
		time += float64(lengths[i])
	}
	return sum / max(time, 1)
}
