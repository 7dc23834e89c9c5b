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
	at := *c
	var byMemory [Memories][Intervals]float64
	for memory := range byMemory {
		at.Last, at.Turn = memory/3-Memory, memory%3-1
		byMemory[memory] = m.factors(&at, onMemory)
	}
	all := make([][Memories][Intervals]float64, high-low+1)
	for i := range all {
		at.Step = low + i
		var bySmall [2*smallSpan + 1][Intervals]float64
		for small := range bySmall {
			at.Last = small - smallSpan
			bySmall[small] = m.factors(&at, onStep)
		}
		for memory := range Memories {
			a, b := &byMemory[memory], &bySmall[clip(memory/3-Memory, smallSpan)+smallSpan]
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

// factors reports e to the power of the weights in a context, of the templates that hang on
// what is said, the greatest as 1.
func (m *Meter) factors(c *Context, on int) [Intervals]float64 {
	var score [Intervals]int32
	v := c.values()
	for i, of := range hangs {
		if of == on {
			m.add(&score, m.rows.row(i, &v))
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
