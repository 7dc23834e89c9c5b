package live

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// A driver that blocks holds up neither the queue's Send nor time; what waited is
// sent when it goes on, but no note-on that has become very late.
func TestQueueBeforeABlockedDriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r, in := prepared(t, march(16, 120)), newInstrument()
		in.fault = func(n int, _ []byte) error {
			if n == 60 { // it waits in the driver
				time.Sleep(2 * time.Second)
			}
			return nil
		}
		q := NewQueue(in)
		rep, err := r.Play(t.Context(), q, Options{Clock: PlainClock()})
		if err != nil || rep.Max != 0 || rep.Played != 16*time.Second {
			t.Fatalf("got %+v, %v", rep, err)
		}
		if err := q.Close(); err != nil {
			t.Fatal(err)
		}
		if in.hanging() != "" || !in.hushed(allNotesOff) {
			t.Errorf("hanging: %q", in.hanging())
		}
		checkAfter(t, r, in, r.Events[59].At+2*time.Second)
		checkNoneStale(t, r, in, 60)
	})
}

// checkNoneStale checks that no note-on but the held-up message was heard when it
// was very late.
func checkNoneStale(t *testing.T, r *Roll, in *instrument, heldUp int) {
	t.Helper()
	due := map[heard]bool{}
	for _, e := range r.Events {
		due[heard{e.At, e.Msg}] = true
	}
	for i, h := range in.heard {
		if h.msg[0]&0xF0 == noteOn && i != heldUp-1 && !due[h] {
			t.Errorf("% x heard at %v, not at its time", h.msg, h.at)
		}
	}
}

// A driver that blocks for ever does not hold up the take or its end.
func TestQueueBeforeADeadDriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in := newInstrument()
		free := make(chan struct{})
		in.fault = func(n int, _ []byte) error {
			if n == 60 {
				<-free
			}
			return nil
		}
		q := NewQueue(in)
		rep, err := Play(t.Context(), march(60, 120), q, Options{Clock: PlainClock()})
		if !errors.Is(err, ErrHanging) || rep.Silent || rep.Max != 0 || rep.Played != time.Minute {
			t.Errorf("got %+v, %v", rep, err)
		}
		before := time.Now()
		if err := q.Close(); err == nil || time.Since(before) > closeWithin {
			t.Errorf("Close took %v and reported %v", time.Since(before), err)
		}
		close(free)
		<-q.ended
	})
}

// A driver's error is reported by the next Send and all after it until the port is
// reopened; then the take goes on, and the note-offs that were lost unseen are sent.
func TestQueueReopens(t *testing.T) {
	for _, gone := range []time.Duration{3000, 3100, 3250, 3499, 3500} {
		synctest.Test(t, func(t *testing.T) {
			gone := gone * time.Millisecond
			in := &cable{instrument: newInstrument(), back: 5 * time.Second}
			in.fault = func(int, []byte) error {
				if now := time.Since(in.zero); now >= gone && now < in.back {
					return errGone
				}
				return nil
			}
			q := NewQueue(in)
			r := prepared(t, march(16, 120))
			rep, err := r.Play(t.Context(), q, Options{Clock: PlainClock()})
			err = errors.Join(err, q.Close())
			time.Sleep(time.Second) // a Reopen may be under way
			if err != nil || rep.Reopened != 1 || rep.Max != 0 || in.hanging() != "" {
				t.Fatalf("gone at %v: %+v, %v, hanging %q", gone, rep, err, in.hanging())
			}
			checkAfter(t, r, in.instrument, in.back+ReopenEvery+60*time.Millisecond)
		})
	}
}

func TestQueueAllocatesNothing(t *testing.T) {
	q := NewQueue(Off{})
	defer q.Close()
	msg := []byte{noteOff, 60, 64}
	if n := testing.AllocsPerRun(1000, func() { q.Send(msg) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// Once the port is back the note-offs that it owes are sent, and then every message that
// comes: the first of them, too.
func TestQueuePaysAndGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		in, gone := newInstrument(), false
		in.fault = func(int, []byte) error {
			if gone {
				return errGone
			}
			return nil
		}
		q := NewQueue(in)
		say := func(msg ...byte) {
			q.Send(msg)
			synctest.Wait()
		}
		say(noteOn|2, 60, 80)
		gone = true
		say(noteOff|2, 60, 64)
		gone = false
		if err := q.Reopen(); err != nil {
			t.Fatal(err)
		}
		say(noteOn|2, 67, 80)
		if err := q.Close(); err != nil || in.keys[[2]byte{2, 60}] != 0 || in.keys[[2]byte{2, 67}] != 1 {
			t.Errorf("keys %v, %v", in.keys, err)
		}
	})
}
