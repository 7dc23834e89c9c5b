package timeline

import (
	"fmt"

	"onward/rhythm"
	"onward/theory"
)

// A CountIn is what sounds before the first measure. The zero CountIn is none.
type CountIn struct {
	// Chord gives the tonic chord first, one measure long.
	Chord bool
	// Measures is how many measures are counted, 0 to 8, or ByMeter. Where the piece
	// begins with a pickup the count ends where the pickup enters.
	Measures int
}

// ByMeter as a number of measures lets meter and tempo say how many are counted: one
// where a measure has four felt beats or more and lasts three seconds or longer, else
// two (one measure of a slow meter and two of a quick one are common practice; the
// bounds are our own).
const ByMeter = -1

// A measure that is counted once only has at least so many beats and lasts so long.
const (
	longBeats         = 4
	longMicros  int64 = 3_000_000
	mostCounted       = 8
)

// FullCountIn is the tonic chord and two measures counted.
func FullCountIn() CountIn { return CountIn{Chord: true, Measures: 2} }

// settled reports the count-in with its measures as a number, ahead of first.
func (c CountIn) settled(first PlayedMeasure) (CountIn, error) {
	if c.Measures < ByMeter || c.Measures > mostCounted {
		return c, fmt.Errorf("count-in of %d measures: count 0 to %d", c.Measures, mostCounted)
	}
	if c.Measures == ByMeter {
		c.Measures = 2
		micros := int64(first.Meter.Measure()) * int64(first.MicrosPerQuarter) / int64(rhythm.Quarter)
		if first.Meter.Count() >= longBeats && micros >= longMicros {
			c.Measures = 1
		}
	}
	return c, nil
}

// The keys and channel of the clicks: General MIDI percussion, high and low wood
// block on channel 10, which is 9 counted from 0 (General MIDI 1, from memory).
const (
	ClickAccent  = 76
	Click        = 77
	DrumsChannel = 9
)

// How loud the count-in is, as velocities, of a piece that starts on loudStart (mf) or
// louder. The chord is mezzo piano.
const (
	clickAccentVelocity = 112
	clickVelocity       = 80
	chordVelocity       = 64
	loudStart           = mezzoForte
)

// length reports how long the count-in lasts before a piece that begins with first.
func (c CountIn) length(first PlayedMeasure) rhythm.Duration {
	d := rhythm.Duration(c.Measures) * first.Meter.Measure()
	if c.Measures > 0 && first.Lead > 0 {
		d -= first.Length
	}
	return d + c.chordLength(first)
}

func (c CountIn) chordLength(first PlayedMeasure) rhythm.Duration {
	if !c.Chord {
		return 0
	}
	return first.Meter.Measure()
}

// countInBeats reports the felt beats before the first measure: the chord's
// measure has number 0, the counted measures 1 and up.
func (l *Layout) countInBeats() []Beat {
	var beats []Beat
	meter := l.Measures[0].Meter
	number := 1
	if l.CountIn.Chord {
		number = 0
	}
	for at := rhythm.Offset(0); at < l.Start; at = at.Add(meter.Measure()) {
		for i := range meter.Count() {
			if b := at.Add(rhythm.Duration(i) * meter.Beat()); b < l.Start {
				beats = append(beats, Beat{At: b, Measure: -1, Number: number, Pass: 1, Beat: i + 1, Of: meter.Count()})
			}
		}
		number++
	}
	return beats
}

// Clicks reports the clicks of the counted measures, one to the felt beat, the
// downbeat accented; for a voice on DrumsChannel.
func (l *Layout) Clicks() []Tone {
	var clicks []Tone
	for _, b := range l.countInBeats() {
		if b.Number == 0 {
			continue
		}
		click := Tone{At: b.At, Hold: rhythm.Sixteenth, Key: Click, Velocity: l.announced(clickVelocity)}
		if b.Beat == 1 {
			click.Key, click.Velocity = ClickAccent, l.announced(clickAccentVelocity)
		}
		click.Hold = min(click.Hold, l.Start.Since(b.At))
		clicks = append(clicks, click)
	}
	return clicks
}

// announced scales a velocity of the count-in to the level that the piece starts on, so
// that a soft song is not announced loud; from mf on it is as it is.
func (l *Layout) announced(velocity int) uint8 {
	return uint8(min(velocity, velocity*int(l.Level(l.Start))/loudStart))
}

// TonicChord reports the tonic chord of the opening concert key: root in the bass,
// E2 to D-sharp3, and the triad above it, held for three quarters of the measure.
// Without a chord in the count-in it is empty.
func (l *Layout) TonicChord() []Tone {
	first := l.Measures[0]
	third := theory.MajorThird
	if first.Key.Mode == theory.Minor {
		third = theory.MinorThird
	}
	const lowest = 40 // E2
	root := lowest + (first.Key.Tonic().Chroma()-lowest%12+12)%12
	var chord []Tone
	for _, above := range []int{0, 12, 12 + third.Semitones, 12 + theory.Fifth.Semitones} {
		if l.CountIn.Chord {
			chord = append(chord, Tone{At: 0, Hold: first.Meter.Measure() * 3 / 4, Key: uint8(root + above), Velocity: l.announced(chordVelocity)})
		}
	}
	return chord
}
