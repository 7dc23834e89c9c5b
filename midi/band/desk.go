package band

import (
	"onward/midi/timeline"
	"onward/rhythm"
)

// organ is the General MIDI program, counted from 0, of the count-in's chord.
const organ = 19

// A desk gives each voice its track and channel.
type desk struct {
	line    *timeline.Timeline
	voices  [][]timeline.Event
	channel uint8 // the next free one
	// rested takes out what lies in the band's rests; nil where it has none.
	rested func(tones []timeline.Tone, percent int) []timeline.Tone
}

// add gives a pitched part the next track and channel.
func (d *desk) add(name string, program uint8, tones []timeline.Tone) {
	v := timeline.Voice{Track: d.track(name), Channel: d.channel, Program: program}
	if d.channel++; d.channel == timeline.DrumsChannel {
		d.channel++
	}
	d.voices = append(d.voices, v.Play(tones))
}

func (d *desk) addDrums(name string, tones []timeline.Tone) {
	v := timeline.Voice{Track: d.track(name), Channel: timeline.DrumsChannel}
	d.voices = append(d.voices, v.Play(tones))
}

func (d *desk) track(name string) uint8 {
	d.line.Tracks = append(d.line.Tracks, name)
	return uint8(len(d.line.Tracks) - 1)
}

// announce adds what sounds ahead, and the clicks of the piece if they are asked for.
// velocity reports how loud so many percent of the dynamic are.
func (d *desk) announce(l *timeline.Layout, click Click, velocity func(at rhythm.Offset, percent int) uint8) {
	if chord := l.TonicChord(); len(chord) > 0 {
		d.add("Tonic chord", organ, chord)
	}
	along := pieceClicks(l, click, velocity)
	if d.rested != nil {
		along = d.rested(along, 0)
	}
	clicks := append(l.Clicks(), along...)
	if len(clicks) > 0 {
		d.addDrums("Clicks", clicks)
	}
}

// How loud the clicks of the piece are, in percent of the player's dynamic.
const (
	clickPercent    = 65
	downbeatPercent = 85
)

// pieceClicks are the clicks of the piece, its count-in left out: wood blocks, high on the
// downbeats.
func pieceClicks(l *timeline.Layout, click Click, velocity func(at rhythm.Offset, percent int) uint8) []timeline.Tone {
	var clicks []timeline.Tone
	add := func(at rhythm.Offset, key uint8, percent int) {
		clicks = append(clicks, timeline.Tone{At: at, Hold: min(rhythm.Sixteenth, l.End.Since(at)), Key: key, Velocity: velocity(at, percent)})
	}
	switch click {
	case EveryBeat:
		for _, b := range l.Timeline().Beats {
			switch {
			case b.Measure < 0:
			case b.Beat == 1:
				add(b.At, timeline.ClickAccent, downbeatPercent)
			default:
				add(b.At, timeline.Click, clickPercent)
			}
		}
	case OffBeats:
		for _, at := range l.OffBeats() {
			add(at, timeline.Click, clickPercent)
		}
	}
	return clicks
}
