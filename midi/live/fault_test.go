package live

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/timeline"
	"onward/rhythm"
	"pgregory.net/rapid"
)

var errGone = errors.New("the port is gone")

// A cable is a Reopener: an instrument whose port goes away, and comes back when
// it is asked after the time back.
type cable struct {
	*instrument
	back time.Duration
	asks int
}

func (c *cable) Reopen() error {
	c.asks++
	time.Sleep(30 * time.Millisecond) // ports are slow to open
	if time.Since(c.zero) < c.back {
		return errGone
	}
	return nil
}

// A vanished port comes back in the middle of a measure: the sound of horn and
// tuba, the swell and the held note are restored, and time has gone on.
func TestVanishedPortIsRestored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := prepared(t, march(16, 120))
		in := &cable{instrument: newInstrument(), back: 6100 * time.Millisecond}
		lost := false
		in.fault = func(int, []byte) error {
			if now := time.Since(in.zero); now >= 3*time.Second && now < in.back {
				if !lost {
					lost, in.prog, in.ctl = true, [16]byte{}, map[[2]byte]byte{}
				}
				return errGone
			}
			return nil
		}
		rep, err := r.Play(t.Context(), in, Options{Clock: PlainClock()})
		if err != nil || rep.Reopened != 1 || rep.Errors != lostAfter || !rep.Silent || rep.Max != 0 {
			t.Fatalf("got %+v, %v", rep, err)
		}
		if in.asks < 5 {
			t.Errorf("the port was looked for %d times", in.asks)
		}
		if in.prog[0] != 58 || in.prog[1] != 60 || in.ctl[[2]byte{1, 7}] != 100 {
			t.Errorf("programs %v, controllers %v", in.prog[:2], in.ctl)
		}
		restored := heardBetween(in.instrument, in.back, 7*time.Second)
		if n := restored[[3]byte{noteOn | 1, 53, 70}]; n != 1 { // held since 6 s
			t.Errorf("the held note was struck %d times after the port came back", n)
		}
		if n := restored[[3]byte{noteOn | percussion, 35, 90}]; n != 1 { // at 6.5 s, not at 6.0
			t.Errorf("the drum was struck %d times", n)
		}
		checkAfter(t, r, in.instrument, in.back+ReopenEvery+60*time.Millisecond)
		if in.hanging() != "" {
			t.Errorf("hanging: %s", in.hanging())
		}
	})
}

func heardBetween(in *instrument, from, to time.Duration) map[[3]byte]int {
	n := map[[3]byte]int{}
	for _, h := range in.heard {
		if h.at >= from && h.at < to {
			n[h.msg]++
		}
	}
	return n
}

// With a port that refuses every third message, each note is still played within
// the time in which it helps, and all of them end.
func TestEveryThirdMessageRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in := prepared(t, march(16, 120)), newInstrument()
		in.fault = func(n int, _ []byte) error {
			if n%3 == 0 {
				return ErrBusy
			}
			return nil
		}
		rep, err := r.Play(t.Context(), in, Options{Clock: PlainClock()})
		if err != nil || rep.Dropped != 0 || rep.Max != 0 || rep.Errors == 0 || in.hanging() != "" {
			t.Fatalf("got %+v, %v, hanging %q", rep, err, in.hanging())
		}
		ons := 0
		for _, h := range in.heard {
			if h.msg[0]&0xF0 == noteOn {
				ons++
			}
		}
		if want := 16 * 7; ons != want {
			t.Errorf("%d of %d notes were played", ons, want)
		}
	})
}

// A fate is what befalls one take in TestNothingHangs.
type fate struct {
	tl      *timeline.Timeline
	leaveAt time.Duration
	every   int // each which message is refused; 0 none
	away    bool
	goneAt  time.Duration
	goneFor time.Duration
	stallAt int
	stall   time.Duration
}

func drawFate(t *rapid.T) fate {
	f := fate{
		tl:      drawTimeline(t),
		leaveAt: time.Duration(rapid.IntRange(0, 12_000_000).Draw(t, "leave at, µs")) * time.Microsecond,
		every:   rapid.SampledFrom([]int{0, 2, 3, 5}).Draw(t, "refuse each"),
		away:    rapid.Bool().Draw(t, "goes away"),
		stallAt: rapid.IntRange(1, 80).Draw(t, "stall at message"),
		stall:   time.Duration(rapid.SampledFrom([]int{0, 0, 15, 60, 150, 1500}).Draw(t, "stall, ms")) * time.Millisecond,
	}
	if f.away {
		f.goneAt = time.Duration(rapid.IntRange(0, 8000).Draw(t, "gone at, ms")) * time.Millisecond
		f.goneFor = time.Duration(rapid.IntRange(0, 3000).Draw(t, "gone for, ms")) * time.Millisecond
	}
	return f
}

// drawTimeline draws notes without heed to each other: unisons, overlaps, drums.
func drawTimeline(t *rapid.T) *timeline.Timeline {
	tl := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: 500_000}}}
	type note struct{ at, length, ch, key int }
	for range rapid.IntRange(1, 40).Draw(t, "notes") {
		n := note{rapid.IntRange(0, 160).Draw(t, "at"), rapid.IntRange(1, 16).Draw(t, "length"),
			rapid.SampledFrom([]int{0, 1, percussion}).Draw(t, "channel"), rapid.IntRange(60, 63).Draw(t, "key")}
		at := rhythm.Offset(n.at) * rhythm.Offset(rhythm.Sixteenth)
		ch, key := uint8(n.ch), uint8(n.key)
		tl.Events = append(tl.Events, timeline.Event{At: at, Channel: ch, Kind: timeline.NoteOn, A: key, B: 80},
			timeline.Event{At: at.Add(rhythm.Duration(n.length) * rhythm.Sixteenth), Channel: ch, Kind: timeline.NoteOff, A: key})
	}
	sortEvents(tl.Events)
	tl.End = tl.Events[len(tl.Events)-1].At
	return tl
}

// play plays f.tl under its fate and says what went wrong.
func (f fate) play(ctx context.Context) error {
	in := &cable{instrument: newInstrument(), back: f.goneAt + f.goneFor}
	in.fault = func(n int, _ []byte) error {
		if n == f.stallAt {
			time.Sleep(f.stall)
		}
		if now := time.Since(in.zero); f.away && now >= f.goneAt && now < in.back {
			return errGone
		}
		if f.every != 0 && n%f.every == 0 {
			return fmt.Errorf("message %d: %w", n, ErrBusy)
		}
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, f.leaveAt)
	defer cancel()
	r, err := Prepare(f.tl)
	if err != nil {
		return err
	}
	rep, err := r.Play(ctx, in, Options{Clock: PlainClock()})
	end := Lead + min(f.leaveAt, r.End)
	gone := f.away && time.Since(in.zero)+ReopenEvery+30*time.Millisecond >= f.goneAt && end < in.back+SilenceWithin
	switch took := time.Since(in.zero) + Lead; {
	case took > end+f.stall+SilenceWithin+glance+2*retryFast:
		return fmt.Errorf("the take ended after %v, not by %v", took, end)
	case rep.Silent && in.hanging() != "":
		return fmt.Errorf("reported silent, but hanging: %s", in.hanging())
	case rep.Silent != (err == nil):
		return fmt.Errorf("silent %v, error %v", rep.Silent, err)
	case !rep.Silent && !gone:
		return fmt.Errorf("not silent though the port was there: %v, %s", err, in.hanging())
	}
	return nil
}

// Whenever a take is left, whatever the port refuses and however long it is away or
// stalls, no note hangs and the take does not end late.
func TestNothingHangs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFate(rt)
		var err error
		synctest.Test(t, func(t *testing.T) {
			err = f.play(t.Context())
			time.Sleep(time.Second) // a Reopen may be under way
		})
		if err != nil {
			rt.Fatal(err)
		}
	})
}

// The dispatch loop allocates nothing, on the ways of failure neither.
func TestTheTakeAllocatesNothing(t *testing.T) {
	r := prepared(t, march(64, 120))
	for _, c := range []struct {
		name string
		out  Sender
	}{{"healthy port", Off{}}, {"port that refuses each third", &refuser{}}} {
		p := newPlayer(r, c.out, Options{Clock: new(leapingClock), Place: new(Place)})
		allocs := testing.AllocsPerRun(10, func() {
			p.next, p.beat, p.late, p.start = 0, 0, p.late[:0], p.clock.Now()
			p.retryAt, p.retryWait = 0, 0
			if !p.run() || len(p.late) != len(r.Events) {
				t.Errorf("%s: %d of %d events", c.name, len(p.late), len(r.Events))
			}
		})
		if allocs != 0 {
			t.Errorf("%s: %v allocations in a take of %d events", c.name, allocs, len(r.Events))
		}
	}
}

type refuser struct{ n int }

func (r *refuser) Send([]byte) error {
	if r.n++; r.n%3 == 0 {
		return ErrBusy
	}
	return nil
}

// A leaping clock is at once at the time that is slept for.
type leapingClock struct{ now time.Duration }

func (c *leapingClock) Now() time.Duration         { return c.now }
func (c *leapingClock) SleepUntil(t time.Duration) { c.now = max(c.now, t) }
func (c *leapingClock) Hold() (string, func())     { return "leaps", func() {} }

// The system's clock keeps its promises: not before the time, no allocation.
func TestSystemClock(t *testing.T) {
	c := SystemClock()
	how, release := c.Hold()
	defer release()
	t.Log(how)
	for range 5 {
		at := c.Now() + 3*time.Millisecond
		c.SleepUntil(at)
		if now := c.Now(); now < at || now > at+time.Second {
			t.Errorf("slept until %v, woke at %v", at, now)
		}
	}
	if n := testing.AllocsPerRun(5, func() { c.SleepUntil(c.Now() + time.Millisecond) }); n != 0 {
		t.Errorf("sleeping allocates %v times", n)
	}
}
