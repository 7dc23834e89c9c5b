package file

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// What a file may hold at most.
const (
	MaxSize   = 16 << 20 // bytes
	MaxTracks = 256      // a track's number is one byte in an Event
	MaxText   = 4096     // bytes of a track's name or a marker; a longer one is cut
)

// Read reads a Standard MIDI File of type 0 or 1 as a take. Its ticks become ours,
// rounded down where its division does not divide 10,080. Of the channel messages
// notes, controllers and programs are kept; notes that the file leaves open end with
// it, and an end without note is dropped. A first track of type 1 that plays nothing
// gives the maps and is not among Tracks. The count-in is known by the markers that
// Write leaves. A file does not say where felt beats and written measures fall, so
// Beats is empty. Names and markers are cut at MaxText.
//
// An error says at which byte of the file, counted from 0, what is wrong. The reader
// is our own: the one of the MIDI library in use panics on stray bytes and believes
// every length.
func Read(r io.Reader) (*timeline.Timeline, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxSize+1))
	if err != nil {
		return nil, fmt.Errorf("midi file: %w", err)
	}
	if len(data) > MaxSize {
		return nil, fmt.Errorf("midi file: larger than %d MB", MaxSize>>20)
	}
	t, err := read(data)
	if err != nil {
		return nil, fmt.Errorf("midi file: %w", err)
	}
	return t, nil
}

func read(data []byte) (*timeline.Timeline, error) {
	h, rest, err := readHeader(data)
	if err != nil {
		return nil, err
	}
	var s song
	for found := 0; found < h.tracks; {
		c, err := readChunk(data, rest)
		if err != nil {
			return nil, fmt.Errorf("track %d of %d: %w", found+1, h.tracks, err)
		}
		rest = c.end
		if c.name != "MTrk" {
			continue // what is not known is passed over (Standard MIDI Files 1.0)
		}
		found++
		k := trackReader{data: data[:c.end], at: c.start, division: h.division}
		if err := k.read(); err != nil {
			return nil, fmt.Errorf("track %d: byte %d: %w", found, k.at, err)
		}
		s.take(k, h.format == 1 && found == 1)
	}
	return s.timeline()
}

// A chunk is a named stretch of the file, from start to before end.
type chunk struct {
	name       string
	start, end int
}

func readChunk(data []byte, at int) (chunk, error) {
	if len(data)-at < 8 {
		return chunk{}, fmt.Errorf("byte %d: the file ends before it", at)
	}
	size := binary.BigEndian.Uint32(data[at+4:])
	if int64(size) > int64(len(data)-at-8) {
		return chunk{}, fmt.Errorf("byte %d: it claims %d bytes; %d are left", at, size, len(data)-at-8)
	}
	return chunk{string(data[at : at+4]), at + 8, at + 8 + int(size)}, nil
}

type header struct{ format, tracks, division int }

func readHeader(data []byte) (h header, rest int, err error) {
	if len(data) < 4 || string(data[:4]) != "MThd" {
		return h, 0, fmt.Errorf("byte 0: it does not begin with MThd; is it a Standard MIDI File?")
	}
	c, err := readChunk(data, 0)
	if err != nil {
		return h, 0, fmt.Errorf("header: %w", err)
	}
	if c.end-c.start < 6 {
		return h, 0, fmt.Errorf("header: byte 4: %d bytes, not 6", c.end-c.start)
	}
	word := func(i int) int { return int(binary.BigEndian.Uint16(data[c.start+i:])) }
	h = header{word(0), word(2), word(4)}
	switch {
	case h.format > 1:
		return h, 0, fmt.Errorf("header: byte 8: type %d; only 0 and 1 can be played as one piece", h.format)
	case h.tracks < 1 || h.tracks > MaxTracks:
		return h, 0, fmt.Errorf("header: byte 10: %d tracks, not 1 to %d", h.tracks, MaxTracks)
	case h.division&0x8000 != 0:
		return h, 0, fmt.Errorf("header: byte 12: it counts film frames; only ticks to the quarter can be read")
	case h.division == 0:
		return h, 0, fmt.Errorf("header: byte 12: 0 ticks to the quarter")
	}
	return h, c.end, nil
}

// A song is what has been read of a file.
type song struct {
	line    timeline.Timeline
	events  [][]timeline.Event
	tempos  []timeline.Tempo
	meters  []timeline.MeterChange
	keys    []timeline.KeyChange
	markers []timeline.Marker
	end     rhythm.Offset
}

// take adds a track; a first one without notes is the conductor's.
func (s *song) take(k trackReader, first bool) {
	s.tempos = append(s.tempos, k.tempos...)
	s.meters = append(s.meters, k.meters...)
	s.keys = append(s.keys, k.keys...)
	s.markers = append(s.markers, k.markers...)
	s.end = max(s.end, k.now)
	if first && len(k.events) == 0 {
		return
	}
	for i := range k.events {
		k.events[i].Track = uint8(len(s.line.Tracks))
	}
	s.events = append(s.events, k.events)
	s.line.Tracks = append(s.line.Tracks, k.name)
}

func (s *song) timeline() (*timeline.Timeline, error) {
	t := s.line
	for i, events := range s.events {
		s.events[i] = closed(events, s.end)
	}
	t.Events = timeline.Merge(s.events...)
	t.End = s.end
	if n := len(t.Events); n > 0 {
		t.End = max(t.End, t.Events[n-1].At)
	}
	t.Tempos = latest(append([]timeline.Tempo{{MicrosPerQuarter: 500_000}}, s.tempos...), func(c timeline.Tempo) rhythm.Offset { return c.At })
	t.Meters = latest(s.meters, func(c timeline.MeterChange) rhythm.Offset { return c.At })
	t.Keys = latest(s.keys, func(c timeline.KeyChange) rhythm.Offset { return c.At })
	t.Markers = s.markers
	slices.SortStableFunc(t.Markers, func(a, b timeline.Marker) int { return cmp.Compare(a.At, b.At) })
	t.CountIn = countIn(t.Markers)
	if err := t.Check(); err != nil {
		return nil, err
	}
	return &t, nil
}

// countIn reports how long the count-in lasts by the markers that Write leaves.
func countIn(markers []timeline.Marker) rhythm.Duration {
	if !slices.Contains(markers, timeline.Marker{At: 0, Text: timeline.MarkCountIn}) {
		return 0
	}
	for _, m := range markers {
		if m.Text == timeline.MarkStart {
			return m.At.Since(0)
		}
	}
	return 0
}

// closed ends the notes that are open at the end, and drops ends without note.
func closed(events []timeline.Event, end rhythm.Offset) []timeline.Event {
	type line struct{ channel, key uint8 }
	open := map[line]int{}
	var kept []timeline.Event
	for _, e := range events {
		k := line{e.Channel, e.A}
		switch e.Kind {
		case timeline.NoteOn:
			open[k]++
		case timeline.NoteOff:
			if open[k] == 0 {
				continue
			}
			open[k]--
		}
		kept = append(kept, e)
	}
	for _, e := range events {
		k := line{e.Channel, e.A}
		for ; e.Kind == timeline.NoteOn && open[k] > 0; open[k]-- {
			kept = append(kept, timeline.Event{At: end, Track: e.Track, Channel: e.Channel, Kind: timeline.NoteOff, A: e.A})
		}
	}
	return kept
}

// latest sorts changes by place and keeps the last of those at one place.
func latest[C any](changes []C, at func(C) rhythm.Offset) []C {
	slices.SortStableFunc(changes, func(a, b C) int { return cmp.Compare(at(a), at(b)) })
	var kept []C
	for _, c := range changes {
		if n := len(kept); n > 0 && at(kept[n-1]) == at(c) {
			kept[n-1] = c
			continue
		}
		kept = append(kept, c)
	}
	return kept
}

// meterOf reads a meter as the file writes it; 2/2 is cut time.
func meterOf(b []byte) rhythm.Meter {
	m := rhythm.Meter{Beats: int(b[0]), Unit: 1 << min(b[1], 16)}
	if m.Beats == 2 && m.Unit == 2 {
		return rhythm.CutTime
	}
	return m
}

// keyOf reads a key as the file writes it.
func keyOf(b []byte) theory.Key {
	k := theory.Key{Fifths: int(int8(b[0]))}
	if b[1] == 1 {
		k.Mode = theory.Minor
	}
	return k
}
