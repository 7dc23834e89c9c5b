// Package tune holds a melody as it is learned from and judged: without its key, in scale
// steps from the tonic, and in the ticks of package idiom. It cuts real melodies into
// strains of a whole number of measures, and says what their measures are: which answers
// which, in what chord, where phrases end.
package tune

// A Note is one note of a tune.
type Note struct {
	Onset int // ticks after the first downbeat; negative in a pickup
	Ticks int // how long it lasts
	Step  int // scale steps above a tonic
	Alter int // semitones off the scale: major, or natural minor
}

// A Tune is a melody of a whole number of measures of one meter.
type Tune struct {
	Name     string // of the piece that it is from
	Kind     string // "march", "song", "vocalise", "dance"
	Beats    int    // the meter: 6/8 is 6 and 8
	Unit     int
	Measures int
	Minor    bool
	Notes    []Note
}
