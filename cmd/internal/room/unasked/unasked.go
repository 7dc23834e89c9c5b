// Package unasked keeps a program that can open the room from asking the terminal for its
// colours whenever it starts, whatever it is started for.
//
// Bubble Tea asks when it is loaded, and waits up to five seconds for the answer; the room
// has no use for it. It does not ask a terminal named "dumb", so the terminal is named so
// until Restore. A package that imports as little as this one is initialized before any that
// Bubble Tea needs: the Go specification has packages that are ready initialized in the
// order of their import paths, and text/template, which Bubble Tea needs, comes after
// "onward".
package unasked

import "os"

var term, set = os.LookupEnv("TERM")

func init() { os.Setenv("TERM", "dumb") }

// Restore gives the terminal its name back.
func Restore() {
	if set {
		os.Setenv("TERM", term)
		return
	}
	os.Unsetenv("TERM")
}
