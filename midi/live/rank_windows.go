package live

import (
	"runtime"

	"golang.org/x/sys/windows"
)

// hold locks the goroutine to its thread.
func hold() (string, func()) {
	runtime.LockOSThread()
	class, err := windows.GetPriorityClass(windows.CurrentProcess())
	if err == nil && class == windows.HIGH_PRIORITY_CLASS {
		return "high priority", runtime.UnlockOSThread
	}
	return "ordinary priority", runtime.UnlockOSThread
}

// rankAll asks for a high priority for the whole process, and for timers that are
// exact to a millisecond.
func rankAll() {
	windows.SetPriorityClass(windows.CurrentProcess(), windows.HIGH_PRIORITY_CLASS)
	windows.TimeBeginPeriod(1) // until the process ends
}

// lockMemory has nothing to ask for here.
func lockMemory() string { return "memory not locked" }
