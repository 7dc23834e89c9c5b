package synth

import (
	"math"
	"testing"
	"time"
)

// Requests that come up to 5 ms late, from a device 300 millionths fast: once
// settled, frames are placed within a third of a millisecond of one another.
func TestFollowerSmoothsAndFollows(t *testing.T) {
	const period, rate = 480, 48000 * 1.0003
	f, rng := newFollower(48000), noise(3)
	var least, most float64
	for n := range 6000 {
		exact := float64(n) * period / rate
		late := rng.unit() * 0.005
		f.tick(int64(n*period), time.Duration((exact+late)*1e9))
		if n < 2000 {
			continue
		}
		off := float64(f.frameAt(time.Duration(exact*1e9))-int64(n*period)) / rate
		if n == 2000 {
			least, most = off, off
		}
		least, most = min(least, off), max(most, off)
	}
	if most-least > 0.001 {
		t.Errorf("frames wander over %.2f ms, want at most 1", 1000*(most-least))
	}
	if mean := (most + least) / 2; math.Abs(mean+0.0025) > 0.001 {
		t.Errorf("frames lie %.2f ms off, want the mean lateness of -2.5", 1000*mean)
	}
}

func TestFollowerStartsAfreshAfterAJump(t *testing.T) {
	f := newFollower(48000)
	f.tick(0, 0)
	f.tick(480, 10*time.Millisecond)
	f.tick(960, 5*time.Second) // the machine slept
	if got := f.frameAt(5*time.Second + 10*time.Millisecond); got != 960+480 {
		t.Errorf("10 ms after the jump comes frame %d, want 1440", got)
	}
}

func TestRingKeepsOrderAndCount(t *testing.T) {
	var r ring
	for round := range 3 {
		for i := range ringSize {
			if !r.push(stamped{at: time.Duration(round*ringSize + i)}) {
				t.Fatalf("no room for message %d", i)
			}
		}
		if r.push(stamped{}) {
			t.Fatal("room beyond the ring's size")
		}
		for i := range ringSize {
			s, ok := r.peek()
			if !ok || s.at != time.Duration(round*ringSize+i) {
				t.Fatalf("message %d is %v, %v", i, s.at, ok)
			}
			r.pop()
		}
		if _, ok := r.peek(); ok {
			t.Fatal("an empty ring shows a message")
		}
	}
}

// One goroutine sends, another takes, as in a take; run with -race.
func TestRingBetweenTwo(t *testing.T) {
	var r ring
	const n = 50_000
	go func() {
		for i := 0; i < n; {
			if r.push(stamped{at: time.Duration(i)}) {
				i++
			}
		}
	}()
	for i := 0; i < n; {
		if s, ok := r.peek(); ok {
			if s.at != time.Duration(i) {
				t.Fatalf("message %d is %d", i, s.at)
			}
			r.pop()
			i++
		}
	}
}
