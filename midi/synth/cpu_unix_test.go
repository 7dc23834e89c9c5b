//go:build unix

package synth

import (
	"syscall"
	"time"
)

// cpuTime reports the processor's time that this process has used, so that speed can be
// told on a busy machine too.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
