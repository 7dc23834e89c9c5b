package quality_test

import (
	"fmt"
	"maps"
	"math"
	"strings"
	"testing"

	"onward/compose/score"
)

// measureText measures music in compact text.
func measureText(t *testing.T, text string) *figures {
	t.Helper()
	p, err := score.ParseText(text)
	if err != nil {
		t.Fatal(err)
	}
	return measureOf(&p)
}

// Values counted by hand from the lines.
func TestCountsOfSmallLines(t *testing.T) {
	const plain = "key C major; 2/4 treble C4:8 D4:8 E4:8 E4:8 | G4:4 C5:4 | B4:8 G4:8~ G4:4 |]"
	const leaps = "key C major; 4/4 treble C4:4 A4:4 G4:4 r:4 | C4:4 C5:4 C5:4 D4:4 | C4:4 E4:4 C4:4 E4:4 |]"
	const pickup = "key G major; 6/8 treble D4:8 | {A4}G4:4. B4:4 F4:8 | E4:2.~ | E4:4. D4:4 |]"
	for _, c := range []struct {
		line, what string
		want       tally
	}{
		{plain, signed, tally{"0": 1, "+2": 2, "+3": 1, "+5": 1, "-1": 1, "-4": 1}},
		{plain, moves, tally{"repeat": 1, "step": 3, "leap": 3}},
		{plain, positions, tally{"downbeat": 3, "half_bar": 2, "offbeat": 3}},
		{plain, durations, tally{"1/2": 5, "1": 2, "3/2": 1}},
		{plain, syncopation, tally{"syncopated": 1, "not": 7}},
		{plain, rhythms + "2/4", tally{"1/2 1/2 1/2 1/2": 1, "1 1": 1, "1/2 3/2": 1}},
		{plain, pairs + "2/4", tally{"1/2 1/2 1/2 1/2 | 1 1": 1, "1 1 | 1/2 3/2": 1}},
		{plain, starts, tally{"1": 1}},
		{plain, finals, tally{"5": 1}},
		{plain, afterStep, tally{"same": 2, "repeat": 1}},
		{leaps, signed, tally{"+9": 1, "-2": 2, "-7": 1, "+12": 1, "0": 1, "other_down": 1, "+4": 2, "-4": 1}},
		{leaps, afterLeap, tally{"contrary": 2, "same": 1, "repeat": 1}},
		{leaps, leapAnswer, tally{"contrary_step": 1, "other": 3}},
		{leaps, positions, tally{"downbeat": 3, "half_bar": 3, "other_beat": 5}},
		{leaps, rhythms + "4/4", tally{"1 1 1 1": 2}},
		{leaps, pairs + "4/4", tally{"1 1 1 1 | 1 1 1 1": 1}},
		{pickup, positions, tally{"downbeat": 2, "half_bar": 2, "offbeat": 2}},
		{pickup, durations, tally{"1/2": 2, "3/2": 1, "1": 2, "9/2": 1}},
		{pickup, inKey, tally{"in": 5, "out": 1}},
		{pickup, starts, tally{"5": 1}},
		{pickup, rhythms + "6/8", tally{"3/2 1 1/2": 1, "3": 1}},
	} {
		got := measureText(t, c.line).counts[c.what]
		if !maps.Equal(got, c.want) {
			t.Errorf("%s of %s:\n got %v\nwant %v", c.what, c.line, got, c.want)
		}
	}
}

func TestQuantitiesOfSmallLines(t *testing.T) {
	const plain = "key C major; 2/4 treble C4:8 D4:8 E4:8 E4:8 | G4:4 C5:4 | B4:8 G4:8~ G4:4 |]"
	const form = "key C major; 2/4 treble C4:4 D4:4 | F4:4 G4:4 | C4:4 D4:4 | R | C4:4 D4:4 | C4:8 D4:4. |]"
	for _, c := range []struct {
		line, what string
		want       float64
	}{
		{plain, steps, 300.0 / 7}, {plain, stepsMoving, 50}, {plain, repeats, 100.0 / 7}, {plain, wideLeaps, 0},
		{plain, turns, 100.0 / 5}, {plain, onBeat, 62.5}, {plain, outOfKey, 0}, {plain, perMeasure, 8.0 / 3},
		{plain, longest, 2}, {plain, span, 12}, {plain, largest, 5}, {plain, distinct, 1},
		{form, distinct, 2.0 / 5}, {form, perMeasure, 2},
		{form, likeness("rhythm", 1), 100 * 2.0 / 5}, {form, likeness("shape", 1), 100 * 2.0 / 5}, {form, likeness("same", 1), 0},
		{form, likeness("same", 2), 100 * 2.0 / 5}, {form, likeness("same", 4), 100 * 1.0 / 5}, {form, likeness("same", 8), 0},
		{form, rhythmRun, 4},
	} {
		if got := measureText(t, c.line).values[c.what]; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s of %s: got %v, want %v", c.what, c.line, got, c.want)
		}
	}
}

func TestContourOfFourMeasures(t *testing.T) {
	f := measureText(t, "key C major; 4/4 treble C4:1 | E4:1 | G4:1 | C4:1 |]")
	// Times 0, 1.6 ... 16 quarters: three in C, two in E, three in G, three in C.
	mean := (60*6 + 64*2 + 67*3) / 11.0
	want := [11]float64{60, 60, 60, 64, 64, 67, 67, 67, 60, 60, 60}
	for i := range want {
		if math.Abs(f.contour[i]-(want[i]-mean)) > 1e-9 {
			t.Errorf("time %d: got %.3f, want %.3f", i, f.contour[i], want[i]-mean)
		}
	}
	if f.phrases != 1 || f.counts[shapes]["convex (arch)"] != 1 {
		t.Errorf("got %v phrases, %v, want one arch", f.phrases, f.counts[shapes])
	}
}

func TestShapes(t *testing.T) {
	for notes, want := range map[string]string{
		"C4 E4 G4": "ascending", "G4 E4 C4": "descending", "C4 G4 C4": "convex (arch)", "G4 C4 G4": "concave",
		"C4 C4 G4": "horiz-asc", "C4 C4 A3": "horiz-desc", "C4 C4 C4": "horizontal", "C4 G4 G4": "asc-horizontal", "G4 C4 C4": "desc-horizontal",
	} {
		n := strings.Fields(notes)
		f := measureText(t, fmt.Sprintf("key C major; 2/4 treble %s:2 | %s:2 | R | %s:2 |]", n[0], n[1], n[2]))
		if f.counts[shapes][want] != 1 {
			t.Errorf("%s: got %v, want %s", notes, f.counts[shapes], want)
		}
	}
}
