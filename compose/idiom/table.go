package idiom

// Memories is the number of pairs of a last interval and the turn before it.
const Memories = (2*Memory + 1) * 3

// MemoryOf numbers a last interval and the direction of the one before it; see Context.
func MemoryOf(last, turn int) int { return (clip(last, Memory)+Memory)*3 + clip(turn, 1) + 1 }

// After reports the memory after one and an interval.
func After(memory, interval int) int { return MemoryOf(interval, memory/3-Memory) }

// Table reports what IntervalChances does for each step from low to high and each memory,
// the rest as in c, at a fraction of its cost.
func (m *Meter) Table(c *Context, low, high int) [][Memories][Intervals]float64 {
	at := *c
	var byLast [2*Memory + 1][Intervals]int32 // what does not hang on the step
	var byMemory [Memories][Intervals]int32
	for memory := range byMemory {
		at.Last, at.Turn = memory/3-Memory, memory%3-1
		rows := m.Rows(&at)
		m.sum(&byMemory[memory], &rows, onMemory)
		if memory%3 == 0 {
			m.sum(&byLast[memory/3], &rows, onLast)
		}
	}
	all := make([][Memories][Intervals]float64, high-low+1)
	for i := range all {
		at.Step = low + i
		var alone [Intervals]int32
		rows := m.Rows(&at)
		m.sum(&alone, &rows, onStep)
		var bySmall [5][Intervals]int32
		for small := range bySmall {
			at.Last = small - 2
			rows := m.Rows(&at)
			bySmall[small] = alone
			m.sum(&bySmall[small], &rows, onBoth)
		}
		for last := range byLast {
			score := byLast[last]
			add(&score, &bySmall[clip(last-Memory, 2)+2])
			for turn := range 3 {
				memory := 3*last + turn
				s := score
				add(&s, &byMemory[memory])
				all[i][memory] = chances(&s)
			}
		}
	}
	return all
}

// What the row of a template hangs on, of what changes within a table.
const (
	onStep   = iota // on the step before, or on nothing
	onLast          // on the last interval
	onMemory        // on the last interval and the turn
	onBoth          // on the step and the last interval up to 2 steps
)

// hangs says what each template hangs on.
var hangs = func() (all [Templates]int) {
	for i, t := range templates {
		var stepped, lasted, turned bool
		for _, f := range t.parts {
			stepped = stepped || f == degree || f == step || f == height
			lasted = lasted || f == last || f == small
			turned = turned || f == turn
		}
		switch {
		case stepped && lasted:
			all[i] = onBoth
		case turned:
			all[i] = onMemory
		case lasted:
			all[i] = onLast
		default:
			all[i] = onStep
		}
	}
	return all
}()

// sum adds the weights of the rows that hang on what is said.
func (m *Meter) sum(score *[Intervals]int32, rows *[Templates]int, on int) {
	for i, row := range rows {
		if hangs[i] == on {
			for k, w := range (*[Intervals]int16)(m.line[row*Intervals:]) {
				score[k] += int32(w)
			}
		}
	}
}

func add(a, b *[Intervals]int32) {
	for i, v := range b {
		a[i] += v
	}
}
