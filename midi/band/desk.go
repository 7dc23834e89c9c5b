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

// addClicks adds what sounds ahead, and the clicks of the piece if they are asked for.
func (d *desk) addClicks(t *take, through bool) {
	if chord := t.l.TonicChord(); len(chord) > 0 {
		d.add("Tonic chord", organ, chord)
	}
	clicks := t.l.Clicks()
	for _, b := range d.line.Beats {
		if !through || b.Measure < 0 {
			continue
		}
		key, velocity := uint8(timeline.Click), t.velocity(b.At, 65)
		if b.Beat == 1 {
			key, velocity = timeline.ClickAccent, t.velocity(b.At, 85)
		}
		clicks = append(clicks, timeline.Tone{At: b.At, Hold: rhythm.Sixteenth, Key: key, Velocity: velocity})
	}
	if len(clicks) > 0 {
		d.addDrums("Clicks", clicks)
	}
}
