package quality_test

import "testing"

// guarded are the largest distances that reads of rungs 6 and 9 may have from real
// melodies; wide, so that only what spoils the music fails.
var guarded = map[string]map[string]float64{
	"march": {
		signed + " (JS)": 0.28, moves + " (JS)": 0.18, afterLeap + " (JS)": 0.3, afterStep + " (JS)": 0.25, finals + " (JS)": 0.3,
		inKey + " (JS)": 0.22, shapes + " (JS)": 0.25, contour + " (st)": 0.7, steps + " (area)": 0.75, turns + " (area)": 0.85,
		formPoints + "rhythm, 5 lags (points)": 12, formRhythms: 2.5, formRun: 5.5,
	},
	"lyrical": {
		signed + " (JS)": 0.28, moves + " (JS)": 0.2, afterLeap + " (JS)": 0.4, afterStep + " (JS)": 0.25, finals + " (JS)": 0.3,
		inKey + " (JS)": 0.22, shapes + " (JS)": 0.42, contour + " (st)": 1.8, steps + " (area)": 0.6, turns + " (area)": 0.7,
		durations + " (JS)": 0.6, positions + " (JS)": 0.3, formRhythms: 2.5, formRun: 4,
	},
}

// TestReadsAreLikeRealMelodies looks that no change has taken the reads far away.
func TestReadsAreLikeRealMelodies(t *testing.T) {
	ref := openReference(t)
	for style, limits := range guarded {
		table := newTable(t, ref, style, 20, 0, []int{6, 9})
		looked := 0
		for i := range table.lines {
			l := &table.lines[i]
			limit, ok := limits[l.name]
			if !ok {
				continue
			}
			looked++
			for k, d := range l.rungs {
				if !(d <= limit) {
					t.Errorf("%s, rung %d, %s: got %.3f, want %.2f at most\n%s", style, table.rungs[k], l.name, d, limit, l.detail)
				}
			}
		}
		if looked != len(limits) {
			t.Errorf("%s: %d rows were looked at, want %d: a name in the limits is no row's", style, looked, len(limits))
		}
	}
}
