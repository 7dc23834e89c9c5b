package timeline

import (
	"slices"
	"strings"
	"testing"

	"onward/rhythm"

	"pgregory.net/rapid"
)

func saidEvents(events []Event) string {
	var lines []string
	for _, e := range events {
		lines = append(lines, e.String())
	}
	return strings.Join(lines, "\n")
}

// A small band of three voices, two on one channel: the whole list as it is played.
func TestMergeOrder(t *testing.T) {
	tone := func(at, hold float64, key, velocity uint8) Tone {
		return Tone{At: rhythm.Offset(at * 10080), Hold: rhythm.Duration(hold * 10080), Key: key, Velocity: velocity}
	}
	melody := Voice{Track: 0, Channel: 0, Program: 58}.Play([]Tone{tone(0, 1, 60, 80), tone(1, 1, 60, 81), tone(2, .5, 64, 82)})
	low := Voice{Track: 1, Channel: 1, Program: 32}.Play([]Tone{tone(0, 2, 48, 70)})
	volume := []Event{
		{At: 2 * quarter, Track: 1, Channel: 1, Kind: Controller, A: 7, B: 100},
		{At: 2 * quarter, Track: 1, Channel: 1, Kind: Controller, A: 1, B: 5},
	}
	again := Voice{Track: 2, Channel: 1, Program: 32}.Play([]Tone{tone(1.5, 1, 48, 90), tone(2, 1, 40, 60)})
	same(t, "merged", saidEvents(Merge(melody, low, volume, again)), `
0 t0 c1 program 58
0 t1 c2 program 32
0 t2 c2 program 32
0 t0 c1 on C4 80
0 t1 c2 on C3 70
10079/10080 t0 c1 off C4
1 t0 c1 on C4 81
1+5039/10080 t1 c2 off C3
1+1/2 t2 c2 on C3 90
2 t0 c1 off C4
2 t1 c2 controller 7=100
2 t1 c2 controller 1=5
2 t0 c1 on E4 82
2 t2 c2 on E2 60
2+1/2 t0 c1 off E4
2+1/2 t2 c2 off C3
3 t2 c2 off E2`)
}

// Two notes of one key struck at once, or a tick apart, are one: the louder, the
// longer. A note of no length lasts a tick.
func TestMergeTogether(t *testing.T) {
	drums := func(track uint8, tones ...Tone) []Event {
		return Voice{Track: track, Channel: DrumsChannel}.Play(tones)[1:]
	}
	same(t, "at once", saidEvents(Merge(drums(0, Tone{At: 10080, Hold: 5040, Key: 36, Velocity: 60}), drums(1, Tone{At: 10080, Hold: 2520, Key: 36, Velocity: 90}))), `
1 t0 c10 on 36 90
1+1/2 t0 c10 off 36`)
	same(t, "a tick apart", saidEvents(Merge(drums(0, Tone{At: 10080, Hold: 1, Key: 36, Velocity: 90}, Tone{At: 10081, Hold: 2520, Key: 36, Velocity: 60}))), `
1+1/10080 t0 c10 on 36 90
1+2521/10080 t0 c10 off 36`)
	same(t, "no length", saidEvents(Merge(drums(0, Tone{At: 10080, Key: 36, Velocity: 60}))), `
1 t0 c10 on 36 60
1+1/10080 t0 c10 off 36`)
}

// What has no partner stays, and Check finds it.
func TestMergeKeepsTheUnpaired(t *testing.T) {
	on := Event{At: 0, Kind: NoteOn, A: 60, B: 1}
	off := Event{At: 5, Kind: NoteOff, A: 61}
	for _, c := range []struct {
		e    Event
		want string
	}{{on, "event 1, 0 t0 c1 on C4 1: the note never ends"}, {off, "event 1, 1/2016 t0 c1 off C#4: the key does not sound"}} {
		got := Merge([]Event{c.e})
		if !slices.Equal(got, []Event{c.e}) {
			t.Errorf("merged to %v", got)
		}
		take := &Timeline{Tracks: []string{"a"}, Tempos: []Tempo{{0, 500_000}}, End: 10, Events: got}
		if err := take.Check(); err == nil || err.Error() != c.want {
			t.Errorf("Check: %v, want %s", err, c.want)
		}
	}
}

// Whatever tones are played on whatever voices, the merged list passes Check and keeps
// every place where a key is struck.
func TestMergeIsPlayable(t *testing.T) {
	tone := rapid.Custom(func(t *rapid.T) Tone {
		return Tone{
			At:       rhythm.Offset(rapid.IntRange(0, 40).Draw(t, "at")),
			Hold:     rhythm.Duration(rapid.IntRange(0, 12).Draw(t, "hold")),
			Key:      uint8(rapid.IntRange(60, 62).Draw(t, "key")),
			Velocity: uint8(rapid.IntRange(1, 127).Draw(t, "velocity")),
		}
	})
	rapid.Check(t, func(t *rapid.T) {
		take := &Timeline{Tempos: []Tempo{{0, 500_000}}, End: 60}
		var voices [][]Event
		struck := map[Event]bool{}
		for range rapid.IntRange(1, 4).Draw(t, "voices") {
			v := Voice{Track: uint8(len(voices)), Channel: uint8(rapid.IntRange(0, 1).Draw(t, "channel"))}
			tones := rapid.SliceOfN(tone, 0, 12).Draw(t, "tones")
			voices = append(voices, v.Play(tones))
			take.Tracks = append(take.Tracks, "")
			for _, n := range tones {
				struck[Event{At: n.At, Channel: v.Channel, A: n.Key}] = true
			}
		}
		take.Events = Merge(voices...)
		if err := take.Check(); err != nil {
			t.Fatalf("%v\n%s", err, saidEvents(take.Events))
		}
		played := map[Event]bool{}
		for _, e := range take.Events {
			if e.Kind == NoteOn {
				played[Event{At: e.At, Channel: e.Channel, A: e.A}] = true
			}
		}
		for e := range played {
			if !struck[e] {
				t.Fatalf("%s was never struck", e)
			}
		}
		for e := range struck { // gives way only to the same key a tick later
			if e.At++; !played[Event{At: e.At - 1, Channel: e.Channel, A: e.A}] && !struck[e] {
				t.Fatalf("what was struck a tick before %s is lost", e)
			}
		}
	})
}
