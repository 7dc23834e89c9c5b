package progress_test

import (
	"slices"
	"testing"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/progress"
)

var day0 = time.Date(2026, 1, 5, 18, 0, 0, 0, time.UTC)

func rungs(t testing.TB) *ladder.Ladder {
	t.Helper()
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// take is a marked take of sixteen equal measures of the rung's load, so many of them
// slipped, on a day.
func take(l *ladder.Ladder, day, rung, slips int) progress.Take {
	t := progress.Take{At: day0.AddDate(0, 0, day), Style: "march", Rung: rung, Percent: 100, StoppedAt: -1, Marked: true}
	for i := range 16 {
		t.Measures = append(t.Measures, progress.Measure{Load: l.Rungs[rung-1].Aim, Unknown: 0.1, Pitch: i < slips})
	}
	return t
}

func TestANewPlayerStartsWhereAskedOrLow(t *testing.T) {
	m := progress.Read(nil, rungs(t))
	for _, c := range []struct{ asked, low, high int }{{0, 1, 3}, {5, 5, 5}, {12, 12, 12}, {40, 12, 12}} {
		if p := m.Next(progress.Ask{Style: "march", Now: day0, Rung: c.asked}); p.Rung < c.low || p.Rung > c.high || p.Pressure != nil || len(p.Why) == 0 {
			t.Errorf("asked for rung %d: got %+v, want rung %d to %d, no pressure, and why", c.asked, p, c.low, c.high)
		}
	}
}

func TestTakesThatAreNotMarkedTeachNothing(t *testing.T) {
	l := rungs(t)
	var history []progress.Take
	for i := range 6 {
		history = append(history, take(l, i, 4, 2))
	}
	ask := progress.Ask{Style: "march", Now: day0.AddDate(0, 0, 6)}
	want := progress.Read(history, l).Next(ask)
	left := take(l, 5, 4, 16)
	left.Marked = false
	if got := progress.Read(append(slices.Clone(history), left), l).Next(ask); got.Rung != want.Rung || got.Percent != want.Percent || got.Expected != want.Expected {
		t.Errorf("after a take that was not marked: got %+v, want %+v", got, want)
	}
	left.Marked = true
	if got := progress.Read(append(slices.Clone(history), left), l).Next(ask); got.Expected >= want.Expected && got.Rung == want.Rung && got.Percent == want.Percent {
		t.Errorf("the same take, marked: got %+v, want something easier than %+v", got, want)
	}
}
