package main

import (
	"runtime"
	"runtime/debug"
	"time"
	"unsafe"

	"onward/midi/live"

	"golang.org/x/sys/unix"
)

// bareSleeps notes how late clock_nanosleep wakes at each of roll's times, and reports
// what priority was had. The system is called as C would, past Go's scheduler.
func bareSleeps(roll *live.Roll, late []time.Duration) string {
	debug.SetGCPercent(-1)
	runtime.LockOSThread()
	how := "ordinary priority"
	fifo := unix.SchedAttr{Policy: unix.SCHED_FIFO, Priority: 10}
	if unix.SchedSetAttr(0, &fifo, 0) == nil {
		how = "SCHED_FIFO 10"
	}
	unix.Mlockall(unix.MCL_CURRENT | unix.MCL_ONFAULT)
	start := bareNow() + live.Lead + floorShift
	for i, e := range roll.Events {
		ts := unix.NsecToTimespec(int64(start + e.At))
		for {
			_, _, err := unix.RawSyscall6(unix.SYS_CLOCK_NANOSLEEP, unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME, uintptr(unsafe.Pointer(&ts)), 0, 0, 0)
			if err != unix.EINTR {
				break
			}
		}
		late[i] = bareNow() - start - e.At
	}
	return "clock_nanosleep, " + how
}

func bareNow() time.Duration {
	var ts unix.Timespec
	unix.RawSyscall(unix.SYS_CLOCK_GETTIME, unix.CLOCK_MONOTONIC, uintptr(unsafe.Pointer(&ts)), 0)
	return time.Duration(ts.Nano())
}
