// Package fit learns an idiom from tunes: the weights of the line by penalised maximum
// likelihood, rhythms and first notes by counting, forms as they are.
package fit

import (
	"slices"

	"onward/compose/idiom"
)

// An example is one note: the rows of weights of its context, its interval from the note
// before, from 0, and how much it counts.
type example struct {
	rows     []int
	interval int
	weight   float64
}

// A logLinear is the model of the chance of the next interval: the weights of an example's
// rows are added and made into chances.
type logLinear struct {
	examples []example
	penalty  float64 // half of it times the squared distance of the weights from prior is added to the loss
	prior    []float64
}

// gradient puts the gradient of the loss into grad: of the negative logarithm of the
// likelihood of the examples, with its penalty. Weights and grad are by
// [row*idiom.Intervals+interval]. Products are made float64, and powers are our own, so that
// it is the same on every machine.
func (l *logLinear) gradient(weights, grad []float64) {
	for i, w := range weights {
		grad[i] = l.penalty * (w - l.prior[i])
	}
	for i := range l.examples {
		e := &l.examples[i]
		chance := e.chances(weights)
		for k := range chance {
			chance[k] *= e.weight
		}
		chance[e.interval] -= e.weight
		for _, row := range e.rows {
			g := (*[idiom.Intervals]float64)(grad[row*idiom.Intervals:])
			for k, c := range chance {
				g[k] += c
			}
		}
	}
}

// chances reports the chances of the intervals in the context of an example.
func (e *example) chances(weights []float64) [idiom.Intervals]float64 {
	var chance [idiom.Intervals]float64
	for _, row := range e.rows {
		for k, w := range (*[idiom.Intervals]float64)(weights[row*idiom.Intervals:]) {
			chance[k] += w
		}
	}
	most, total := slices.Max(chance[:]), 0.0
	for k, s := range chance {
		chance[k] = power(s - most)
		total += chance[k]
	}
	for k := range chance {
		chance[k] /= total
	}
	return chance
}

// fit reports the weights with the least loss. Rows that no example has stay as in prior.
func (l *logLinear) fit(rounds int) []float64 {
	at := map[int]int{} // of the rows that examples have, among all rows
	var used []int
	own := logLinear{penalty: l.penalty}
	for _, e := range l.examples {
		rows := make([]int, len(e.rows))
		for i, row := range e.rows {
			k, ok := at[row]
			if !ok {
				k = len(used)
				at[row], used = k, append(used, row)
			}
			rows[i] = k
		}
		own.examples = append(own.examples, example{rows, e.interval, e.weight})
	}
	for _, row := range used {
		own.prior = append(own.prior, l.prior[row*idiom.Intervals:(row+1)*idiom.Intervals]...)
	}
	found := minimize(own.gradient, own.prior, rounds)
	weights := slices.Clone(l.prior)
	for k, row := range used {
		copy(weights[row*idiom.Intervals:], found[k*idiom.Intervals:(k+1)*idiom.Intervals])
	}
	return weights
}

// powers holds e to the power of minus so many hundredths.
var powers = func() (all [5000]float64) {
	const hundredth = 0.990049833749168053570250420165 // e to the power of -0.01
	all[0] = 1
	for i := 1; i < len(all); i++ {
		all[i] = all[i-1] * hundredth
	}
	return all
}()

// power reports e to the power of x, which is not above 0.
func power(x float64) float64 {
	n := int(-100 * x)
	if n >= len(powers) {
		return 0
	}
	r := x + float64(n)/100 // less than a hundredth: four terms of the series are enough
	tail := 1 + float64(r*(1./4))
	tail = 1 + float64(float64(r*(1./3))*tail)
	tail = 1 + float64(float64(r*(1./2))*tail)
	return powers[n] * (1 + float64(r*tail))
}
