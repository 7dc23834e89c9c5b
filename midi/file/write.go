// Package file reads and writes Standard MIDI Files (Standard MIDI Files 1.0, from
// memory): the band on paper, the same events that the player plays.
package file

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math/bits"
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"

	"gitlab.com/gomidi/midi/v2/smf"
)

// The meta events in use, by their numbers (Standard MIDI Files 1.0).
const (
	metaText       = 0x01
	metaTrackName  = 0x03
	metaMarker     = 0x06
	metaEndOfTrack = 0x2F
	metaTempo      = 0x51
	metaMeter      = 0x58
	metaKey        = 0x59
)

// maxDelta is the longest time between two events that a file can hold, in ticks:
// four bytes of seven bits.
const maxDelta = 1<<28 - 1

// releaseVelocity is what a note-off bears where the release is not measured (MIDI
// 1.0).
const releaseVelocity = 64

// Write writes the take as a Standard MIDI File of type 1 with 10,080 ticks to the
// quarter: first a track of title, identity (a text event, "" for none), tempos,
// meters, keys and markers, then the take's tracks by name. The same take gives the
// same bytes. A take that fails Timeline.Check is refused, and nothing is written.
func Write(w io.Writer, t *timeline.Timeline, title, identity string) error {
	if err := t.Check(); err != nil {
		return fmt.Errorf("midi file %q: %w", title, err)
	}
	song := smf.NewSMF1()
	song.TimeFormat = smf.MetricTicks(rhythm.TicksPerQuarter)
	song.NoRunningStatus = true // a few bytes more, and every reader reads it
	song.Tracks = append(song.Tracks, conductor(t, title, identity).track(t.End))
	for i, name := range t.Tracks {
		song.Tracks = append(song.Tracks, player(t, i, name).track(t.End))
	}
	var b bytes.Buffer // smf keeps a failing writer's error to itself
	if _, err := song.WriteTo(&b); err != nil {
		return fmt.Errorf("midi file %q: %w", title, err)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("midi file %q: %w", title, err)
	}
	return nil
}

// A message is one event of a track at its place.
type message struct {
	at    rhythm.Offset
	bytes []byte
}

type messages []message

func (m *messages) add(at rhythm.Offset, bytes ...byte) { *m = append(*m, message{at, bytes}) }

func (m *messages) meta(at rhythm.Offset, kind byte, data ...byte) {
	m.add(at, slices.Concat([]byte{0xFF, kind}, length(len(data)), data)...)
}

// length is a number as the file writes lengths: seven bits to a byte, the first
// bit set in all but the last.
func length(n int) []byte {
	b := []byte{byte(n & 0x7F)}
	for n >>= 7; n > 0; n >>= 7 {
		b = append([]byte{byte(n&0x7F) | 0x80}, b...)
	}
	return b
}

// track turns the places into the distances that a file holds.
func (m messages) track(end rhythm.Offset) smf.Track {
	var t smf.Track
	var last rhythm.Offset
	distance := func(at rhythm.Offset) uint32 {
		for ; at-last > maxDelta; last += maxDelta {
			t.Add(maxDelta, []byte{0xFF, metaText, 0}) // an empty text bridges a long silence
		}
		d := uint32(at - last)
		last = at
		return d
	}
	for _, e := range m {
		t.Add(distance(e.at), e.bytes)
	}
	t.Close(distance(end))
	return t
}

// conductor is the first track: what holds for all the others.
func conductor(t *timeline.Timeline, title, identity string) messages {
	var m messages
	m.meta(0, metaTrackName, []byte(title)...)
	if identity != "" {
		m.meta(0, metaText, []byte(identity)...)
	}
	for _, c := range t.Meters {
		m.meta(c.At, metaMeter, meterBytes(c.Meter)...)
	}
	for _, c := range t.Keys {
		mode := byte(0)
		if c.Key.Mode == theory.Minor {
			mode = 1
		}
		m.meta(c.At, metaKey, byte(int8(c.Key.Fifths)), mode)
	}
	for _, c := range t.Tempos {
		micros := c.MicrosPerQuarter
		m.meta(c.At, metaTempo, byte(micros>>16), byte(micros>>8), byte(micros))
	}
	for _, c := range t.Markers {
		m.meta(c.At, metaMarker, []byte(c.Text)...)
	}
	slices.SortStableFunc(m, func(a, b message) int { return cmp.Compare(a.at, b.at) })
	return m
}

// meterBytes is the meter as the file writes it: the upper figure, the lower as a
// power of two, MIDI clocks to the felt beat at 24 to the quarter, and the
// thirty-seconds to a quarter.
func meterBytes(m rhythm.Meter) []byte {
	clocks := m.Beat() * 24 / rhythm.Quarter
	return []byte{byte(m.Beats), byte(bits.Len(uint(m.Unit)) - 1), byte(clocks), 8}
}

// player is one track of the take.
func player(t *timeline.Timeline, index int, name string) messages {
	var m messages
	m.meta(0, metaTrackName, []byte(name)...)
	for _, e := range t.Events {
		if int(e.Track) != index {
			continue
		}
		switch e.Kind {
		case timeline.NoteOff:
			m.add(e.At, 0x80|e.Channel, e.A, releaseVelocity)
		case timeline.NoteOn:
			m.add(e.At, 0x90|e.Channel, e.A, e.B)
		case timeline.Controller:
			m.add(e.At, 0xB0|e.Channel, e.A, e.B)
		case timeline.Program:
			m.add(e.At, 0xC0|e.Channel, e.A)
		}
	}
	return m
}
