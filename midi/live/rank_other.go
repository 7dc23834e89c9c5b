//go:build unix && !linux

package live

import (
	"fmt"
	"runtime"

	"golang.org/x/sys/unix"
)

// nice is the priority asked for, which takes the rights of an administrator.
const nice = -10

// hold locks the goroutine to its thread.
func hold() (string, func()) {
	runtime.LockOSThread()
	if n, err := unix.Getpriority(unix.PRIO_PROCESS, 0); err == nil && n == nice {
		return fmt.Sprintf("nice %d", nice), runtime.UnlockOSThread
	}
	return "ordinary priority", runtime.UnlockOSThread
}

// rankAll asks for a better priority for the whole process.
func rankAll() { unix.Setpriority(unix.PRIO_PROCESS, 0, nice) }

// lockMemory has nothing to ask for here: macOS locks no whole process.
func lockMemory() string { return "memory not locked" }
