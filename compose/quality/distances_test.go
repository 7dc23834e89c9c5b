package quality_test

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9 {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

// Values by the definitions, worked out by hand.
func TestDistancesOfKinds(t *testing.T) {
	a, b, half := tally{"a": 3}, tally{"b": 8}, tally{"a": 1, "b": 1}
	near(t, "JS of equal", jensenShannon(half, tally{"a": 5, "b": 5}), 0)
	near(t, "JS of nothing in common", jensenShannon(a, b), 1)
	// Mixture 3/4, 1/4: log2(4/3)/2 + (log2(2/3)/2 + log2(2)/2)/2.
	divergence := math.Log2(4.0/3)/2 + (math.Log2(2.0/3)/2+0.5)/2
	near(t, "JS of one and half", jensenShannon(a, half), math.Sqrt(divergence))
	near(t, "JS the other way", jensenShannon(half, a), math.Sqrt(divergence))
	near(t, "overlap", overlap(a, half), 0.5)
	near(t, "entropy of a half", entropy(half), 1)
	near(t, "entropy of eight", entropy(tally{"1": 1, "2": 1, "3": 1, "4": 1, "5": 1, "6": 1, "7": 1, "8": 1}), 3)
	if x := jensenShannon(nil, a); !math.IsNaN(x) {
		t.Errorf("JS of nothing: got %v, want not a number", x)
	}
	folded := fold(tally{"a": 1, "c": 2, "d": 3}, tally{"a": 0.9, other: 0.1})
	near(t, "folded", folded[other], 5)
}

func TestOverlappingAreaOfQuantities(t *testing.T) {
	even := densityOf([5]float64{5, 25, 50, 75, 95}, 0.1) // 0 to 100
	near(t, "the same", overlapArea(even, even), 1)
	near(t, "shifted by half", overlapArea(even, densityOf([5]float64{55, 75, 100, 125, 145}, 0.1)), 0.5)
	near(t, "apart", overlapArea(even, densityOf([5]float64{205, 225, 250, 275, 295}, 0.1)), 0)
	near(t, "half as wide", overlapArea(even, densityOf([5]float64{27.5, 37.5, 50, 62.5, 72.5}, 0.1)), 0.5)
	near(t, "mean", even.mean(), 50)
	point := densityOf([5]float64{2, 2, 2, 2, 2}, 1)
	near(t, "points a half grain apart", overlapArea(point, densityOf([5]float64{2.5, 2.5, 2.5, 2.5, 2.5}, 1)), 0.5)
	near(t, "mixed", overlapArea(mix([]density{even, point}, []float64{0.5, 0.5}), point), 0.5+0.005)
}

func TestQuantile(t *testing.T) {
	values, weights := []float64{5, 1, 4, 2, 3}, []float64{1, 1, 1, 1, 1}
	for p, want := range map[float64]float64{0.05: 1, 0.2: 1.5, 0.5: 3, 0.6: 3.5, 0.95: 5} {
		near(t, "quantile", quantile(values, weights, p), want)
	}
	near(t, "heavy", quantile([]float64{1, 9}, []float64{1, 99}, 0.9), 9)
}

func TestPooling(t *testing.T) {
	a, b := newSet(), newSet()
	a.counts["x"], b.counts["x"] = tally{"k": 1}, tally{"l": 1}
	a.points["y"], b.points["y"] = []float64{1, 2}, []float64{5, 6}
	a.dense["z"] = densityOf([5]float64{5, 25, 50, 75, 95}, 0.1)
	p := poolSets([]*set{a, b}, []float64{0.75, 0.25})
	near(t, "share", p.counts["x"]["k"], 0.75)
	near(t, "point", p.points["y"][1], 3)
	near(t, "what one has", p.dense["z"].mean(), 50)
}
