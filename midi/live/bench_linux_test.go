package live

import (
	"runtime"
	"time"

	"golang.org/x/sys/unix"
)

// bareSleeps reports how late clock_nanosleep wakes at each of r's times.
func bareSleeps(r *Roll) (late []time.Duration) {
	runtime.LockOSThread()
	var ts unix.Timespec
	unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts)
	start := ts.Nano() + int64(Lead)
	for _, e := range r.Events {
		at := unix.NsecToTimespec(start + int64(e.At))
		for unix.ClockNanosleep(unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME, &at, nil) == unix.EINTR {
		}
		unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts)
		late = append(late, time.Duration(ts.Nano()-start)-e.At)
	}
	return late
}
