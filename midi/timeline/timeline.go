// Package timeline turns a score into timed events: what the file writer writes
// and the player plays are one list.
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
	Tracks []string // track names; Event.Track indexes them
	Events []Event  // sorted by At, then note-offs before others
	Tempos []Tempo  // sorted by At; the first is at 0
	Meters []MeterChange
	Keys   []KeyChange // concert keys
	Beats  []Beat      // every felt beat, the count-in's too
	// CountIn is the length of what sounds before the first measure: the tonic
	// chord and the counted measures.
	CountIn rhythm.Duration
	End     rhythm.Offset
}

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
	Number  int // the measure's printed number; in the count-in 1, 2
	Pass    int // 1 the first time through, 2 on the repeat
	Beat    int // 1 upward
	Of      int // beats in the measure
}

// Time reports when At comes, from the start of the take, exact to the
// nanosecond's rounding.
func (t *Timeline) Time(at rhythm.Offset) time.Duration {
	var micros, last int64 // micros is in microseconds times ticks
	tempo := int64(500_000)
	for _, c := range t.Tempos {
		if c.At >= at {
			break
		}
		micros += (int64(c.At) - last) * tempo
		last, tempo = int64(c.At), int64(c.MicrosPerQuarter)
	}
	micros += (int64(at) - last) * tempo
	return time.Duration(micros) * time.Microsecond / time.Duration(rhythm.TicksPerQuarter)
}
