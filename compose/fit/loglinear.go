// Package fit learns an idiom from tunes: the weights of the line by penalised maximum
// likelihood, rhythms and first notes by counting, forms as they are.
package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"

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
	rows     int     // of weights, in all
	penalty  float64 // half of it times the squared distance of the weights from prior is added to the loss
	prior    []float64
}

// loss reports the negative logarithm of the likelihood of the examples with its penalty,
// and puts its gradient into grad, both by weights[row*idiom.Intervals+interval]. Products
// are made float64 so that no machine joins them with a sum.
func (l *logLinear) loss(weights, grad []float64) float64 {
	sum := 0.0
	for i, w := range weights {
		off := w - l.prior[i]
		sum += float64(l.penalty / 2 * float64(off*off))
		grad[i] = l.penalty * off
	}
	for i := range l.examples {
		e := &l.examples[i]
		var score [idiom.Intervals]float64
		for _, row := range e.rows {
			for k, w := range (*[idiom.Intervals]float64)(weights[row*idiom.Intervals:]) {
				score[k] += w
			}
		}
		most := slices.Max(score[:])
		said := score[e.interval] - most
		total := 0.0
		for k, s := range score {
			score[k] = math.Exp(s - most)
			total += score[k]
		}
		sum += float64(e.weight * (math.Log(total) - said))
		for k := range score {
			score[k] *= e.weight / total
		}
		score[e.interval] -= e.weight
		for _, row := range e.rows {
			g := (*[idiom.Intervals]float64)(grad[row*idiom.Intervals:])
			for k, s := range score {
				g[k] += s
			}
		}
	}
	return sum
}

// fit reports the weights with the least loss. Rows that no example has stay as in prior.
func (l *logLinear) fit(rounds int) ([]float64, error) {
	at := map[int]int{} // of the rows that examples have, among all rows
	var used []int
	small := logLinear{penalty: l.penalty}
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
		small.examples = append(small.examples, example{rows, e.interval, e.weight})
	}
	small.rows = len(used)
	for _, row := range used {
		small.prior = append(small.prior, l.prior[row*idiom.Intervals:(row+1)*idiom.Intervals]...)
	}
	found, err := small.minimize(rounds)
	if err != nil {
		return nil, err
	}
	weights := slices.Clone(l.prior)
	for k, row := range used {
		copy(weights[row*idiom.Intervals:], found[k*idiom.Intervals:(k+1)*idiom.Intervals])
	}
	return weights, nil
}

// minimize finds the weights of all rows by L-BFGS, from those of prior.
func (l *logLinear) minimize(rounds int) ([]float64, error) {
	n := l.rows * idiom.Intervals
	if n == 0 {
		return nil, nil
	}
	seen, grad, value := make([]float64, n), make([]float64, n), 0.0
	fresh := false
	look := func(x []float64) {
		if !fresh || !slices.Equal(x, seen) {
			copy(seen, x)
			value, fresh = l.loss(x, grad), true
		}
	}
	problem := optimize.Problem{
		Func: func(x []float64) float64 { look(x); return value },
		Grad: func(g, x []float64) { look(x); copy(g, grad) },
	}
	result, err := optimize.Minimize(problem, slices.Clone(l.prior),
		&optimize.Settings{MajorIterations: rounds, GradientThreshold: 1e-4, Converger: optimize.NeverTerminate{}},
		&optimize.LBFGS{Linesearcher: &optimize.MoreThuente{}})
	if result == nil {
		return nil, fmt.Errorf("fitting the line: %w", err)
	}
	return result.X, nil // a line search that gets no further has arrived
}
