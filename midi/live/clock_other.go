//go:build !linux && !darwin

package live

// SystemClock is the most punctual Clock of this system: here the time package's.
func SystemClock() Clock { return PlainClock() }
