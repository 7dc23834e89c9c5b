package timeline

import (
	"testing"
	"time"

	"onward/rhythm"

	"pgregory.net/rapid"
)

const quarter = rhythm.Offset(rhythm.Quarter)

// A quarter at 120 is half a second (Standard MIDI Files 1.0: 500,000 microseconds).
func TestTime(t *testing.T) {
	steady := &Timeline{Tempos: []Tempo{{0, 500_000}}}
	changing := &Timeline{Tempos: []Tempo{{0, 500_000}, {4 * quarter, 1_000_000}, {6 * quarter, 250_000}}}
	for _, c := range []struct {
		name string
		t    *Timeline
		at   rhythm.Offset
		want time.Duration
	}{
		{"start", steady, 0, 0},
		{"a quarter", steady, quarter, 500 * time.Millisecond},
		{"a tick", steady, 1, 49_603 * time.Nanosecond}, // 500 ms / 10,080 = 49,603.17 ns
		{"an hour", steady, 7200 * quarter, time.Hour},
		{"a thousand hours", steady, 7_200_000 * quarter, 1000 * time.Hour},
		{"at a change", changing, 4 * quarter, 2 * time.Second},
		{"after a change", changing, 5 * quarter, 3 * time.Second},
		{"after two", changing, 8 * quarter, 4500 * time.Millisecond},
		{"no tempo given", &Timeline{}, 2 * quarter, time.Second},
		{"the longest and slowest", &Timeline{Tempos: []Tempo{{0, MaxMicrosPerQuarter}}}, MaxEnd,
			// 2^38 (2^24 - 1) / 10080 microseconds, worked out apart with big integers.
			457_508_506_304_512_000 * time.Nanosecond},
	} {
		if got := c.t.Time(c.at); got != c.want {
			t.Errorf("%s: Time(%d) = %d ns, want %d", c.name, c.at, got, c.want)
		}
	}
}

// At undoes Time, and never runs ahead of the time given.
func TestAtUndoesTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := &Timeline{Tempos: []Tempo{{0, rapid.IntRange(20_000, MaxMicrosPerQuarter).Draw(t, "first")}}}
		for i := range rapid.IntRange(0, 3).Draw(t, "changes") {
			line.Tempos = append(line.Tempos, Tempo{
				At:               line.Tempos[i].At + rhythm.Offset(rapid.Int64Range(1, 1_000_000).Draw(t, "gap")),
				MicrosPerQuarter: rapid.IntRange(20_000, MaxMicrosPerQuarter).Draw(t, "tempo"),
			})
		}
		at := rhythm.Offset(rapid.Int64Range(0, 40_000_000).Draw(t, "at"))
		if got := line.At(line.Time(at)); got != at {
			t.Fatalf("At(Time(%d)) = %d", at, got)
		}
		d := time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "d"))
		o := line.At(d)
		if line.Time(o) > d || line.Time(o+1) <= d {
			t.Fatalf("At(%v) = %d, at %v; the next tick is at %v", d, o, line.Time(o), line.Time(o+1))
		}
	})
	if got := (&Timeline{}).At(-time.Second); got != 0 {
		t.Errorf("before the start: %d", got)
	}
	if got := (&Timeline{Tempos: []Tempo{{0, 1}}}).At(1 << 62); got != MaxEnd {
		t.Errorf("far beyond: %d, want %d", got, MaxEnd)
	}
}
