package idiom

// Memories is the number of pairs of a last interval and the turn before it.
const Memories = (2*Memory + 1) * 3

// MemoryOf numbers a last interval and the direction of the one before it; see Context.
func MemoryOf(last, turn int) int { return (clip(last, Memory)+Memory)*3 + clip(turn, 1) + 1 }

// After reports the memory after one and an interval.
func After(memory, interval int) int { return MemoryOf(interval, memory/3-Memory) }

// Table reports what IntervalChances does for each step from low to high and each memory,
// the rest as in c, at a fraction of its cost: weights that hang on the step and on the
// memory are made into factors apart. It differs from IntervalChances by rounding alone.
func (m *Meter) Table(c *Context, low, high int) [][Memories][Intervals]float64 {
	v := c.values()
	var byMemory [Memories][Intervals]float64
	for memory := range byMemory {
		v[last], v[turn] = memory/3, memory%3
		v[small] = smallOf(memory)
		byMemory[memory] = m.factors(&v, onMemory)
	}
	all := make([][Memories][Intervals]float64, high-low+1)
	for i := range all {
		v.stand(low + i)
		var bySmall [2*smallSpan + 1][Intervals]float64
		for v[small] = range bySmall {
			bySmall[v[small]] = m.factors(&v, onStep)
		}
		for memory := range Memories {
			a, b := &byMemory[memory], &bySmall[smallOf(memory)]
			out, total := &all[i][memory], 0.0
			for k := range out {
				out[k] = a[k] * b[k]
				total += out[k]
			}
			share := 1 / total
			for k := range out {
				out[k] *= share
			}
		}
	}
	return all
}

// smallOf reports the value of the feature small for a memory.
func smallOf(memory int) int { return clip(memory/3-Memory, smallSpan) + smallSpan }

// factors reports e to the power of the weights for values of the features, of the templates
// that hang on what is said, the greatest as 1.
func (m *Meter) factors(v *values, on int) [Intervals]float64 {
	var score [Intervals]int32
	for i, of := range hangs {
		if of == on {
			m.add(&score, m.rows.row(i, v))
		}
	}
	return powers(&score)
}

// What the row of a template hangs on, of what changes within a table.
const (
	onMemory = iota // on the last interval and the turn, or on neither
	onStep          // on the step before, and maybe on the last interval up to smallSpan
)

// hangs says what each template hangs on.
var hangs = func() (all [Templates]int) {
	for i, t := range templates {
		for _, f := range t.parts {
			if f == degree || f == step || f == height {
				all[i] = onStep
			}
		}
	}
	return all
}()
