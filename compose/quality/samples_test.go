package quality_test

import (
	"math"
	"slices"
	"testing"
)

// measured measures the sample scores of a folder, in order of their names.
func measured(tb testing.TB, folder string) (names []string, all []weighed) {
	tb.Helper()
	parts := samples(tb, folder)
	for n := range parts {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		all = append(all, weighed{measureOf(parts[n]), 1})
	}
	return names, all
}

// TestASampleStandsInTheReference measures a sample that is one of the file's five baritone
// parts. With five melodies the file's quantiles are melodies' own figures, so that this
// one's must be among them to the last digit that the file gives.
func TestASampleStandsInTheReference(t *testing.T) {
	ref := openReference(t)
	f := measureOf(samples(t, "marches")["march-a-baritone.musicxml"])
	for _, what := range []string{steps, stepsMoving, repeats, wideLeaps, turns, onBeat, outOfKey, longest} {
		q := ref.corpora["band_march_baritone"].PerMelody[quantityNames[what]]
		all := []float64{q.P5, q.P25, q.Median, q.P75, q.P95}
		if !slices.ContainsFunc(all, func(x float64) bool { return math.Abs(x-f.values[what]) < 0.0051 }) {
			t.Errorf("%s: got %.2f, want one of %v", what, f.values[what], all)
		}
	}
}

// TestSamplesAreLikeTheReference: the samples' distributions are near those of the sets
// that they are of. The limits are a little over what three melodies give.
func TestSamplesAreLikeTheReference(t *testing.T) {
	ref := openReference(t)
	for folder, real := range map[string]*set{"marches": ref.set("band_march_cornet", "band_march_baritone"), "songs": ref.set("vocalises")} {
		_, all := measured(t, folder)
		if len(all) != 3 {
			t.Fatalf("%s: got %d samples, want 3", folder, len(all))
		}
		s := setOf(all)
		for what, limit := range map[string]float64{signed: 0.15, moves: 0.12, afterLeap: 0.1, leapAnswer: 0.08, afterStep: 0.05, positions: 0.25, inKey: 0.05, shapes: 0.3} {
			if d := kinds(real, s, what); !(d <= limit) {
				t.Errorf("%s, %s: got a distance of %.3f, want %.2f at most", folder, what, d, limit)
			}
		}
		for what, limit := range map[string]float64{contour: 0.8, spanPoints: 2, leapPoints: 2, formPoints + "rhythm": 12, formPoints + "shape": 8, formPoints + "same": 4, formRhythms: 1.5, formRun: 1} {
			if d := gap(real, s, what); !(d <= limit) {
				t.Errorf("%s, %s: got a difference of %.3f, want %.2f at most", folder, what, d, limit)
			}
		}
	}
}
