package live

import (
	"time"

	"golang.org/x/sys/unix"
)

// SystemClock is the most punctual Clock of this system: here time.Sleep's, but on
// CLOCK_MONOTONIC, which on macOS goes on while the machine sleeps (clock_gettime(3))
// as the time package's does not.
func SystemClock() Clock {
	if _, err := awakeOrNot(); err != nil {
		return PlainClock()
	}
	return darwinClock{}
}

type darwinClock struct{}

func awakeOrNot() (time.Duration, error) {
	var ts unix.Timespec
	err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts)
	return time.Duration(ts.Nano()), err
}

func (darwinClock) Now() time.Duration {
	now, _ := awakeOrNot() // SystemClock has tried it
	return now
}

func (darwinClock) common() {}

func (c darwinClock) SleepUntil(t time.Duration) { time.Sleep(t - c.Now()) }

func (darwinClock) Hold() (string, func()) {
	how, release := hold()
	return "time.Sleep, " + how, release
}
