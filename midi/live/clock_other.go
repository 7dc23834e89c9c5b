//go:build !linux

package live

import "runtime"

// SystemClock is the most punctual Clock of this system: here the time package's.
func SystemClock() Clock { return PlainClock() }

// hold locks the goroutine to its thread.
func hold() (string, func()) {
	runtime.LockOSThread()
	return "ordinary priority", runtime.UnlockOSThread
}

// rankAll has nothing to ask for here.
func rankAll() {}
