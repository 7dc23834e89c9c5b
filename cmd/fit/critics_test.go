package main

import (
	"strings"
	"testing"

	"onward/compose"
	"onward/rhythm"
)

func TestCriticsNeedRealTunes(t *testing.T) {
	none := func(string, string, rhythm.Meter, int) (*compose.Read, error) {
		t.Error("a read was made though there is no real tune to compare it with")
		return nil, nil
	}
	if _, err := learnCritics(nil, 5, none); err == nil || !strings.Contains(err.Error(), "march 2/4: 0 real and 0 generated tunes") {
		t.Errorf("got %v, want an error that says what is lacking", err)
	}
}

// TestClosing cuts the first strain of a read, and its closing half.
func TestClosing(t *testing.T) {
	make, err := newMaker()
	if err != nil {
		t.Fatal(err)
	}
	r, err := make("march", "strain", rhythm.Meter{Beats: 2, Unit: 4}, 0)
	if err != nil {
		t.Fatal(err)
	}
	whole, half := closing(r, 16), closing(r, 8)
	if whole == nil || half == nil {
		t.Fatalf("got %v and %v, want two tunes", whole, half)
	}
	a, b := whole.ByMeasure()[8:], half.ByMeasure()
	if whole.Measures != 16 || half.Measures != 8 || len(b) != 8 {
		t.Fatalf("got %d and %d measures, want 16 and 8", whole.Measures, half.Measures)
	}
	for i := range b {
		for k := range max(len(a[i]), len(b[i])) {
			if len(a[i]) != len(b[i]) || a[i][k].Onset != b[i][k].Onset || (a[i][k].Step-b[i][k].Step)%7 != 0 {
				t.Errorf("measure %d: got %v, want %v, octaves aside", i, b[i], a[i])
				break
			}
		}
	}
}
