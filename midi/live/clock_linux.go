package live

import (
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// spin is how long before a deadline the thread stops sleeping and watches the
// clock, to cover the time that waking takes.
const spin = 200 * time.Microsecond

// SystemClock is the most punctual Clock of this system: on Linux, clock_nanosleep
// to an absolute time on a locked thread, with SCHED_FIFO where it is permitted. Its
// time is CLOCK_BOOTTIME, which setting the clock does not change and which goes on
// while the machine sleeps: a lid that is shut stops no band.
func SystemClock() Clock {
	if _, err := read(unix.CLOCK_BOOTTIME); err != nil {
		return PlainClock()
	}
	return kernelClock{}
}

// kernelClock reads time and sleeps by the kernel; its zero is the kernel's.
type kernelClock struct{}

// read reads a clock of the kernel's, without leave of Go's scheduler: it takes less
// than a microsecond.
func read(clock int) (time.Duration, error) {
	var ts unix.Timespec
	if _, _, err := unix.RawSyscall(unix.SYS_CLOCK_GETTIME, uintptr(clock), uintptr(unsafe.Pointer(&ts)), 0); err != 0 {
		return 0, err
	}
	return time.Duration(ts.Nano()), nil
}

func (kernelClock) Now() time.Duration {
	now, _ := read(unix.CLOCK_BOOTTIME) // SystemClock has tried it
	return now
}

// Asleep reports how long the machine has slept since it was started.
func (c kernelClock) Asleep() time.Duration {
	awake, _ := read(unix.CLOCK_MONOTONIC)
	return c.Now() - awake
}

func (kernelClock) common() {}

func (c kernelClock) SleepUntil(t time.Duration) {
	if t-c.Now() > spin {
		ts := unix.NsecToTimespec(int64(t - spin))
		for unix.ClockNanosleep(unix.CLOCK_BOOTTIME, unix.TIMER_ABSTIME, &ts, nil) == unix.EINTR {
		}
	}
	for c.Now() < t {
	}
}

func (kernelClock) Hold() (string, func()) {
	how, release := hold()
	return "clock_nanosleep, " + how, release
}
