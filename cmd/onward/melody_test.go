package main

import (
	"reflect"
	"slices"
	"testing"

	"onward/compose"

	"pgregory.net/rapid"
)

func TestLinesComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) compose.Line {
			n := rapid.IntRange(0, 20).Draw(t, "notes")
			return compose.Line{
				MIDI: rapid.SliceOfN(rapid.IntRange(0, 127), n, n).Draw(t, "pitches"),
				At:   rapid.SliceOfN(rapid.Int64Range(0, 1<<40), n, n).Draw(t, "starts"),
			}
		}), 0, 3).Draw(t, "lines")
		b := encodeLines(lines)
		got, err := decodeLines(b)
		if err != nil || !reflect.DeepEqual(got, lines) {
			t.Fatalf("got %v, %v, want %v", got, err, lines)
		}
		cut := rapid.IntRange(0, len(b)-1).Draw(t, "cut")
		if got, err := decodeLines(b[:cut]); err == nil {
			t.Fatalf("of %d bytes %d are enough: %v", len(b), cut, got)
		}
		if _, err := decodeLines(append(slices.Clone(b), 0)); err == nil {
			t.Fatal("a byte too many was not noticed")
		}
	})
}

func TestIntervalsComeBack(t *testing.T) {
	want := []int8{-128, -12, -1, 0, 1, 12, 127}
	if got := intervalsOf(bytesOf(want)); !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
