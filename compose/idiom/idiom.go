// Package idiom holds what was learned from real tunes of one kind: the forms that they
// have, the rhythms of their measures and the weights of their lines. It holds no tune, and
// makes none: package compose draws from it. All of it is in scale steps from the tonic and
// in ticks, so it is the same in every key.
package idiom

// Quarter is the number of ticks in a quarter note: enough for sixteenths and triplets.
const Quarter = 24

// A Place is where a note begins, in ticks after the barline of its measure, and how long
// it lasts. In a pickup the onset is negative: ticks before the first barline.
type Place struct{ Onset, Ticks int }

// A Rhythm is the notes that begin in one measure, in order. The last may last beyond the
// barline; what lies between notes is silence. An empty rhythm is a silent measure.
type Rhythm []Place

// A Kind says how a measure relates to an earlier one that has the same onsets.
type Kind uint8

// The kinds of relation, the closest first.
const (
	Same     Kind = iota // the same notes
	Sequence             // all notes moved by the same number of steps
	Head                 // the same first notes, at least half of them
	Contour              // the same directions
	Beat                 // the same rhythm alone
	New                  // none of these
)

// A Relation says how a measure takes up an earlier one.
type Relation struct {
	Kind   Kind
	Source int // the earlier measure, from 0
	Value  int // steps moved for Sequence, notes kept for Head
}

// A Numeral is a chord on a degree of the scale.
type Numeral uint8

// The chords that measures are heard in.
const (
	I Numeral = iota
	V
	IV
	II
	VI
)

// None is the degree that is not settled.
const None = -1

// A Measure is one measure of a form.
type Measure struct {
	Relation
	Chord  Numeral
	Under  int  // steps that its highest note lies below the form's highest
	End    int  // the degree of its last note, 0 the tonic, where a phrase ends; else None
	Silent bool // no note begins in it
}

// A Form is the plan of a real strain: which measure answers which and how, its chords,
// where its phrases end, its pickup and its rests, as they occurred together.
type Form struct {
	Minor    bool
	Class    int // of its rhythms, an index into what the rhythms were learned by
	Measures []Measure
	Pickup   []Place
	First    int // the degree of the first note after the pickup, or None
	Weight   int // how often it is taken beside the others, 1 or more
	Low      int // the compass, in steps from the tonic, lowest and highest
	High     int
}

// Closes reports whether the form ends on the tonic over the tonic chord.
func (f *Form) Closes() bool {
	for i := len(f.Measures) - 1; i >= 0; i-- {
		if m := &f.Measures[i]; m.End != None {
			return m.End == 0 && m.Chord == I
		}
	}
	return false
}

// PeaksLate reports whether the highest note is first reached from the end of the first half
// on, ahead of the last two measures.
func (f *Form) PeaksLate() bool {
	at, n := None, len(f.Measures)
	for i := range f.Measures {
		if m := &f.Measures[i]; !m.Silent && (at == None || m.Under < f.Measures[at].Under) {
			at = i
		}
	}
	return at >= n/2-1 && at < n-2
}

// Copies reports whether most of the second half is the first half's notes again.
func (f *Form) Copies() bool {
	n, same := len(f.Measures), 0
	for _, m := range f.Measures[n/2:] {
		if m.Kind == Same {
			same++
		}
	}
	return 8*same >= 5*(n-n/2)
}

// Answers reports whether measures 3 to 6 take up one of the first two.
func (f *Form) Answers() bool {
	for i := 2; i < min(6, len(f.Measures)); i++ {
		if m := &f.Measures[i]; m.Kind != New && m.Source < 2 {
			return true
		}
	}
	return false
}

// The intervals that a Line knows are Span steps down to Span steps up: Intervals of them.
const (
	Span      = 8
	Intervals = 2*Span + 1
	Memory    = 5 // the last interval counts up to this size
)

// A Context is what the chance of the next interval depends on.
type Context struct {
	Step     int // of the note before, in steps from the tonic
	Last     int // the interval before it, -Memory to Memory
	Turn     int // the direction of the interval before that: -1, 0, 1
	Chord    Numeral
	Next     Numeral // of the measure after
	Onset    int     // of the note to come, in ticks after the barline
	Place    int     // of its measure in the phrase; see PlaceOf
	Measured int     // ticks a measure has
	Beat     int     // ticks a beat has
	Held     int     // of the note before, in ticks; 0 if it is not known
	Ticks    int     // of the note to come; 0 if it is not known
	Minor    bool
}

// PlaceOf reports the place of a measure among so many: 3 the last of all, 2 the last of a
// phrase of four, 1 the second of two, 0 the first of two.
func PlaceOf(measure, measures int) int {
	switch {
	case measure == measures-1:
		return 3
	case measure%4 == 3:
		return 2
	}
	return measure % 2
}
