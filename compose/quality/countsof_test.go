package quality_test

import (
	"math"
	"testing"

	"onward/compose/tune"
)

// Values counted by hand from the notes.
func TestCountsOfASmallTune(t *testing.T) {
	// 2/4, four measures: C E | G - c (held) | held, D | rest, B-flat.
	small := &tune.Tune{Beats: 2, Unit: 4, Measures: 4, Notes: []tune.Note{
		{Onset: 0, Ticks: 24, Step: 0}, {Onset: 24, Ticks: 24, Step: 2},
		{Onset: 48, Ticks: 24, Step: 4}, {Onset: 72, Ticks: 48, Step: 7},
		{Onset: 120, Ticks: 24, Step: 1},
		{Onset: 168, Ticks: 24, Step: 6, Alter: -1},
	}}
	want := map[string]float64{
		"notes held over a barline":                 1,
		"time in rests, %":                          100 * 24. / 192,
		"measures between rests":                    4,
		"leaps wider than a fourth, %":              100 * 2. / 5, // down a seventh, up a sixth
		"measures 4, 8, 12, 16 with a long note, %": 100,
		"distinct rhythms in 16 measures":           2,
		"half measures alike, %":                    100 * 3. / 7,
		"out of key, %":                             100 * 1. / 6,
		"shape moved by steps at once, %":           0,
		"height of the last eighth, steps":          6 - 20./6,
	}
	for _, c := range counts {
		if x, ok := want[c.name]; ok {
			if got := c.of(small); math.Abs(got-x) > 1e-9 {
				t.Errorf("%s: got %g, want %g", c.name, got, x)
			}
			delete(want, c.name)
		}
	}
	for name := range want {
		t.Errorf("there is no count %q", name)
	}
}

func TestCountsOfMovedMeasuresAndBeats(t *testing.T) {
	// 6/8: a beat of three eighths and a long note, then the same a third higher.
	moved := &tune.Tune{Beats: 6, Unit: 8, Measures: 2, Notes: []tune.Note{
		{Onset: 0, Ticks: 12}, {Onset: 12, Ticks: 12, Step: 1}, {Onset: 24, Ticks: 12, Step: 2}, {Onset: 36, Ticks: 36},
		{Onset: 72, Ticks: 12, Step: 2}, {Onset: 84, Ticks: 12, Step: 3}, {Onset: 96, Ticks: 12, Step: 4}, {Onset: 108, Ticks: 36, Step: 2},
	}}
	if got := movedAtOnce(moved); got != 100 {
		t.Errorf("moved at once: got %g %%, want 100", got)
	}
	if got := threeEighths(moved); got != 50 {
		t.Errorf("beats of three eighths: got %g %%, want 50", got)
	}
	if got := halvesAlike(moved); got != 0 {
		t.Errorf("half measures alike: got %g %%, want 0", got)
	}
}
