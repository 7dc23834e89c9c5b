// Package timeline turns a score into timed events: what the file writer writes
// and the player plays are one list.
//
// LayOut unfolds a part's repeats and places every played measure behind the
// count-in. From the Layout come the maps of a Timeline (tempos, meters, keys,
// beats, markers), the part's own notes as they sound (Melody), the count-in
// (TonicChord, Clicks) and the dynamic level at any point (Level). A Voice turns
// tones into events, Merge joins the events of all voices, and Check proves the
// result.
package timeline

import (
	"time"

	"onward/rhythm"
	"onward/theory"
)

// A Timeline is a whole take: the events of all tracks in order of time, the tempo
// map, and where the measures and beats fall. Offset 0 is the start of the take,
// before the count-in.
type Timeline struct {
	Tracks  []string // track names; Event.Track indexes them
	Events  []Event  // in the order that Merge makes
	Tempos  []Tempo  // sorted by At; the first is at 0
	Meters  []MeterChange
	Keys    []KeyChange // concert keys
	Beats   []Beat      // every felt beat, the count-in's too
	Markers []Marker    // sorted by At
	// CountIn is the length of what sounds before the first measure: the tonic
	// chord and the counted measures.
	CountIn rhythm.Duration
	End     rhythm.Offset // of the last measure; no event lies after it
}

// MaxEnd is the latest end of a take, about 27 million quarters: up to it no time
// overflows at any tempo. At a quarter = 120 it is more than nine days.
const MaxEnd rhythm.Offset = 1 << 38

// MaxMicrosPerQuarter is the slowest tempo, about 3.6 quarters a minute: what the
// three bytes of the tempo event hold (Standard MIDI Files 1.0).
const MaxMicrosPerQuarter = 1<<24 - 1

// A Kind is what an Event does.
type Kind uint8

// The kinds of event.
const (
	NoteOff    Kind = iota // A key 0-127
	NoteOn                 // A key 0-127, B velocity 1-127
	Controller             // A controller, B value 0-127
	Program                // A program 0-127
)

// An Event is one MIDI channel message at its time.
type Event struct {
	At      rhythm.Offset
	Track   uint8
	Channel uint8 // 0 to 15; 9 is percussion
	Kind    Kind
	A, B    uint8
}

// A Tempo is a change of tempo: microseconds to the quarter from At on.
type Tempo struct {
	At               rhythm.Offset
	MicrosPerQuarter int
}

// A MeterChange is a new meter from At on.
type MeterChange struct {
	At    rhythm.Offset
	Meter rhythm.Meter
}

// A KeyChange is a new concert key from At on.
type KeyChange struct {
	At  rhythm.Offset
	Key theory.Key
}

// A Beat is where one felt beat falls. In the count-in Measure is -1.
type Beat struct {
	At      rhythm.Offset
	Measure int // index into the part's measures as written
	Number  int // the measure's printed number; in the count-in 1, 2, under the tonic chord 0
	Pass    int // 1 the first time through, 2 on the repeat
	Beat    int // 1 upward
	Of      int // beats in the measure
}

// A Marker names a place of the take: MarkCountIn, MarkStart or a rehearsal letter.
type Marker struct {
	At   rhythm.Offset
	Text string
}

// The markers of a take with a count-in: where it begins, and where the piece does.
const (
	MarkCountIn = "Count-in"
	MarkStart   = "Start"
)

// defaultMicros is the tempo until a tempo is given, a quarter = 120 (Standard MIDI
// Files 1.0).
const defaultMicros = 500_000

// Time reports when at comes, from the start of the take, rounded down to the
// nanosecond. At lies between 0 and MaxEnd.
func (t *Timeline) Time(at rhythm.Offset) time.Duration {
	var sum, last int64 // sum is in microseconds times ticks
	tempo := int64(defaultMicros)
	for _, c := range t.Tempos {
		if c.At >= at {
			break
		}
		sum += (int64(c.At) - last) * tempo
		last, tempo = int64(c.At), int64(c.MicrosPerQuarter)
	}
	sum += (int64(at) - last) * tempo
	// Whole microseconds apart from the rest: sum in nanoseconds would overflow
	// after some hundred hours.
	const quarter = int64(rhythm.TicksPerQuarter)
	whole, rest := sum/quarter, sum%quarter
	return time.Duration(whole)*time.Microsecond + time.Duration(rest*1000/quarter)
}

// At reports where the take stands after d: the last offset whose Time is not after
// d, so that At(Time(o)) is o wherever a tick lasts a nanosecond or more. It is 0
// before the start and at most MaxEnd.
func (t *Timeline) At(d time.Duration) rhythm.Offset {
	if d < 0 {
		return 0
	}
	low, high := rhythm.Offset(0), MaxEnd+1 // Time(low) <= d; high is beyond
	for high-low > 1 {
		mid := low + (high-low)/2
		if t.Time(mid) <= d {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}
