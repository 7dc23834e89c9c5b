package main

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

const (
	// tapsListened is how many clicks come first, to which taps do not count.
	tapsListened = 4
	// tapsCounted is how many come then.
	tapsCounted = 32
	// tapsNeeded is how many taps must be of use.
	tapsNeeded = 12
	// tapPeriod is from click to click: 100 a minute, in the middle of what people tap
	// evenly to (Repp 2005, from memory).
	tapPeriod = 600 * time.Millisecond
	// tapEarly is how much before a click a tap may come and be meant for it; one that
	// is later than the rest of the period belongs to the next.
	tapEarly = tapPeriod / 4
	// tapUneven is the spread from which taps say nothing.
	tapUneven = 40 * time.Millisecond
)

// A tapping is what taps along with clicks say.
type tapping struct {
	offset time.Duration // median of taps against their clicks; under 0 they come early
	spread time.Duration // half of them lie no further from the median
	used   int
}

// measureTaps compares taps with clicks, both in order and on one clock. It leaves out
// the first clicks, second taps at one click, and what lies further from the median than
// three times the spread as of a normal distribution (Leys et al. 2013, from memory). It
// fails on too few taps and on taps too uneven to say anything.
func measureTaps(clicks, taps []time.Duration) (tapping, error) {
	var offsets []time.Duration
	next := 0
	for i, click := range clicks {
		for next < len(taps) && taps[next] < click-tapEarly {
			next++
		}
		if next < len(taps) && i >= tapsListened && taps[next] < click-tapEarly+tapPeriod {
			offsets = append(offsets, taps[next]-click)
		}
	}
	middle, spread := medianOf(offsets)
	limit := max(3*spread*14826/10000, 20*time.Millisecond)
	offsets = slices.DeleteFunc(offsets, func(d time.Duration) bool { return (d - middle).Abs() > limit })
	if len(offsets) < tapsNeeded {
		return tapping{}, fmt.Errorf("%d taps could be used of %d clicks: tap once with every click, from the first to the last", len(offsets), tapsCounted)
	}
	m := tapping{used: len(offsets)}
	m.offset, m.spread = medianOf(offsets)
	if m.spread > tapUneven {
		return tapping{}, fmt.Errorf("the taps lie too far apart to say anything, half of them more than %d ms from their middle: try again, with your eyes closed", m.spread.Milliseconds())
	}
	return m, nil
}

// medianOf reports the median and the median distance from it; of nothing, zeros.
func medianOf(all []time.Duration) (middle, spread time.Duration) {
	if len(all) == 0 {
		return 0, 0
	}
	middle = halfway(all)
	var away []time.Duration
	for _, d := range all {
		away = append(away, (d - middle).Abs())
	}
	return middle, halfway(away)
}

// halfway is the value in the middle, or between the two that are.
func halfway(all []time.Duration) time.Duration {
	sorted := slices.SortedFunc(slices.Values(all), cmp.Compare)
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
