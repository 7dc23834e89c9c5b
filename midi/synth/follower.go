package synth

import (
	"math"
	"time"
)

// A follower learns when each frame of a sound device falls on the clock. A device
// asks for frames in bursts at uneven times, and its rate is a little off what it
// says; a delay-locked loop of second order smooths the first and follows the
// second (Adriaensen, Using a DLL to filter time, 2005).
type follower struct {
	frame   int64   // a frame and
	seconds float64 // the time at which it was asked for, as smoothed
	period  float64 // seconds to the frame, as smoothed
	nominal float64
	started bool
}

// bandwidth is how fast the follower follows, in Hz: jitter of some milliseconds is
// held under a third of one, and a rate that is off is learnt within seconds.
const bandwidth = 0.1

// astray is the error in seconds from which the follower starts afresh: the device
// has stood still or jumped.
const astray = 0.25

func newFollower(rate int) *follower {
	return &follower{nominal: 1 / float64(rate), period: 1 / float64(rate)}
}

// restart forgets the past: the next tick is taken as it comes.
func (f *follower) restart() { f.started = false }

// tick tells that the device asked at time now for the frames from frame on.
func (f *follower) tick(frame int64, now time.Duration) {
	seconds := now.Seconds()
	n := float64(frame - f.frame)
	expected := f.seconds + n*f.period
	off := seconds - expected
	if !f.started || math.Abs(off) > astray {
		f.frame, f.seconds, f.period, f.started = frame, seconds, f.nominal, true
		return
	}
	if n <= 0 {
		return
	}
	w := 2 * math.Pi * bandwidth * n * f.period
	f.frame = frame
	f.seconds = expected + math.Sqrt2*w*off
	f.period += w * w * off / n
	// No device is off by more than a thousandth.
	f.period = min(max(f.period, 0.999*f.nominal), 1.001*f.nominal)
}

// frameAt reports the frame that falls at time t.
func (f *follower) frameAt(t time.Duration) int64 {
	return f.frame + int64(math.Round((t.Seconds()-f.seconds)/f.period))
}
