package progress

import "math"

// A normal is a normal distribution.
type normal struct{ mean, variance float64 }

// A belief is what is believed of parts of ability, normal all together. The zero belief
// has no parts.
type belief struct {
	index map[part]int
	mean  []float64
	cov   [][]float64
}

// A part is one that ability is the sum of.
type part struct{ kind, name string }

// A term is a part times how much it counts in a measure.
type term struct {
	at    int // in the belief
	times float64
}

// A weighed is a part, what is believed of it before it was met, and how much it counts.
type weighed struct {
	part
	prior normal
	times float64
}

// enter lists the parts as terms; those not met before enter with their priors.
func (b *belief) enter(parts ...weighed) []term {
	var out []term
	for _, p := range parts {
		at, met := b.index[p.part]
		if !met {
			at = b.add(p)
		}
		out = append(out, term{at, p.times})
	}
	return out
}

func (b *belief) add(p weighed) int {
	if b.index == nil {
		b.index = map[part]int{}
	}
	n := len(b.mean)
	b.index[p.part] = n
	b.mean = append(b.mean, p.prior.mean)
	for i := range b.cov {
		b.cov[i] = append(b.cov[i], 0)
	}
	b.cov = append(b.cov, make([]float64, n+1))
	b.cov[n][n] = p.prior.variance
	return n
}

// guess is the distribution of the sum of the parts; it changes nothing.
func (b *belief) guess(parts ...weighed) normal {
	var terms []term
	var absent normal
	for _, p := range parts {
		if at, met := b.index[p.part]; met {
			terms = append(terms, term{at, p.times})
			continue
		}
		absent.mean += p.times * p.prior.mean
		absent.variance += p.times * p.times * p.prior.variance
	}
	n := b.sum(terms)
	return normal{n.mean + absent.mean, n.variance + absent.variance}
}

// leave takes away all parts but the first n that entered.
func (b *belief) leave(n int) {
	for p, at := range b.index {
		if at >= n {
			delete(b.index, p)
		}
	}
	b.mean, b.cov = b.mean[:n], b.cov[:n]
	for i := range b.cov {
		b.cov[i] = b.cov[i][:n]
	}
}

// with reports how each part goes with the sum of the terms.
func (b *belief) with(terms []term) []float64 {
	out := make([]float64, len(b.mean))
	for i := range out {
		for _, t := range terms {
			out[i] += b.cov[i][t.at] * t.times
		}
	}
	return out
}

// sum is the distribution of the sum of the terms.
func (b *belief) sum(terms []term) normal {
	with, n := b.with(terms), normal{}
	for _, t := range terms {
		n.mean += t.times * b.mean[t.at]
		n.variance += t.times * with[t.at]
	}
	return n
}

// learn moves all parts by what was learned of a sum that the terms belong to: it was
// before, and is after.
func (b *belief) learn(terms []term, before, after normal) {
	shift := (after.mean - before.mean) / before.variance
	shrink := (before.variance - after.variance) / (before.variance * before.variance)
	with := b.with(terms)
	for i := range b.mean {
		b.mean[i] += with[i] * shift
		for j := range b.mean {
			b.cov[i][j] -= with[i] * with[j] * shrink
		}
	}
}

// sweeps is how often each measure of a take is gone over at most, until nothing moves by
// more than settled of a deviation.
const (
	sweeps  = 8
	settled = 0.01
)

// propagate learns from measures that each see a sum of terms. What each one taught is taken
// out again and learned anew in the light of all others, until it stays the same, so that
// their order counts for nothing: expectation propagation (Minka, "Expectation propagation
// for approximate Bayesian inference", 2001; from memory).
func (b *belief) propagate(terms [][]term, see func(i int, n normal) normal) {
	taught := make([]natural, len(terms))
	for range sweeps {
		moved := 0.0
		for i := range terms {
			now := b.sum(terms[i])
			without := now.natural().less(taught[i])
			if without.precision <= 0 {
				continue
			}
			after := see(i, without.normal())
			taught[i] = after.natural().less(without)
			b.learn(terms[i], now, after)
			moved = max(moved, math.Abs(after.mean-now.mean)/math.Sqrt(now.variance))
		}
		if moved < settled {
			return
		}
	}
}

// A natural is a normal distribution by precision and mean times precision; multiplying two
// adds them.
type natural struct{ precision, shift float64 }

func (n normal) natural() natural { return natural{1 / n.variance, n.mean / n.variance} }

func (n natural) normal() normal { return normal{n.shift / n.precision, 1 / n.precision} }

func (n natural) less(o natural) natural {
	return natural{n.precision - o.precision, n.shift - o.shift}
}

// marks is the share of measures that are marked wrongly, either way: nobody remembers
// every measure, and without it one odd slip in an easy measure would weigh too much.
const marks = 0.03

// likelihood reports how likely the mark is at a margin of ability over load, in slopes.
func likelihood(margin float64, right bool) float64 {
	p := marks + (1-2*marks)*logistic(margin)
	if right {
		return p
	}
	return 1 - p
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// steps is how many steps of a grid cover a distribution to five deviations either way;
// sums over it are exact to some parts in a million for likelihoods that are not steep.
const steps = 40

// see reports the distribution of a margin, in logarithms of load, after a measure was
// marked so: Bayes' rule on a grid, and of the result mean and variance.
func (n normal) see(right bool) normal {
	sd := math.Sqrt(n.variance)
	var weight, mean, square float64
	for i := range steps + 1 {
		z := 10*float64(i)/steps - 5
		x := n.mean + sd*z
		w := math.Exp(-z*z/2) * likelihood(x/slope, right)
		weight, mean, square = weight+w, mean+w*x, square+w*x*x
	}
	mean /= weight
	return normal{mean, max(square/weight-mean*mean, 1e-9)}
}

// right reports the chance that a measure with so large a margin comes out right:
// the logistic averaged over the distribution, by the approximation of MacKay ("The
// evidence framework applied to classification networks", 1992; from memory).
func (n normal) right() float64 {
	return logistic(n.mean / slope / math.Sqrt(1+math.Pi/8*n.variance/(slope*slope)))
}
