package quality_test

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// TestTheReferenceAgreesWithItself adds up what the reference file says.
func TestTheReferenceAgreesWithItself(t *testing.T) {
	ref := openReference(t)
	looked := 0
	for name, c := range ref.corpora {
		for what, parts := range map[string]tally{
			"intervals": c.Signed, "moves": {"": c.Repeat + c.Step + c.Leap}, "after a step": c.AfterStep, "positions": c.Positions,
			"after a leap": {"": c.AfterLeap["contrary"] + c.AfterLeap["same"] + c.AfterLeap["repeat"]},
			"final":        c.Finals, "start": c.Starts, "durations": c.Durations, "phrase shapes": c.Shapes,
		} {
			if parts == nil { // the fife marches have no phrases
				continue
			}
			looked++
			slack := 0.1
			if what == "durations" { // the commonest alone
				slack = 5
			}
			if s := sum(parts); s > 100.1 || s < 100-slack {
				t.Errorf("%s, %s: got %.2f in all, want 100", name, what, s)
			}
		}
		if s := c.Signed["+1"] + c.Signed["-1"] + c.Signed["+2"] + c.Signed["-2"]; math.Abs(s-c.Step) > 0.05 {
			t.Errorf("%s: got %.2f steps among the intervals, want %.2f", name, s, c.Step)
		}
		level := 0.0
		for _, x := range c.Contour {
			level += x
		}
		if math.Abs(level) > 0.1 {
			t.Errorf("%s: got a contour that sums to %.2f, want 0", name, level)
		}
		for what, q := range c.PerMelody {
			if q.P5 > q.P25 || q.P25 > q.Median || q.Median > q.P75 || q.P75 > q.P95 {
				t.Errorf("%s, %s: quantiles out of order: %v", name, what, q)
			}
		}
		for meter, list := range c.Rhythms {
			rhythmsFill(t, name, meter, list)
		}
	}
	if looked < 100 {
		t.Errorf("only %d distributions were looked at", looked)
	}
}

func sum(t tally) float64 {
	s := 0.0
	for _, k := range keysOf(t) {
		s += t[k]
	}
	return s
}

// rhythmsFill looks whether each of a meter's rhythms fills its measure.
func rhythmsFill(t *testing.T, name, meter string, list rhythmList) {
	t.Helper()
	if s := sum(tally(list)); s > 100.1 {
		t.Errorf("%s, rhythms in %s: got %.2f in all, want 100 at most", name, meter, s)
	}
	up, low, _ := strings.Cut(meter, "/")
	beats, _ := strconv.Atoi(up)
	unit, _ := strconv.Atoi(low)
	want := 4 * float64(beats) / float64(unit)
	for r := range list {
		got := 0.0
		for _, word := range strings.Fields(r) {
			a, b, isFraction := strings.Cut(word, "/")
			x, _ := strconv.ParseFloat(a, 64)
			if isFraction {
				y, _ := strconv.ParseFloat(b, 64)
				x /= y
			}
			got += x
		}
		if math.Abs(got-want) > 0.02 {
			t.Errorf("%s: rhythm %q in %s: got %.2f quarters, want %.2f", name, r, meter, got, want)
		}
	}
}
