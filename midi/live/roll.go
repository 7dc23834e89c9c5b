package live

import (
	"fmt"
	"time"

	"onward/midi/timeline"
)

// A Roll is a take prepared for playing, as holes are punched in a piano roll: MIDI
// messages at absolute times, each note-off tied to its note-on.
type Roll struct {
	Events []Event
	Beats  []Beat
	End    time.Duration // from the start of the take
}

// An Event is one MIDI channel message, At after the start of the take.
type Event struct {
	At  time.Duration
	Msg [3]byte // the last byte is unused in a program change
	// Mate is, in a note-on, the index of the event that ends the note; in a
	// note-off, the index of the note-on; -1 in others.
	Mate int32
}

// The status nibbles of the messages that a Roll holds (MIDI 1.0).
const (
	noteOff    = 0x80
	noteOn     = 0x90
	controller = 0xB0
	program    = 0xC0
)

// Bytes reports the message as it goes over the wire; it shares e's memory.
func (e *Event) Bytes() []byte { return e.Msg[:size(e.Msg[0])] }

// size reports the length in bytes of a message with this status byte.
func size(status byte) int {
	if status&0xF0 == program {
		return 2
	}
	return 3
}

// A Beat is where one felt beat falls, At after the start of the take; the other
// fields are those of timeline.Beat.
type Beat struct {
	At      time.Duration
	Measure int // index into the part's measures as written; -1 in the count-in
	Number  int // the measure's printed number; in the count-in 1, 2
	Pass    int // 1 the first time through, 2 on the repeat
	Beat    int // 1 upward
	Of      int // beats in the measure
}

// Prepare computes every deadline of t before the take, so that none is computed
// during it. It refuses events out of order or out of MIDI's range, and a note-on
// or note-off without its mate.
func Prepare(t *timeline.Timeline) (*Roll, error) {
	r := &Roll{Events: make([]Event, 0, len(t.Events)), Beats: make([]Beat, 0, len(t.Beats)), End: t.Time(t.End)}
	for i, e := range t.Events {
		msg, err := message(e)
		if err != nil {
			return nil, fmt.Errorf("take, event %d of %d: %w", i, len(t.Events), err)
		}
		r.Events = append(r.Events, Event{At: t.Time(e.At), Msg: msg, Mate: -1})
	}
	for _, b := range t.Beats {
		r.Beats = append(r.Beats, Beat{t.Time(b.At), b.Measure, b.Number, b.Pass, b.Beat, b.Of})
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	return r, nil
}

// message reports e's three bytes.
func message(e timeline.Event) ([3]byte, error) {
	if e.Channel > 15 || e.A > 127 || e.B > 127 {
		return [3]byte{}, fmt.Errorf("channel %d, values %d and %d: MIDI has channels 0 to 15 and values 0 to 127", e.Channel, e.A, e.B)
	}
	switch e.Kind {
	case timeline.NoteOff:
		return [3]byte{noteOff | e.Channel, e.A, 64}, nil // MIDI 1.0: 64 where release is not sensed
	case timeline.NoteOn:
		if e.B == 0 {
			return [3]byte{}, fmt.Errorf("note-on of key %d with velocity 0, which would be a note-off", e.A)
		}
		return [3]byte{noteOn | e.Channel, e.A, e.B}, nil
	case timeline.Controller:
		return [3]byte{controller | e.Channel, e.A, e.B}, nil
	case timeline.Program:
		return [3]byte{program | e.Channel, e.A, 0}, nil
	}
	return [3]byte{}, fmt.Errorf("kind %d is unknown", e.Kind)
}

// check ties note-offs to note-ons, first in first out on each key, and reports
// the first fault of order or pairing.
func (r *Roll) check() error {
	var open [16][128][]int32
	last := time.Duration(0)
	for i := range r.Events {
		e := &r.Events[i]
		if e.At < last {
			return fmt.Errorf("take, event %d of %d: at %v, before the one ahead of it at %v", i, len(r.Events), e.At, last)
		}
		last = e.At
		keys := &open[e.Msg[0]&15][e.Msg[1]]
		switch e.Msg[0] & 0xF0 {
		case noteOn:
			*keys = append(*keys, int32(i))
		case noteOff:
			if len(*keys) == 0 {
				return fmt.Errorf("take, event %d of %d: note-off of key %d on channel %d, which does not sound", i, len(r.Events), e.Msg[1], e.Msg[0]&15)
			}
			e.Mate = (*keys)[0]
			r.Events[e.Mate].Mate = int32(i)
			*keys = (*keys)[1:]
		}
	}
	for i, e := range r.Events {
		if e.Msg[0]&0xF0 == noteOn && e.Mate < 0 {
			return fmt.Errorf("take, event %d of %d: key %d on channel %d is never let go", i, len(r.Events), e.Msg[1], e.Msg[0]&15)
		}
	}
	r.End = max(r.End, last)
	return r.checkBeats()
}

// checkBeats reports the first beat out of order.
func (r *Roll) checkBeats() error {
	last := time.Duration(0)
	for i, b := range r.Beats {
		if b.At < last {
			return fmt.Errorf("take, beat %d of %d: at %v, before the one ahead of it at %v", i, len(r.Beats), b.At, last)
		}
		last = b.At
	}
	r.End = max(r.End, last)
	return nil
}

// channels reports the channels that the roll uses, one bit each.
func (r *Roll) channels() (used uint16) {
	for i := range r.Events {
		used |= 1 << (r.Events[i].Msg[0] & 15)
	}
	return used
}
