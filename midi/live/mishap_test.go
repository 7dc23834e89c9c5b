package live

import (
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

// A sleepyClock is a jumpingClock that knows of its jump as a machine's sleep.
type sleepyClock struct{ jumpingClock }

func (c *sleepyClock) Asleep() time.Duration {
	if c.Clock.Now() < c.at {
		return 0
	}
	return c.by
}

// kinds are what befell a take, in order.
func kinds(r Report) (all []string) {
	for _, m := range r.Mishaps {
		all = append(all, m.What)
	}
	return all
}

// A lid that is shut for seven seconds: the band is where it would have been, and says
// that it was the machine that slept, from when to when.
func TestAfterSleepThePlaceIsRight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in := prepared(t, march(16, 120)), newInstrument()
		clock := &sleepyClock{jumpingClock{PlainClock(), 4*time.Second + 40*time.Millisecond, 7 * time.Second}}
		rep, err := r.Play(t.Context(), in, Options{Clock: clock})
		if err != nil || rep.Played != 16*time.Second || in.hanging() != "" || !slices.Equal(kinds(rep), []string{Asleep}) {
			t.Fatalf("got %+v, %v, hanging %q", rep, err, in.hanging())
		}
		if m := rep.Mishaps[0]; m.From > 4*time.Second || m.To < 10900*time.Millisecond || m.To > 11*time.Second {
			t.Errorf("slept from %v to %v", m.From, m.To)
		}
		for i := range in.heard {
			in.heard[i].at += clock.by
		}
		checkAfter(t, r, in, 11040*time.Millisecond)
	})
}

// A lid that stays shut past the end: the take is over, nothing sounds.
func TestSleepPastTheEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in := prepared(t, march(16, 120)), newInstrument()
		rep, err := r.Play(t.Context(), in, Options{Clock: &sleepyClock{jumpingClock{PlainClock(), 4 * time.Second, time.Hour}}})
		if err != nil || !rep.Silent || rep.Left || rep.Played != 16*time.Second || in.hanging() != "" || !slices.Equal(kinds(rep), []string{Asleep}) {
			t.Fatalf("got %+v, %v, hanging %q", rep, err, in.hanging())
		}
		if took := time.Since(in.zero); took > 5*time.Second {
			t.Errorf("it went on until %v", took)
		}
	})
}

// Each fault is told as what it was, with its times; no fault, nothing.
func TestMishapsAreTold(t *testing.T) {
	const at, end = 3 * time.Second, 5 * time.Second
	for _, c := range []struct {
		fault func(now time.Duration) error
		want  []string
	}{
		{func(time.Duration) error { return nil }, nil},
		{func(time.Duration) error { return ErrBusy }, []string{PortRefused}},
		{func(time.Duration) error { return errGone }, []string{PortLost}},
		{func(now time.Duration) error { time.Sleep(end - now); return nil }, []string{HeldUp}},
	} {
		synctest.Test(t, func(t *testing.T) {
			r, in := prepared(t, march(8, 120)), &cable{instrument: newInstrument(), back: end}
			in.fault = func(int, []byte) error {
				if now := time.Since(in.zero); now >= at && now < end {
					return c.fault(now)
				}
				return nil
			}
			rep, err := r.Play(t.Context(), in, Options{Clock: PlainClock()})
			time.Sleep(time.Second) // a Reopen may be under way
			if err != nil || !slices.Equal(kinds(rep), c.want) || in.hanging() != "" {
				t.Fatalf("want %v: %+v, %v, hanging %q", c.want, rep, err, in.hanging())
			}
			for _, m := range rep.Mishaps {
				if (m.From-at).Abs() > 100*time.Millisecond || m.To < 4800*time.Millisecond || m.To > 5500*time.Millisecond {
					t.Errorf("%v", m)
				}
			}
		})
	}
}

// A port that fails for good is lost to the end.
func TestPortLostForGoodIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := &cable{instrument: newInstrument(), back: time.Hour}
		in.fault = func(int, []byte) error {
			if time.Since(in.zero) > 3*time.Second {
				return errGone
			}
			return nil
		}
		rep, err := Play(t.Context(), march(8, 120), in, Options{Clock: PlainClock()})
		time.Sleep(time.Second) // a Reopen may be under way
		if !errors.Is(err, ErrHanging) || len(rep.Mishaps) != 1 || rep.Mishaps[0].What != PortLost || rep.Mishaps[0].To != 8*time.Second {
			t.Errorf("got %+v, %v", rep, err)
		}
	})
}

// A port whose every third message fails as if it were gone: each note is still played
// within the time in which it helps, the port is not opened again for that, and all is
// silent at the end. So, too, behind a Queue.
func TestEveryThirdMessageFails(t *testing.T) {
	for _, queued := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			r, in := prepared(t, march(16, 120)), &cable{instrument: newInstrument()}
			in.fault = func(n int, _ []byte) error {
				if n%3 == 0 {
					return errGone
				}
				return nil
			}
			out, closed := Sender(in), func() error { return nil }
			if queued {
				q := NewQueue(in)
				out, closed = q, q.Close
			}
			rep, err := r.Play(t.Context(), out, Options{Clock: PlainClock()})
			err = errors.Join(err, closed())
			time.Sleep(time.Second) // a Reopen may be under way
			if err != nil || rep.Max != 0 || rep.Dropped != 0 || rep.Reopened != 0 || in.hanging() != "" {
				t.Fatalf("queued %v: got %+v, %v, hanging %q", queued, rep, err, in.hanging())
			}
			ons := 0
			for _, h := range in.heard {
				if h.msg[0]&0xF0 == noteOn {
					ons++
				}
			}
			if want := 16 * 7; ons != want {
				t.Errorf("queued %v: %d of %d notes were played", queued, ons, want)
			}
		})
	}
}

// What comes after the mishaps that there is room for is summed up, a kind at a time, so
// that times and lengths in all stay right; nothing of it allocates.
func TestMoreMishapsThanThereIsRoomFor(t *testing.T) {
	p := newPlayer(prepared(t, march(1, 120)), Off{}, Options{Clock: PlainClock(), Place: new(Place)})
	at, rounds := time.Duration(0), 0
	if n := testing.AllocsPerRun(3*mostMishaps, func() {
		p.befell(PortLost, at, at+time.Second)
		p.befell(HeldUp, at, at+60*time.Millisecond)
		at += 10 * time.Second
		rounds++
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
	p.befell(Asleep, at, at+time.Hour)
	p.befell(PortRefused, at, at)
	times, took := map[string]int{}, map[string]time.Duration{}
	for i, m := range p.report.Mishaps {
		times[m.What] += m.Times
		took[m.What] += m.Took
		if i < mostMishaps && (m.Times != 1 || m.Took != m.To-m.From) {
			t.Errorf("mishap %d: %v", i, m)
		}
	}
	if len(p.report.Mishaps) != mostMishaps+mishapKinds || times[PortLost] != rounds || times[HeldUp] != rounds ||
		took[PortLost] != time.Duration(rounds)*time.Second || took[HeldUp] != time.Duration(rounds)*60*time.Millisecond || took[Asleep] != time.Hour {
		t.Errorf("after %d rounds %d mishaps, times %v, lengths %v", rounds, len(p.report.Mishaps), times, took)
	}
}

// A stoppedClock is that of a process that is stopped now and then: whoever sleeps when a
// stop begins sleeps until its end.
type stoppedClock struct {
	Clock
	stops  []time.Duration
	length time.Duration
}

func (c *stoppedClock) SleepUntil(t time.Duration) {
	c.Clock.SleepUntil(t)
	for len(c.stops) > 0 && c.stops[0] < t {
		c.Clock.SleepUntil(c.stops[0] + c.length)
		c.stops = c.stops[1:]
	}
}

// Five stops that follow each other are five hold-ups, each as long as it was less the
// glance that the player may just have begun: the time between them is none of theirs.
func TestHoldUpsAreToldEachByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		clock := &stoppedClock{Clock: PlainClock(), length: 70 * time.Millisecond}
		for i := range 5 {
			clock.stops = append(clock.stops, time.Second+time.Duration(i)*1203*time.Millisecond)
		}
		stops := clock.stops
		rep, err := Play(t.Context(), march(8, 120), newInstrument(), Options{Clock: clock, Start: time.Nanosecond})
		if err != nil || len(rep.Mishaps) != len(stops) {
			t.Fatalf("got %+v, %v", rep, err)
		}
		for i, m := range rep.Mishaps {
			if end := stops[i] + clock.length; m.What != HeldUp || m.Times != 1 || m.Took != m.To-m.From || (m.To-end).Abs() > time.Microsecond ||
				m.From < stops[i]-time.Microsecond || m.From > stops[i]+glance {
				t.Errorf("stop %d, at %v: %v", i, stops[i], m)
			}
		}
	})
}

// So, too, a port that is away for a moment now and then, until it is found again.
func TestLossesOfThePortAreToldEachByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const away, every = 300 * time.Millisecond, 1500 * time.Millisecond
		in := &cable{instrument: newInstrument()}
		in.fault = func(int, []byte) error {
			now := time.Since(in.zero)
			if now < every || now%every >= away {
				return nil
			}
			in.back = now.Truncate(every) + away
			return errGone
		}
		rep, err := Play(t.Context(), march(8, 120), in, Options{Clock: PlainClock()})
		time.Sleep(time.Second) // a Reopen may be under way
		if err != nil || len(rep.Mishaps) < 3 || len(rep.Mishaps) != rep.Reopened {
			t.Fatalf("got %+v, %v", rep, err)
		}
		for _, m := range rep.Mishaps {
			if from := m.From % every; m.What != PortLost || m.Times != 1 || from > away || m.To%every < away || m.Took != m.To-m.From || m.Took > away+2*ReopenEvery {
				t.Errorf("%v", m)
			}
		}
	})
}

// A deadline is a message that came to a timed sender and when it was due.
type deadline struct {
	due, came time.Time
	msg       [3]byte
}

type timed struct {
	instrument
	got []deadline
}

func (s *timed) SendAt(msg []byte, at time.Time) error {
	now := time.Now()
	if err := s.Send(msg); err != nil {
		return err
	}
	d := deadline{due: at, came: now}
	copy(d.msg[:], msg)
	s.got = append(s.got, d)
	return nil
}

// lazyClock wakes up to nine milliseconds late.
type lazyClock struct {
	Clock
	n time.Duration
}

func (c *lazyClock) SleepUntil(t time.Duration) {
	c.n = (c.n + 7) % 10
	c.Clock.SleepUntil(t + c.n*time.Millisecond)
}

// A sender that takes deadlines gets each event's own, however late the player is.
func TestDeadlinesAreHandedOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, s := prepared(t, march(4, 120)), &timed{instrument: *newInstrument()}
		zero := s.zero
		rep, err := r.Play(t.Context(), s, Options{Clock: &lazyClock{Clock: PlainClock()}})
		if err != nil || rep.Max < 5*time.Millisecond {
			t.Fatalf("got %+v, %v", rep, err)
		}
		for i, e := range r.Events {
			if d := s.got[i]; d.msg != e.Msg || !d.due.Equal(zero.Add(e.At)) {
				t.Fatalf("message %d: % x due %v, want % x at %v", i, d.msg, d.due.Sub(zero), e.Msg, e.At)
			}
		}
		for _, d := range s.got {
			if d.due.After(d.came) {
				t.Errorf("% x came ahead of its time", d.msg)
			}
		}
	})
}
