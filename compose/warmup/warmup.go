// Package warmup makes a player's warm-up for a day: scales, arpeggios, intervals, the way
// through twelve keys and the player's own figures, in patterns that are best played from
// the head, none of them as on the days before.
//
// A pattern (pattern.go, chords.go, cycle.go, sequence.go) is a stream of pitches; laid on
// a rhythm, with places to breathe, it becomes measures (lay.go); a day takes one pattern
// of each group in turn, the first of all candidates (candidate.go) that is new, and fills
// its minutes (day.go). The patterns are common practice.
package warmup

import (
	"encoding/binary"
	"time"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// Version changes with any change that makes another warm-up of the same request.
const Version = 1

// The bounds of a warm-up's length, in minutes. Longer ones are better cut in two.
const (
	MinMinutes = 5
	MaxMinutes = 30
)

// A Request is all that a warm-up hangs on: the same request makes the same warm-up.
type Request struct {
	Instrument theory.Instrument
	Rung       int            // 1 to 12: which rhythms and articulations may be used, and how fast
	Bracket    theory.Bracket // how far the range goes
	// Keys are the concert keys of the player's level, the easiest first. The day's key is
	// the next in turn of those in which the range holds an octave.
	Keys    []theory.Key
	Key     *theory.Key // the concert key asked for; nil for the next in turn
	Minutes int         // MinMinutes to MaxMinutes, rests counted
	// Figures are those to drill, the weakest first.
	Figures []figure.Figure
	Turn    int // how many days came before; from 0
	Seed    uint64
	// Avoid are the hashes of lines (Line.Hash) that are not to come again.
	Avoid []uint64
}

// A RequestError is a request that cannot be met, by the player's choice.
type RequestError struct{ Fault, Mend string }

// Error says what is wrong and what to do.
func (e *RequestError) Error() string { return e.Fault + ": " + e.Mend }

// A Family is a kind of pattern.
type Family string

// The families.
const (
	Octave           Family = "octave"
	Extended         Family = "extended scale"
	Growing          Family = "both ends growing"
	ArpeggioOctave   Family = "arpeggio"
	ArpeggioExtended Family = "extended arpeggio"
	ArpeggioGrowing  Family = "arpeggio growing"
	Thirds           Family = "thirds"
	Intervals        Family = "intervals and scale"
	Neighbours       Family = "chromatic neighbours"
	Tonguing         Family = "tonguing"
	Cycle            Family = "twelve keys"
	Figure           Family = "figure"
)

// A Day is the warm-up of one day.
type Day struct {
	Request
	Concert, Written theory.Key
	Range            theory.Range // written
	Exercises        []Exercise
	// Returned counts the lines that are among those to avoid: there was nothing else.
	Returned int
}

// An Exercise is one pattern in a few lines, played some times through with a rest after
// each time.
type Exercise struct {
	Family Family
	Title  string // what to play, in words: "Scale to the ninth, tenth and eleventh, and back"
	Figure *figure.Figure
	Key    theory.Key // written, of the first line
	Meter  rhythm.Meter
	Rhythm string // in words: "eighths"
	Tongue string // the articulation in words: "slur two, tongue two"
	Tempo  int    // felt beats a minute
	Times  int
	Lines  []Line

	stops int // measures that were put in to breathe
}

// A Line is one system of the page.
type Line struct {
	Key   theory.Key // written
	Words string     // what is its own: "to the ninth"; "" for nothing
	// Measures hold notes and nothing else. All are as long as the meter's.
	Measures []score.Measure
}

// Hash is the same for lines of the same written notes, rhythm and articulation, whatever
// their tempo, and for no others that a player will meet.
func (l *Line) Hash() uint64 {
	h := newHash()
	var b []byte
	for i := range l.Measures {
		for _, n := range l.Measures[i].Notes {
			b = binary.BigEndian.AppendUint32(b[:0], uint32(n.Value.Duration()))
			for _, x := range []int{n.Pitch.Step(), n.Pitch.Alter, bit(n.Rest), bit(n.SlurStart), bit(n.SlurStop), bit(n.Staccato), bit(n.Tenuto)} {
				b = append(b, byte(x))
			}
			h.Write(b)
		}
		h.Write([]byte("|"))
	}
	return h.Sum64()
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Count reports how many measures one time through has.
func (e *Exercise) Count() int {
	n := 0
	for _, l := range e.Lines {
		n += len(l.Measures)
	}
	return n
}

// Measure reports how long one measure lasts.
func (e *Exercise) Measure() time.Duration {
	return time.Duration(e.Meter.Count()) * time.Minute / time.Duration(e.Tempo)
}

// Through reports how long one time through lasts.
func (e *Exercise) Through() time.Duration { return time.Duration(e.Count()) * e.Measure() }

// Playing reports how long the player plays on the whole.
func (d *Day) Playing() time.Duration {
	var sum time.Duration
	for i := range d.Exercises {
		sum += time.Duration(d.Exercises[i].Times) * d.Exercises[i].Through()
	}
	return sum
}

// Total reports how long the warm-up lasts: after each time through a rest as long, but
// for the last, and a measure that is counted ahead of the first. The last measure of each
// rest is counted at the tempo of what follows.
func (d *Day) Total() time.Duration {
	var sum time.Duration
	for i := range d.Exercises {
		e := &d.Exercises[i]
		sum += time.Duration(2*e.Times) * e.Through()
		if i+1 < len(d.Exercises) {
			sum += d.Exercises[i+1].Measure() - e.Measure()
		}
	}
	last := &d.Exercises[len(d.Exercises)-1]
	return sum - last.Through() + d.Exercises[0].Measure()
}
