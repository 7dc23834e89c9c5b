package live

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// The take's time is one that neither setting the clock nor the machine's sleep touches:
// CLOCK_BOOTTIME. CLOCK_REALTIME jumps with the time of day, CLOCK_MONOTONIC stands
// still in suspend (clock_gettime(2)).
func TestSystemClockIsBootTime(t *testing.T) {
	c, ok := SystemClock().(Sleeper)
	if !ok {
		t.Fatalf("the clock is %T", SystemClock())
	}
	var before, after unix.Timespec
	unix.ClockGettime(unix.CLOCK_BOOTTIME, &before)
	now := c.Now()
	unix.ClockGettime(unix.CLOCK_BOOTTIME, &after)
	if int64(now) < before.Nano() || int64(now) > after.Nano() {
		t.Errorf("the clock is at %v, CLOCK_BOOTTIME between %v and %v", now, before.Nano(), after.Nano())
	}
	if asleep := c.Asleep(); asleep < 0 || asleep > now {
		t.Errorf("asleep for %v of %v", asleep, now)
	}
}

// PlainClock counts on the monotonic reading of the time package; without one it would
// jump with the time of day (package time: "m=" in String).
func TestPlainClockIsMonotonic(t *testing.T) {
	if s := PlainClock().(plainClock).zero.String(); !strings.Contains(s, " m=") {
		t.Errorf("the clock counts from %s", s)
	}
}

// What hold asked for is given back.
func TestHoldGivesBack(t *testing.T) {
	done := make(chan string)
	go func() {
		defer close(done)
		was, _ := unix.SchedGetAttr(0, 0)
		slackWas, _ := unix.PrctlRetInt(unix.PR_GET_TIMERSLACK, 0, 0, 0, 0)
		how, release := hold()
		had, _ := unix.SchedGetAttr(0, 0)
		release()
		is, _ := unix.SchedGetAttr(0, 0)
		slackIs, _ := unix.PrctlRetInt(unix.PR_GET_TIMERSLACK, 0, 0, 0, 0)
		if strings.Contains(how, "SCHED_FIFO") != (had.Policy == unix.SCHED_FIFO) {
			done <- "said " + how
		}
		if is.Policy != was.Policy || is.Nice != was.Nice || slackIs != slackWas {
			done <- "not given back: " + how
		}
	}()
	select {
	case wrong, ok := <-done:
		if ok {
			t.Error(wrong)
		}
	case <-time.After(10 * time.Second):
		t.Error("hold does not return")
	}
}
