package live

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/timeline"
	"onward/rhythm"
)

// march is a march in 2/4, two beats a measure at beats a minute: bass on the
// beats, horns off them, a drum, a held horn note through every measure, and a
// controller that swells.
func march(measures, beatsAMinute int) *timeline.Timeline {
	t := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 60_000_000 / beatsAMinute}}}
	add := func(at rhythm.Offset, ch uint8, k timeline.Kind, a, b uint8) {
		t.Events = append(t.Events, timeline.Event{At: at, Channel: ch, Kind: k, A: a, B: b})
	}
	add(0, 0, timeline.Program, 58, 0) // General MIDI 1: tuba
	add(0, 1, timeline.Program, 60, 0) // French horn
	add(0, 1, timeline.Controller, 7, 100)
	for m := range measures {
		at := rhythm.Offset(m) * rhythm.Offset(rhythm.Half)
		if m > 0 {
			add(at, 1, timeline.NoteOff, 53, 0)
		}
		add(at, 1, timeline.NoteOn, 53, 70)
		for beat := range 2 {
			on := at.Add(rhythm.Duration(beat) * rhythm.Quarter)
			t.Beats = append(t.Beats, timeline.Beat{At: on, Measure: m, Number: m + 1, Pass: 1, Beat: beat + 1, Of: 2})
			add(on, 1, timeline.Controller, 11, uint8(60+(2*m+beat)%60))
			add(on, 0, timeline.NoteOn, 41, 90)
			add(on, 9, timeline.NoteOn, 35, 90)
			off := on.Add(rhythm.Eighth)
			add(off, 0, timeline.NoteOff, 41, 0)
			add(off, 9, timeline.NoteOff, 35, 0)
			add(off, 1, timeline.NoteOn, 57, 60)
			add(on.Add(rhythm.Quarter-100), 1, timeline.NoteOff, 57, 0)
		}
	}
	t.End = rhythm.Offset(measures) * rhythm.Offset(rhythm.Half)
	add(t.End, 1, timeline.NoteOff, 53, 0)
	return t
}

func prepared(t testing.TB, tl *timeline.Timeline) *Roll {
	t.Helper()
	r, err := Prepare(tl)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// An instrument is a Sender that knows what it sounds. As on a hard-hearted synth,
// two note-ons of a key need two note-offs, and no controller ends notes.
type instrument struct {
	zero  time.Time
	heard []heard
	keys  map[[2]byte]int
	prog  [16]byte
	ctl   map[[2]byte]byte
	// fault, if set, decides on each message: it may sleep, and return an error,
	// with which the message is not taken.
	fault func(n int, msg []byte) error
	n     int
}

type heard struct {
	at  time.Duration
	msg [3]byte
}

func newInstrument() *instrument {
	return &instrument{zero: time.Now().Add(Lead), keys: map[[2]byte]int{}, ctl: map[[2]byte]byte{}}
}

func (in *instrument) Send(msg []byte) error {
	in.n++
	if in.fault != nil {
		if err := in.fault(in.n, msg); err != nil {
			return err
		}
	}
	h := heard{at: time.Since(in.zero)}
	copy(h.msg[:], msg)
	in.heard = append(in.heard, h)
	key := [2]byte{msg[0] & 15, msg[1]}
	switch msg[0] & 0xF0 {
	case noteOn:
		in.keys[key]++
	case noteOff:
		in.keys[key] = max(0, in.keys[key]-1)
	case program:
		in.prog[msg[0]&15] = msg[1]
	case controller:
		in.ctl[key] = msg[2]
	}
	return nil
}

// hanging reports the keys that sound.
func (in *instrument) hanging() string {
	var s []string
	for k, n := range in.keys {
		if n > 0 {
			s = append(s, fmt.Sprintf("channel %d key %d", k[0], k[1]))
		}
	}
	return strings.Join(s, ", ")
}

// hushed reports whether the last word on every channel of the march was controller
// 123, or 120 if the take was left.
func (in *instrument) hushed(c byte) bool {
	n := 0
	for _, h := range in.heard {
		if h.msg[0]&0xF0 == controller && h.msg[1] == c {
			n++
		}
	}
	return n >= 3
}

func TestEveryEventAtItsDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in, place := prepared(t, march(16, 120)), newInstrument(), new(Place)
		rep, err := r.Play(t.Context(), in, Options{Clock: PlainClock(), Place: place})
		if err != nil || rep.Left || !rep.Silent || rep.Max != 0 || rep.Events != len(r.Events) {
			t.Fatalf("got %+v, %v", rep, err)
		}
		for i, e := range r.Events {
			if in.heard[i].at != e.At || in.heard[i].msg != e.Msg {
				t.Fatalf("message %d: got %v, want %v", i, in.heard[i], e)
			}
		}
		if rep.Played != 16*time.Second { // 32 beats at 120
			t.Errorf("played %v, want 16 s", rep.Played)
		}
		if place.Beat() != len(r.Beats)-1 || place.Event() != len(r.Events) {
			t.Errorf("at the end the place is beat %d, event %d", place.Beat(), place.Event())
		}
		if in.hanging() != "" || !in.hushed(allNotesOff) || in.hushed(allSoundOff) {
			t.Errorf("hanging: %q", in.hanging())
		}
	})
}

func TestPlaceFollowsTheBeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		place := new(Place)
		if place.Beat() != -1 {
			t.Errorf("before the start: beat %d", place.Beat())
		}
		go Play(t.Context(), march(4, 60), newInstrument(), Options{Clock: PlainClock(), Place: place})
		time.Sleep(Lead + time.Millisecond)
		for want := range 8 {
			if got := place.Beat(); got != want {
				t.Errorf("in second %d: beat %d", want, got)
			}
			time.Sleep(time.Second)
		}
	})
}

// A port that holds up one message makes that one and those due meanwhile late, and
// no other.
func TestLateEventDelaysNoLaterOne(t *testing.T) {
	for _, stall := range []time.Duration{25 * time.Millisecond, 90 * time.Millisecond, 3 * time.Second} {
		synctest.Test(t, func(t *testing.T) {
			r, in := prepared(t, march(16, 120)), newInstrument()
			in.fault = func(n int, _ []byte) error {
				if n == 40 {
					time.Sleep(stall)
				}
				return nil
			}
			rep, err := r.Play(t.Context(), in, Options{Clock: PlainClock()})
			if err != nil || rep.Max > stall || in.hanging() != "" {
				t.Fatalf("stall %v: %+v, %v, hanging %q", stall, rep, err, in.hanging())
			}
			checkAfter(t, r, in, r.Events[39].At+stall)
		})
	}
}

// checkAfter checks that every note-on of r from at on was heard on time.
func checkAfter(t *testing.T, r *Roll, in *instrument, at time.Duration) {
	t.Helper()
	onTime := map[heard]bool{}
	for _, h := range in.heard {
		onTime[h] = true
	}
	for _, e := range r.Events {
		if e.Msg[0]&0xF0 == noteOn && e.At > at && !onTime[heard{e.At, e.Msg}] {
			t.Errorf("after %v: % x at %v was not heard on time", at, e.Msg, e.At)
		}
	}
}

// A jumping clock is stopped and goes on, as when the process gets SIGSTOP.
type jumpingClock struct {
	Clock
	at, by time.Duration
}

func (c *jumpingClock) Now() time.Duration {
	if now := c.Clock.Now(); now < c.at {
		return now
	}
	return c.Clock.Now() + c.by
}

func (c *jumpingClock) SleepUntil(t time.Duration) {
	if c.Now() >= c.at+c.by {
		t -= c.by
	}
	c.Clock.SleepUntil(t)
}

func TestAfterAStallThePlaceIsRight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in, place := prepared(t, march(16, 120)), newInstrument(), new(Place)
		clock := &jumpingClock{PlainClock(), 4*time.Second + 40*time.Millisecond, 3 * time.Second}
		rep, err := r.Play(t.Context(), in, Options{Clock: clock, Place: place})
		if err != nil || rep.Played != 16*time.Second || time.Since(in.zero) != 13*time.Second {
			t.Fatalf("got %+v after %v, %v", rep, time.Since(in.zero), err)
		}
		stop, goOn := 4*time.Second-10*time.Millisecond, 7*time.Second-10*time.Millisecond
		for _, h := range in.heard {
			if h.at > stop && h.at < goOn-3*time.Second {
				t.Errorf("% x heard during the stall", h.msg)
			}
		}
		if rep.Hopeless == 0 || rep.Dropped == 0 {
			t.Errorf("nothing was too late: %+v", rep)
		}
		if in.hanging() != "" {
			t.Errorf("hanging: %s", in.hanging())
		}
		for i := range in.heard { // back on the clock that jumped
			in.heard[i].at += clock.by
		}
		checkAfter(t, r, in, 7040*time.Millisecond)
	})
}

// All state that came due in the stall is sent, whatever its age.
func TestStateIsNeverDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in := prepared(t, march(16, 120)), newInstrument()
		in.fault = func(n int, _ []byte) error {
			if n == 40 {
				time.Sleep(5 * time.Second)
			}
			return nil
		}
		if _, err := r.Play(t.Context(), in, Options{Clock: PlainClock()}); err != nil {
			t.Fatal(err)
		}
		want, got := 0, 0
		for _, e := range r.Events {
			if e.Msg[0]&0xF0 == controller && e.Msg[1] == 11 {
				want++
			}
		}
		for _, h := range in.heard {
			if h.msg[0]&0xF0 == controller && h.msg[1] == 11 {
				got++
			}
		}
		if got != want {
			t.Errorf("%d of %d swells were sent", got, want)
		}
	})
}

func TestWorth(t *testing.T) {
	const ms = time.Millisecond
	for _, c := range []struct {
		late, left time.Duration
		channel    uint8
		want       bool
	}{
		{0, 5 * ms, 0, true},
		{39 * ms, 1 * ms, 0, true},
		{39 * ms, 1 * ms, percussion, true},
		{40 * ms, 40 * ms, 0, false},
		{40 * ms, 41 * ms, 0, true},
		{40 * ms, 410 * ms, percussion, false},
		{199 * ms, 200 * ms, 0, true},
		{200 * ms, 4000 * ms, 0, false},
	} {
		if got := worth(c.late, c.left, c.channel); got != c.want {
			t.Errorf("late %v, left %v, channel %d: got %v", c.late, c.left, c.channel, got)
		}
	}
}

func TestPanicOfASenderLeavesNoNote(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInstrument()
		in.fault = func(n int, _ []byte) error {
			if n == 50 {
				panic("a fault in the driver")
			}
			return nil
		}
		defer func() {
			if p := recover(); p != "a fault in the driver" {
				t.Errorf("recovered %v", p)
			}
			if in.hanging() != "" || !in.hushed(allSoundOff) {
				t.Errorf("hanging: %q", in.hanging())
			}
		}()
		Play(t.Context(), march(16, 120), in, Options{Clock: PlainClock()})
	})
}

func TestDeadPortIsReportedAndHoldsNothingUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInstrument()
		in.fault = func(int, []byte) error { return errors.New("unplugged") }
		rep, err := Play(t.Context(), march(16, 120), in, Options{Clock: PlainClock()})
		if !errors.Is(err, ErrHanging) || rep.Silent || rep.Played != 16*time.Second || rep.Max != 0 {
			t.Errorf("got %+v, %v", rep, err)
		}
		if took := time.Since(in.zero) - 16*time.Second; took > SilenceWithin+10*time.Millisecond {
			t.Errorf("silence was tried for %v", took)
		}
	})
}

func TestLeftBeforeItBegins(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		in := newInstrument()
		rep, err := Play(ctx, march(16, 120), in, Options{Clock: PlainClock()})
		if err != nil || !rep.Left || !rep.Silent || rep.Events != 0 || !in.hushed(allSoundOff) {
			t.Errorf("got %+v, %v", rep, err)
		}
	})
}
