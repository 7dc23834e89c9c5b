package live

import "time"

// A Clock is what a take is timed by. It must go on while the process is stopped, and
// setting the time of day must not change it. Where the system allows it goes on while
// the machine sleeps, too: what a player misses is past, with a lid shut as with a lip
// that tires, and the band is where it would have been.
type Clock interface {
	// Now reports the time since a zero of the clock's own; it never goes back.
	Now() time.Duration
	// SleepUntil returns when Now has reached t, at once if it has. It does not
	// allocate.
	SleepUntil(t time.Duration)
	// Hold readies the calling goroutine for punctual sleeping and reports in words
	// what it got. Release undoes it, on the same goroutine.
	Hold() (how string, release func())
}

// A Sleeper is a Clock that knows how long the machine has slept in all.
type Sleeper interface {
	Clock
	Asleep() time.Duration
}

// A Common is a Clock whose zero is the same for all programs of the machine, until it
// is started again: what one program reads on it tells another when that was.
type Common interface {
	Clock
	common()
}

// PlainClock is the Clock of the time package alone. Its lateness is that of
// time.Sleep: around a millisecond when the machine is idle. On Linux and macOS it
// stands still while the machine sleeps. Under testing/synctest it keeps the bubble's
// time.
func PlainClock() Clock { return plainClock{time.Now()} }

type plainClock struct{ zero time.Time }

func (c plainClock) Now() time.Duration         { return time.Since(c.zero) }
func (c plainClock) SleepUntil(t time.Duration) { time.Sleep(t - c.Now()) }

// Hold asks for nothing: a bubble of synctest has no thread to lock.
func (c plainClock) Hold() (string, func()) { return "time.Sleep", func() {} }
