package live

import (
	"fmt"
	"os"
	"runtime"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

const (
	// spin is how long before a deadline the thread stops sleeping and watches the
	// clock, to cover the time that waking takes.
	spin = 200 * time.Microsecond
	// slice is the scheduling slice asked for where real time is not permitted: a
	// thread that asks for little is let in sooner (Linux 6.12 and later).
	slice = 100 * time.Microsecond
	// realtime is the SCHED_FIFO priority asked for: above ordinary work, below
	// what sound servers commonly take.
	realtime = 10
)

// SystemClock is the most punctual Clock of this system: on Linux, clock_nanosleep
// to an absolute time on a locked thread, with SCHED_FIFO where it is permitted.
func SystemClock() Clock {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts); err != nil {
		return PlainClock()
	}
	return kernelClock{plainClock{time.Now()}, time.Duration(ts.Nano())}
}

// kernelClock reads time as plainClock does, which on Linux is CLOCK_MONOTONIC, and
// sleeps by the kernel's own timers. base is CLOCK_MONOTONIC at its zero.
type kernelClock struct {
	plainClock
	base time.Duration
}

func (c kernelClock) SleepUntil(t time.Duration) {
	if t-c.Now() > spin {
		ts := unix.NsecToTimespec(int64(c.base + t - spin))
		for unix.ClockNanosleep(unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME, &ts, nil) == unix.EINTR {
		}
	}
	for c.Now() < t {
	}
}

func (c kernelClock) Hold() (string, func()) {
	how, release := hold()
	return "clock_nanosleep, " + how, release
}

// hold locks the goroutine to its thread and asks for the best priority permitted.
func hold() (string, func()) {
	runtime.LockOSThread()
	old, err := unix.SchedGetAttr(0, 0)
	if err != nil {
		return "ordinary priority", runtime.UnlockOSThread
	}
	release := func() {
		back := unix.SchedAttr{Policy: old.Policy, Nice: old.Nice, Priority: old.Priority, Runtime: old.Runtime}
		if unix.SchedSetAttr(0, &back, 0) == nil {
			runtime.UnlockOSThread()
		} // else the thread stays locked and ends with its goroutine
	}
	return rank(0), release
}

// rank asks for the best priority permitted for a thread of this process, 0 being
// the caller's, and reports in words what it got.
func rank(thread int) string {
	fifo := unix.SchedAttr{Policy: unix.SCHED_FIFO, Priority: realtime}
	if unix.SchedSetAttr(thread, &fifo, 0) == nil {
		return fmt.Sprintf("SCHED_FIFO %d", realtime)
	}
	old, err := unix.SchedGetAttr(thread, 0)
	if err != nil {
		return "ordinary priority"
	}
	short := unix.SchedAttr{Policy: old.Policy, Nice: old.Nice, Runtime: uint64(slice)}
	if unix.SchedSetAttr(thread, &short, 0) == nil {
		return fmt.Sprintf("ordinary priority with a slice of %v", slice)
	}
	return "ordinary priority"
}

// rankAll ranks every thread of the process; those to come inherit it. A take needs
// this beside hold: Go's scheduler now and then has another thread give a locked
// one its turn back, and if that thread waits for a core among busy programs, the
// take waits with it (measured at a load of 12: maxima of 5 to 60 ms, with it 0.2 to
// 4.5, as a C program has).
func rankAll() {
	for range 2 { // a thread may have been born during the first round
		threads, err := os.ReadDir("/proc/self/task")
		if err != nil {
			return
		}
		for _, t := range threads {
			if id, err := strconv.Atoi(t.Name()); err == nil {
				rank(id)
			}
		}
	}
}
