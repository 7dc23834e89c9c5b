package timeline

import (
	"fmt"
	"time"

	"onward/rhythm"
)

// Check proves that the take can be written and played, and reports the first fault
// with its place: events in the order of Merge, values in range, every note ended,
// no key struck on a channel where it still sounds, nothing after End, the maps
// sorted with the first tempo at 0.
func (t *Timeline) Check() error {
	if t.End < 0 || t.End > MaxEnd || t.CountIn < 0 || rhythm.Offset(t.CountIn) > t.End {
		return fmt.Errorf("take: count-in of %d and end at %d ticks; the end lies behind the count-in and at most at %d", t.CountIn, t.End, MaxEnd)
	}
	if err := t.checkMaps(); err != nil {
		return err
	}
	if err := t.checkBeats(); err != nil {
		return err
	}
	return t.checkEvents()
}

func (t *Timeline) checkMaps() error {
	if len(t.Tempos) == 0 || t.Tempos[0].At != 0 {
		return fmt.Errorf("tempo map: no tempo at 0; a take needs one from its start")
	}
	for i, c := range t.Tempos {
		if c.MicrosPerQuarter < 1 || c.MicrosPerQuarter > MaxMicrosPerQuarter {
			return fmt.Errorf("tempo %d, at %s: %d microseconds to the quarter, not 1 to %d", i+1, quarters(c.At), c.MicrosPerQuarter, MaxMicrosPerQuarter)
		}
	}
	for i, c := range t.Meters {
		if !playable(c.Meter) {
			return fmt.Errorf("meter %d, at %s: %d/%d cannot be played", i+1, quarters(c.At), c.Meter.Beats, c.Meter.Unit)
		}
	}
	for i, c := range t.Keys {
		if c.Key.Fifths < -7 || c.Key.Fifths > 7 {
			return fmt.Errorf("key %d, at %s: %d accidentals, more than seven", i+1, quarters(c.At), c.Key.Fifths)
		}
	}
	return firstError(
		t.checkOrder("tempo", len(t.Tempos), false, func(i int) rhythm.Offset { return t.Tempos[i].At }),
		t.checkOrder("meter", len(t.Meters), false, func(i int) rhythm.Offset { return t.Meters[i].At }),
		t.checkOrder("key", len(t.Keys), false, func(i int) rhythm.Offset { return t.Keys[i].At }),
		t.checkOrder("beat", len(t.Beats), false, func(i int) rhythm.Offset { return t.Beats[i].At }),
		t.checkOrder("marker", len(t.Markers), true, func(i int) rhythm.Offset { return t.Markers[i].At }),
	)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// checkOrder proves that the places of a map lie in the take, each after the one
// before, or with it where that is allowed.
func (t *Timeline) checkOrder(what string, n int, together bool, at func(int) rhythm.Offset) error {
	for i := range n {
		if at(i) < 0 || at(i) > t.End {
			return fmt.Errorf("%s %d, at %s: outside the take, which ends at %s", what, i+1, quarters(at(i)), quarters(t.End))
		}
		if i > 0 && (at(i) < at(i-1) || at(i) == at(i-1) && !together) {
			return fmt.Errorf("%s %d, at %s: does not come after the one before, at %s", what, i+1, quarters(at(i)), quarters(at(i-1)))
		}
	}
	return nil
}

func (t *Timeline) checkBeats() error {
	for i, b := range t.Beats {
		if b.Beat < 1 || b.Beat > b.Of || b.Measure < -1 || b.Pass < 1 {
			return fmt.Errorf("beat %d, at %s: beat %d of %d, pass %d", i+1, quarters(b.At), b.Beat, b.Of, b.Pass)
		}
		if counted := b.At < rhythm.Offset(t.CountIn); counted != (b.Measure == -1) {
			return fmt.Errorf("beat %d, at %s: measure index %d; it is -1 in the count-in alone", i+1, quarters(b.At), b.Measure)
		}
	}
	return nil
}

func (t *Timeline) checkEvents() error {
	type sounding struct{ channel, key uint8 }
	open := map[sounding]Event{}
	for i, e := range t.Events {
		if err := t.checkEvent(e); err != nil {
			return fmt.Errorf("event %d, %s: %w", i+1, e, err)
		}
		if i > 0 && inOrder(t.Events[i-1], e) > 0 {
			return fmt.Errorf("event %d, %s: comes too late in the list, after %s", i+1, e, t.Events[i-1])
		}
		k := sounding{e.Channel, e.A}
		on, sounds := open[k]
		switch {
		case e.Kind == NoteOn && sounds:
			return fmt.Errorf("event %d, %s: the key still sounds, struck by %s", i+1, e, on)
		case e.Kind == NoteOn:
			open[k] = e
		case e.Kind == NoteOff && !sounds:
			return fmt.Errorf("event %d, %s: the key does not sound", i+1, e)
		case e.Kind == NoteOff:
			delete(open, k)
		}
	}
	for i, e := range t.Events {
		if on, sounds := open[sounding{e.Channel, e.A}]; e.Kind == NoteOn && sounds && on == e {
			return fmt.Errorf("event %d, %s: the note never ends", i+1, e)
		}
	}
	return nil
}

func (t *Timeline) checkEvent(e Event) error {
	switch {
	case e.At < 0 || e.At > t.End:
		return fmt.Errorf("outside the take, which ends at %s", quarters(t.End))
	case int(e.Track) >= len(t.Tracks):
		return fmt.Errorf("track %d; there are %d", e.Track, len(t.Tracks))
	case e.Channel > 15:
		return fmt.Errorf("channel %d is not 0 to 15", e.Channel)
	case e.Kind > Program:
		return fmt.Errorf("kind %d is unknown", e.Kind)
	case e.A > 127 || e.B > 127:
		return fmt.Errorf("values %d and %d are not both 0 to 127", e.A, e.B)
	case e.Kind == NoteOn && e.B == 0:
		return fmt.Errorf("a note-on of velocity 0 is a note-off to MIDI; write it as one")
	}
	return nil
}

// Duration reports how long the take lasts.
func (t *Timeline) Duration() time.Duration { return t.Time(t.End) }
