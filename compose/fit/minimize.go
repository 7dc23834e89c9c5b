package fit

import "math"

const (
	history = 12   // steps that the curvature is known by
	small   = 1e-4 // where every part of the gradient is this small, the minimum is found
)

// A move is one step of minimize, and the change of the gradient over it.
type move struct {
	by, change []float64
	product    float64 // of both
}

// minimize reports where a convex function is least, from its gradient alone, by L-BFGS
// (Nocedal and Wright, Numerical Optimization, algorithm 7.4, from memory) from a start, in
// at most so many rounds. Values of the function are not asked for: their rounding hides the
// minimum long before that of the gradient does.
func minimize(gradient func(x, grad []float64), start []float64, rounds int) []float64 {
	n := len(start)
	x, grad := append([]float64(nil), start...), make([]float64, n)
	gradient(x, grad)
	var moves []move
	for range rounds {
		if largest(grad) < small {
			break
		}
		way := direction(grad, moves)
		there, after := along(gradient, x, grad, way)
		m := move{by: make([]float64, n), change: make([]float64, n)}
		for i := range x {
			m.by[i], m.change[i] = there[i]-x[i], after[i]-grad[i]
		}
		x, grad = there, after
		if m.product = dot(m.by, m.change); m.product > 0 {
			moves = append(moves, m)
			moves = moves[max(0, len(moves)-history):]
		}
	}
	return x
}

// direction reports the way to go: the gradient against what is known of the curvature.
func direction(grad []float64, moves []move) []float64 {
	way := make([]float64, len(grad))
	for i, g := range grad {
		way[i] = -g
	}
	if len(moves) == 0 {
		return scale(way, 1/max(1, math.Sqrt(dot(grad, grad))))
	}
	share := make([]float64, len(moves))
	for k := len(moves) - 1; k >= 0; k-- {
		m := &moves[k]
		share[k] = dot(m.by, way) / m.product
		addScaled(way, -share[k], m.change)
	}
	last := &moves[len(moves)-1]
	scale(way, last.product/dot(last.change, last.change))
	for k := range moves {
		m := &moves[k]
		addScaled(way, share[k]-dot(m.change, way)/m.product, m.by)
	}
	return way
}

// along goes so far on a way that the slope is near nothing beside that of the start, and
// reports the place and its gradient.
func along(gradient func(x, grad []float64), x, grad, way []float64) (there, after []float64) {
	const falls, climbs = .9, .1 // of the slope at the start, at most
	there, after = make([]float64, len(x)), make([]float64, len(x))
	slope, far := dot(grad, way), 1.0
	low, high := 0.0, math.Inf(1)
	for range 40 {
		copy(there, x)
		addScaled(there, far, way)
		gradient(there, after)
		switch now := dot(after, way); {
		case now < falls*slope:
			low = far
		case now > -climbs*slope:
			high = far
		default:
			return there, after
		}
		if far = (low + high) / 2; math.IsInf(high, 1) {
			far = 2 * low
		}
	}
	return there, after
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += float64(v * b[i])
	}
	return sum
}

func addScaled(a []float64, by float64, b []float64) {
	for i, v := range b {
		a[i] += float64(by * v)
	}
}

func scale(a []float64, by float64) []float64 {
	for i := range a {
		a[i] *= by
	}
	return a
}

func largest(a []float64) float64 {
	most := 0.0
	for _, v := range a {
		most = max(most, math.Abs(v))
	}
	return most
}
