//go:build !linux

package live

import "time"

// bareSleeps reports how late time.Sleep wakes at each of r's times.
func bareSleeps(r *Roll) (late []time.Duration) {
	start := time.Now().Add(Lead)
	for _, e := range r.Events {
		time.Sleep(time.Until(start.Add(e.At)))
		late = append(late, time.Since(start)-e.At)
	}
	return late
}
