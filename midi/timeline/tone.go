package timeline

import (
	"onward/rhythm"
	"onward/theory"
)

// A Tone is one note as it sounds.
type Tone struct {
	At       rhythm.Offset
	Hold     rhythm.Duration // how long it sounds
	Key      uint8           // MIDI number 0 to 127, sounding
	Velocity uint8           // 1 to 127

	// What the tone stands for in the part. Only Melody fills it in.
	Pitch  theory.Pitch    // sounding, as spelled
	Length rhythm.Duration // from its onset to where the note ends on the page, ties merged
	Index  int             // the measure it begins in, into the part's measures as written
	Pass   int             // 1 the first time through, 2 on the repeat
	Grace  bool            // a grace note
}

// A Voice is where tones go: a track, a channel and the sound on it.
type Voice struct {
	Track   uint8 // into Timeline.Tracks
	Channel uint8 // 0 to 15; DrumsChannel is percussion
	Program uint8 // General MIDI program, 0 to 127
}

// Play reports the tones as events of the voice: its program at the start of the
// take, then a note-on and a note-off for each tone. A tone that lasts less than a
// tick lasts one. Merge puts the events in order and settles tones that touch.
func (v Voice) Play(tones []Tone) []Event {
	events := make([]Event, 0, 1+2*len(tones))
	events = append(events, Event{Track: v.Track, Channel: v.Channel, Kind: Program, A: v.Program})
	for _, t := range tones {
		events = append(events,
			Event{At: t.At, Track: v.Track, Channel: v.Channel, Kind: NoteOn, A: t.Key, B: t.Velocity},
			Event{At: t.At.Add(max(1, t.Hold)), Track: v.Track, Channel: v.Channel, Kind: NoteOff, A: t.Key})
	}
	return events
}
