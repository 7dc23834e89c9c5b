package synth

import (
	"errors"
	"math"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/live"
	"onward/midi/timeline"
	"onward/rhythm"
)

// strokes is a take of n quarters at 120 on the woodblock, with a tuba that holds one note
// from beginning to end if held says so.
func strokes(n int, held bool) *timeline.Timeline {
	t := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	add := func(at rhythm.Offset, channel uint8, kind timeline.Kind, a, b uint8) {
		t.Events = append(t.Events, timeline.Event{At: at, Channel: channel, Kind: kind, A: a, B: b})
	}
	t.End = rhythm.Offset(n) * rhythm.Offset(rhythm.Quarter)
	if held {
		add(0, 0, timeline.Program, 58, 0)
		add(0, 0, timeline.NoteOn, 41, 100)
	}
	for i := range n {
		at := rhythm.Offset(i) * rhythm.Offset(rhythm.Quarter)
		add(at, 9, timeline.NoteOn, 76, 100) // General MIDI 1: high wood block
		add(at.Add(rhythm.Eighth), 9, timeline.NoteOff, 76, 0)
	}
	if held {
		add(t.End, 0, timeline.NoteOff, 41, 0)
	}
	return t
}

// A lateClock wakes the player up to nine milliseconds late, as a busy machine does.
type lateClock struct {
	live.Clock
	n time.Duration
}

func (c *lateClock) SleepUntil(t time.Duration) {
	c.n = (c.n + 7) % 10
	c.Clock.SleepUntil(t + c.n*time.Millisecond)
}

// undated hides that a speaker takes deadlines.
type undated struct{ s *Speaker }

func (u undated) Send(msg []byte) error { return u.s.Send(msg) }

// What the player is late is not heard: the speaker is told when each message was due,
// and places it there. Without that the same strokes are uneven by what the player was.
func TestLatePlayerIsNotHeard(t *testing.T) {
	const n = 24
	f := builtin(t)
	uneven := func(dated bool) (worst float64) {
		synctest.Test(t, func(t *testing.T) {
			b := &bench{rng: 7, drift: 1}
			s, err := play(f, b.open)
			if err != nil {
				t.Fatal(err)
			}
			var out live.Sender = s
			if !dated {
				out = undated{s}
			}
			rep, err := live.Play(t.Context(), strokes(n, false), out, live.Options{Clock: &lateClock{Clock: live.PlainClock()}})
			if err != nil || rep.Max < 8*time.Millisecond {
				t.Fatalf("got %v, %v", rep, err)
			}
			s.Close()
			got := onsets(b.sound(), 0.02, liveRate/20)
			if len(got) != n {
				t.Fatalf("%d strokes heard, want %d", len(got), n)
			}
			for i := 1; i < n; i++ {
				worst = max(worst, math.Abs(float64(got[i]-got[i-1])/liveRate-0.5))
			}
		})
		return worst
	}
	dated, plain := uneven(true), uneven(false)
	t.Logf("half seconds are off by %.2f ms at most, by %.2f without deadlines", 1000*dated, 1000*plain)
	if dated > 0.002 || plain < 0.005 {
		t.Errorf("half seconds are off by %.2f ms with deadlines, want at most 2, and by %.2f without, want more than 5", 1000*dated, 1000*plain)
	}
}

// A whole take whose sound device goes away for two seconds and is replaced by another:
// time goes on in silence, the band comes in again on its beat, the held tuba sounds, and
// at the end nothing does.
func TestTakeOutlivesTheSoundDevice(t *testing.T) {
	const n = 16
	f := builtin(t)
	synctest.Test(t, func(t *testing.T) {
		first, second := &bench{rng: 1, drift: 1}, &bench{rng: 2, drift: 1}
		var tries atomic.Int32
		s, err := play(f, func(pull func([]float32), lost func()) (output, error) {
			switch tries.Add(1) {
			case 1:
				return first.open(pull, lost)
			case 2:
				return nil, errors.New("unplugged")
			}
			return second.open(pull, lost)
		})
		if err != nil {
			t.Fatal(err)
		}
		var silent string
		time.AfterFunc(2100*time.Millisecond, func() { first.lost() })
		time.AfterFunc(3*time.Second, func() { silent = s.Device() })
		began := time.Now().Add(live.Lead)
		rep, err := live.Play(t.Context(), strokes(n, true), s, live.Options{Clock: live.PlainClock()})
		if err != nil || rep.Max != 0 || rep.Dropped != 0 || !rep.Silent || rep.Played != 8*time.Second {
			t.Fatalf("got %v, %v", rep, err)
		}
		s.Close()
		if !strings.Contains(silent, "went away: keeping time in silence") || s.Device() != "sound device: bench" {
			t.Errorf("Device said %q, and at the end %q", silent, s.Device())
		}
		if c := s.Counts(); c.Lost != 1 || c.Late != 0 || c.Refused != 0 {
			t.Errorf("counts %+v, want 1 lost, none late", c)
		}
		if v := second.sound(); math.Abs(v[len(v)-1]) > 0.001 {
			t.Errorf("the device stops at %g, want silence", v[len(v)-1])
		}
		checkStrokesOn(t, second, began, n)
	})
}

// checkStrokesOn checks that a device heard the last strokes of the take that began then, on
// their beats (half seconds), and missed none since it was there.
func checkStrokesOn(t *testing.T, b *bench, began time.Time, n int) {
	t.Helper()
	from := b.began.Sub(began).Seconds() + Latency.Seconds()
	heard := 0
	for _, frame := range onsets(highs(b.sound()), 0.02, liveRate/20) {
		at := b.began.Sub(began).Seconds() + float64(frame)/liveRate + 0.012 - Latency.Seconds()
		beat := math.Round(at / 0.5)
		if math.Abs(at-0.5*beat) > 0.010 {
			continue // the tuba coming in
		}
		heard++
	}
	if want := n - int(math.Ceil((from)/0.5)); heard < want-1 || heard > want+1 {
		t.Errorf("%d strokes on their beats on the new device, want %d", heard, want)
	}
}

// highs is what changes fast in a sound: the woodblock and not the tuba.
func highs(sound []float64) []float64 {
	out := make([]float64, len(sound))
	for i := 1; i < len(sound); i++ {
		out[i] = sound[i] - sound[i-1]
	}
	return out
}
