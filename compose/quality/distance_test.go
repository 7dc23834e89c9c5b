package quality_test

import (
	"cmp"
	"math"
	"slices"
)

// share makes a tally sum to 1. Of nothing it is nil.
func share(t tally) tally {
	sum := 0.0
	for _, x := range t {
		sum += x
	}
	if sum == 0 {
		return nil
	}
	out := tally{}
	for k, x := range t {
		out[k] = x / sum
	}
	return out
}

// pool adds tallies of shares by weight.
func pool(tallies []tally, weights []float64) tally {
	out := tally{}
	for i, t := range tallies {
		for k, x := range t {
			out[k] += weights[i] * x
		}
	}
	return out
}

// keysOf lists the kinds of the tallies in order, so that sums have one order.
func keysOf(tallies ...tally) []string {
	var keys []string
	for _, t := range tallies {
		for k := range t {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// jensenShannon reports the Jensen-Shannon distance of two distributions: the square
// root of the divergence to base 2, 0 for the same and 1 for nothing in common
// (Lin 1991; the root is a metric, Endres and Schindelin 2003).
func jensenShannon(a, b tally) float64 {
	a, b = share(a), share(b)
	if a == nil || b == nil {
		return math.NaN()
	}
	sum := 0.0
	for _, k := range keysOf(a, b) {
		m := (a[k] + b[k]) / 2
		if a[k] > 0 {
			sum += a[k] * math.Log2(a[k]/m) / 2
		}
		if b[k] > 0 {
			sum += b[k] * math.Log2(b[k]/m) / 2
		}
	}
	return math.Sqrt(max(sum, 0))
}

// overlap reports the area that two distributions share: the sum of minima, 0 to 1.
func overlap(a, b tally) float64 {
	a, b = share(a), share(b)
	if a == nil || b == nil {
		return math.NaN()
	}
	sum := 0.0
	for _, k := range keysOf(a, b) {
		sum += min(a[k], b[k])
	}
	return sum
}

// entropy reports the entropy of a distribution in bits.
func entropy(t tally) float64 {
	t = share(t)
	if t == nil {
		return math.NaN()
	}
	sum := 0.0
	for _, k := range keysOf(t) {
		if t[k] > 0 {
			sum -= t[k] * math.Log2(t[k])
		}
	}
	return sum
}

// A slab is a share of melodies spread evenly over a range of a quantity.
type slab struct{ low, high, mass float64 }

// A density is a distribution of a quantity as slabs.
type density []slab

// atQuantiles are the shares at which the reference file gives quantiles.
var atQuantiles = [5]float64{0.05, 0.25, 0.5, 0.75, 0.95}

// quantile reports a sample's quantile p, 0 to 1, with linear interpolation between its
// values, each of which stands in the middle of its weight.
func quantile(values, weights []float64, p float64) float64 {
	order := make([]int, len(values))
	total := 0.0
	for i, w := range weights {
		order[i] = i
		total += w
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(values[a], values[b]) })
	sum, before := 0.0, 0.0
	for k, i := range order {
		mid := (sum + weights[i]/2) / total
		switch {
		case mid < p:
		case k == 0:
			return values[i]
		default:
			low := values[order[k-1]]
			return low + (p-before)/(mid-before)*(values[i]-low)
		}
		sum, before = sum+weights[i], mid
	}
	return values[order[len(order)-1]]
}

// densityOf makes a density of quantiles: even between two of them, and beyond the
// outer ones as dense as beside them. No slab is narrower than grain, the smallest
// difference that counts.
func densityOf(q [5]float64, grain float64) density {
	lower, upper := (q[1]-q[0])/4, (q[4]-q[3])/4
	edges := []float64{q[0] - lower, q[0], q[1], q[2], q[3], q[4], q[4] + upper}
	masses := []float64{0.05, 0.2, 0.25, 0.25, 0.2, 0.05}
	var d density
	for i, m := range masses {
		s := slab{edges[i], edges[i+1], m}
		if s.high-s.low < grain {
			mid := (s.low + s.high) / 2
			s.low, s.high = mid-grain/2, mid+grain/2
		}
		d = append(d, s)
	}
	return d
}

// mix pools densities by weight; the weights sum to 1.
func mix(densities []density, weights []float64) density {
	var out density
	for i, d := range densities {
		for _, s := range d {
			out = append(out, slab{s.low, s.high, s.mass * weights[i]})
		}
	}
	return out
}

// at reports the density at x.
func (d density) at(x float64) float64 {
	sum := 0.0
	for _, s := range d {
		if s.low <= x && x < s.high {
			sum += s.mass / (s.high - s.low)
		}
	}
	return sum
}

// mean reports the mean of a density; not a number of none.
func (d density) mean() float64 {
	sum, mass := 0.0, 0.0
	for _, s := range d {
		sum, mass = sum+s.mass*(s.low+s.high)/2, mass+s.mass
	}
	return sum / mass
}

// overlapArea reports the area that two densities share, 0 to 1.
func overlapArea(a, b density) float64 {
	var edges []float64
	for _, s := range slices.Concat(a, b) {
		edges = append(edges, s.low, s.high)
	}
	slices.Sort(edges)
	sum := 0.0
	for i := 1; i < len(edges); i++ {
		if w := edges[i] - edges[i-1]; w > 0 {
			mid := (edges[i] + edges[i-1]) / 2
			sum += w * min(a.at(mid), b.at(mid))
		}
	}
	return sum
}
