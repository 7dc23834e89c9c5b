//go:build !linux

package main

import (
	"time"

	"onward/midi/live"
)

// bareSleeps notes how late time.Sleep wakes at each of roll's times.
func bareSleeps(roll *live.Roll, late []time.Duration) string {
	start := time.Now().Add(live.Lead + floorShift)
	for i, e := range roll.Events {
		time.Sleep(time.Until(start.Add(e.At)))
		late[i] = time.Since(start) - e.At
	}
	return "time.Sleep"
}
