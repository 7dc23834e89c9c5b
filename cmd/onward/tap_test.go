package main

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"onward/midi/live"
)

// A drummer taps along on a stage whose clock is the bubble's of testing/synctest.
type drummer struct {
	*stage
	pressed chan key
	restore int // how often the terminal was given back
	left    bool
}

// newDrummer makes a stage on which the clicks are heard late and tapped by tap, which is
// told each click's number and reports how long after its sound the tap comes.
func newDrummer(t *testing.T, late time.Duration, tap func(i int) (time.Duration, byte)) *drummer {
	d := &drummer{stage: newStage(t), pressed: make(chan key, 64)}
	d.tried = found{words: "sound device: desk, sound font built-in", name: "sound device: desk", latency: 45 * ms}
	d.now = time.Now
	d.keys = func() (<-chan key, func(), error) { return d.pressed, func() { d.restore++ }, nil }
	d.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
		beats := make(chan int)
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			defer close(beats)
			start := time.Now()
			for i, b := range r.Beats {
				select {
				case <-ctx.Done():
					d.left = true
					return
				case <-time.After(time.Until(start.Add(b.At))):
				}
				after, char := tap(i)
				time.AfterFunc(late+after, func() { d.pressed <- key{char, time.Now()} })
				time.Sleep(time.Duration(i%5) * ms) // told late, now more, now less
				beats <- i
			}
			time.Sleep(r.End - r.Beats[len(r.Beats)-1].At)
		}()
		return drummed{beats, ended, d}, nil
	}
	return d
}

type drummed struct {
	beats chan int
	ended chan struct{}
	d     *drummer
}

func (t drummed) Beats() <-chan int              { return t.beats }
func (t drummed) Started() (time.Duration, bool) { return 0, false }
func (t drummed) StartedAt() time.Time           { return time.Time{} }
func (t drummed) Wait() (live.Report, error) {
	<-t.ended
	return live.Report{Left: t.d.left, Silent: true}, nil
}

// kept reports what the journal says of the drummer's device.
func (d *drummer) kept(t *testing.T) (time.Duration, bool) {
	t.Helper()
	j, err := d.openJournal(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	l, known, err := j.Latency(context.Background(), "sound device: desk")
	if err != nil {
		t.Fatal(err)
	}
	return l, known
}

// What is tapped 20 ms ahead of a sound that is 62 ms late is found as 42 ms, less the 2
// by which a screen is told beats late; it is remembered, and read makes up for it.
func TestTapFindsTheLatency(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDrummer(t, 62*ms, func(i int) (time.Duration, byte) { return -20*ms + time.Duration(i%3-1)*6*ms, " \r\n"[i%3] })
		out := fine(t, d.stage, "tap")
		inOrder(t, out, "sound      sound device: desk, sound font built-in\r\n", "Listen to 4 clicks",
			"taps       40 ms after the clicks, the median of 32; half of them within 6 ms of",
			"latency    40 ms, remembered for: sound device: desk", "onward read --latency 40\n", "ahead of a click (Repp")
		if l, known := d.kept(t); l != 40*ms || !known {
			t.Errorf("the journal has %v, %v", l, known)
		}
		if d.restore != 1 {
			t.Errorf("the terminal was given back %d times", d.restore)
		}
	})
}

// Who taps ahead of a sound that comes at once needs no latency.
func TestTapAheadIsNone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDrummer(t, 40*ms, func(int) (time.Duration, byte) { return -39 * ms, ' ' })
		inOrder(t, fine(t, d.stage, "tap"), "taps       1 ms before the clicks", "latency    0 ms")
		if l, known := d.kept(t); l != 0 || !known {
			t.Errorf("the journal has %v, %v", l, known)
		}
	})
}

func TestTapKeepsNothingOfNothing(t *testing.T) {
	for _, c := range []struct {
		name string
		char func(i int) byte
		code int
		want string
	}{
		{"other keys", func(int) byte { return 'x' }, exitRequest, "0 taps could be used"},
		{"q", func(i int) byte { return " q"[min(1, i/8)] }, exitInterrupted, ""},
		{"Ctrl-C", func(i int) byte { return " \x03"[min(1, i/8)] }, exitInterrupted, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newDrummer(t, 30*ms, func(i int) (time.Duration, byte) { return 0, c.char(i) })
				code, _, fault := d.run("tap")
				if code != c.code {
					t.Errorf("exit code %d, want %d", code, c.code)
				}
				inOrder(t, fault, c.want)
				if _, known := d.kept(t); known || d.restore != 1 {
					t.Errorf("known %v, terminal given back %d times", known, d.restore)
				}
			})
		})
	}
}

func TestTapRefused(t *testing.T) {
	s := newStage(t)
	s.keys = terminalKeys // a test's standard input is none
	refused := func(args, want string) {
		t.Helper()
		code, _, fault := s.run(strings.Fields(args)...)
		if code != exitRequest {
			t.Errorf("%s: exit code %d, want %d", args, code, exitRequest)
		}
		inOrder(t, fault, want)
	}
	refused("tap", "standard input is no terminal")
	refused("tap --sound loud", "--sound loud")
	s.tried = found{words: "no sound device", silent: true}
	refused("tap", "nothing to hear: no sound device: connect a sound device")
}

// The beats of a take come as much later as its sound is heard; its sound stays.
func TestReadMakesUpForLatency(t *testing.T) {
	s := newStage(t)
	s.tried = found{words: "a loudspeaker", name: "sound device: desk", latency: 45 * ms}
	var first []time.Duration
	for i, c := range []struct {
		args string
		want time.Duration
		says string
	}{
		{"", 45 * ms, "sound      a loudspeaker\n"}, // what is known of it
		{"--latency 120", 120 * ms, "heard 120 ms late, which is made up for"},
		{"", 120 * ms, "heard 120 ms late"}, // remembered
		{"--latency 0", 0, "a loudspeaker; heard at once\n"},
		{"", 0, "a loudspeaker; heard at once\n"},
	} {
		out := fine(t, s, "read --seed 7 --measures 4 --look-over 0 "+c.args)
		inOrder(t, out, c.says)
		r := s.rolls[i]
		if first == nil {
			for _, b := range r.Beats {
				first = append(first, b.At-c.want)
			}
		}
		for k, b := range r.Beats {
			if b.At != first[k]+c.want {
				t.Fatalf("%q: beat %d at %v, want %v", c.args, k, b.At, first[k]+c.want)
			}
		}
		if r.Events[0].At != 0 || r.End < r.Beats[len(r.Beats)-1].At {
			t.Errorf("%q: sound from %v, the last beat at %v of %v", c.args, r.Events[0].At, r.Beats[len(r.Beats)-1].At, r.End)
		}
	}
	code, _, fault := s.run("read", "--latency", "1001")
	if code != exitRequest {
		t.Errorf("exit code %d, want %d", code, exitRequest)
	}
	inOrder(t, fault, "--latency 1001: write milliseconds, 0 to 1000")
}

// A sink is told its programs in its name, and finds them there.
func TestProgramsInASinksName(t *testing.T) {
	r, err := tapRoll()
	if err != nil {
		t.Fatal(err)
	}
	name := withPrograms("font:/my fonts/a:b.sf2", r)
	if want := "programs:d0:font:/my fonts/a:b.sf2"; name != want {
		t.Errorf("got %q, want %q", name, want)
	}
	if bare, programs := programsIn(name); bare != "font:/my fonts/a:b.sf2" || fmt.Sprint(programs) != "[{true 0}]" {
		t.Errorf("got %q, %v", bare, programs)
	}
	for _, other := range []string{"port:Piano", "off"} {
		if got := withPrograms(other, r); got != other {
			t.Errorf("got %q, want %q", got, other)
		}
	}
}
