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
	// realtime is the SCHED_FIFO priority asked for: above ordinary work, below
	// what sound servers commonly take.
	realtime = 10
	// nice and slice are asked for where real time is not permitted: a thread that
	// asks for little at a time is let in sooner (Linux 6.12 and later).
	nice  = -10
	slice = 100 * time.Microsecond
	// slack is how late the kernel may wake an ordinary thread to save current; it is
	// 50 µs unless asked for, and none in real time (prctl(2)).
	slack = time.Nanosecond
)

// hold locks the goroutine to its thread and asks for the best priority permitted.
func hold() (string, func()) {
	runtime.LockOSThread()
	old, err := unix.SchedGetAttr(0, 0)
	if err != nil {
		return "ordinary priority", runtime.UnlockOSThread
	}
	was, unknown := unix.PrctlRetInt(unix.PR_GET_TIMERSLACK, 0, 0, 0, 0)
	how := rank(0)
	if unix.Prctl(unix.PR_SET_TIMERSLACK, uintptr(slack), 0, 0, 0) == nil {
		how += fmt.Sprintf(", timer slack %v", slack)
	}
	release := func() {
		back := unix.SchedAttr{Policy: old.Policy, Nice: old.Nice, Priority: old.Priority, Runtime: old.Runtime}
		if unix.SchedSetAttr(0, &back, 0) != nil || unknown != nil ||
			unix.Prctl(unix.PR_SET_TIMERSLACK, uintptr(was), 0, 0, 0) != nil {
			return // the thread stays locked and ends with its goroutine
		}
		runtime.UnlockOSThread()
	}
	return how, release
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
	first := unix.SchedAttr{Policy: old.Policy, Nice: nice, Runtime: uint64(slice)}
	if unix.SchedSetAttr(thread, &first, 0) == nil {
		return fmt.Sprintf("nice %d with a slice of %v", nice, slice)
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

// lockMemory keeps the process's memory from being swapped out, and reports in words
// what it got. Memory taken later is left out: where a limit stands, locking that
// would end the process when it is reached (mlockall(2), MCL_FUTURE).
func lockMemory() string {
	if unix.Mlockall(unix.MCL_CURRENT|unix.MCL_ONFAULT) == nil {
		return "memory locked"
	}
	return "memory not locked"
}
