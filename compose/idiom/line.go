package idiom

import "slices"

// A feature is one thing that the next interval depends on.
type feature uint8

const (
	degree   feature = iota // of the note before
	step                    // the same with its octave
	height                  // the same by pairs of steps
	last                    // the interval before
	small                   // the same up to 2 steps
	turn                    // the direction of the interval before that
	chord                   // of the measure
	next                    // of the measure after
	strength                // downbeat, another beat, between beats
	slot                    // sixteenths after the barline
	place                   // of the measure in the phrase
	held                    // how long the note before lasts
	ticks                   // how long the note to come lasts
	mode
	features
)

// smallSpan is how far the last interval counts where a degree is beside it.
const smallSpan = 2

// slotTicks is a sixteenth.
const slotTicks = Quarter / 4

// A template is a set of features whose values together choose a row of weights.
type template struct {
	name  string
	parts []feature
}

// templates are added up: each gives a row of weights, one for each interval.
var templates = [...]template{
	{"degree", []feature{degree}},
	{"degree-chord", []feature{degree, chord}},
	{"degree-chord-beat", []feature{degree, chord, strength}},
	{"step", []feature{step}},
	{"last-beat", []feature{last, strength}},
	{"last-turn", []feature{last, turn}},
	{"last-degree", []feature{small, degree}},
	{"last-degree-chord", []feature{small, degree, chord}},
	{"degree-chord-next", []feature{degree, chord, next}},
	{"slot-last", []feature{slot, small}},
	{"slot-degree", []feature{slot, degree}},
	{"place-degree", []feature{place, degree}},
	{"height-last", []feature{height, small}},
	{"chord-beat-last", []feature{chord, strength, small}},
	{"held-last", []feature{held, small}},
	{"held-ticks", []feature{held, ticks}},
	{"ticks-degree-beat", []feature{ticks, degree, strength}},
	{"mode-degree", []feature{mode, degree}},
	{"mode-degree-chord", []feature{mode, degree, chord}},
	{"mode-last", []feature{mode, small}},
}

// Templates is the number of rows that a context has.
const Templates = len(templates)

// A layout says where each template's rows begin.
type layout struct {
	size  [features]int
	base  [Templates]int
	total int
}

// lengths are the classes of lengths, each up to so many ticks. 0 is not known.
var lengths = [...]int{0, 6, 12, 24, 36, 48}

func layoutFor(measured int) layout {
	l := layout{size: [features]int{degree: 7, step: 21, height: 7, last: 2*Memory + 1, small: 2*smallSpan + 1, turn: 3, chord: chords,
		next: chords, strength: 3, slot: (measured + slotTicks - 1) / slotTicks, place: places,
		held: len(lengths) + 1, ticks: len(lengths) + 1, mode: 2}}
	for i, t := range templates {
		l.base[i] = l.total
		rows := 1
		for _, f := range t.parts {
			rows *= l.size[f]
		}
		l.total += rows
	}
	return l
}

// values are those of each feature, from 0.
type values [features]int

// stand sets what hangs on the step of the note before.
func (v *values) stand(on int) {
	v[degree] = mod(on, 7)
	v[step] = max(-6, min(14, on)) + 6
	v[height] = clip(floorDiv(on-3, 2), 3) + 3
}

// values reports the value of each feature.
func (c *Context) values() values {
	v := values{
		last:  clip(c.Last, Memory) + Memory,
		small: clip(c.Last, smallSpan) + smallSpan,
		turn:  clip(c.Turn, 1) + 1,
		chord: int(c.Chord), next: int(c.Next),
		slot:  mod(c.Onset, c.Measured) / slotTicks,
		place: c.Place,
		held:  lengthClass(c.Held), ticks: lengthClass(c.Ticks),
	}
	v.stand(c.Step)
	switch {
	case mod(c.Onset, c.Measured) == 0:
	case mod(c.Onset, c.Beat) == 0:
		v[strength] = 1
	default:
		v[strength] = 2
	}
	if c.Minor {
		v[mode] = 1
	}
	return v
}

func lengthClass(ticks int) int {
	for i, n := range lengths {
		if ticks <= n {
			return i
		}
	}
	return len(lengths)
}

// Rows reports the rows of weights that a context has, one for each template, among
// m.LineRows().
func (m *Meter) Rows(c *Context) [Templates]int {
	v := c.values()
	var rows [Templates]int
	for i := range templates {
		rows[i] = m.rows.row(i, &v)
	}
	return rows
}

// row reports the row of the i-th template for values of the features.
func (l *layout) row(i int, v *values) int {
	at := 0
	for _, f := range templates[i].parts {
		at = at*l.size[f] + v[f]
	}
	return l.base[i] + at
}

// LineRows reports the number of rows of weights.
func (m *Meter) LineRows() int { return m.rows.total }

// SetWeight sets the weight of an interval, -Span to Span, in a row, in hundredths.
func (m *Meter) SetWeight(row, interval, hundredths int) {
	m.line[row*Intervals+interval+Span] = int16(clip(hundredths, 32767))
}

// Weight reports what SetWeight set.
func (m *Meter) Weight(row, interval int) int { return int(m.line[row*Intervals+interval+Span]) }

// IntervalChances reports the chances of the intervals -Span to Span in a context, by a
// log-linear model. They are the same on every machine: weights are whole hundredths.
func (m *Meter) IntervalChances(c *Context) [Intervals]float64 {
	var score [Intervals]int32
	for _, row := range m.Rows(c) {
		m.add(&score, row)
	}
	chance, total := powers(&score), 0.0
	for _, p := range chance {
		total += p
	}
	for i := range chance {
		chance[i] /= total
	}
	return chance
}

// add adds the weights of a row.
func (m *Meter) add(score *[Intervals]int32, row int) {
	for i, w := range (*[Intervals]int16)(m.line[row*Intervals:]) {
		score[i] += int32(w)
	}
}

// powers reports e to the power of so many hundredths, the greatest taken for 0; never
// less than e to the power of -41.
func powers(score *[Intervals]int32) [Intervals]float64 {
	most := score[0]
	for _, s := range score {
		most = max(most, s)
	}
	var all [Intervals]float64
	for i, s := range score {
		all[i] = down[min(int(most-s), len(down)-1)]
	}
	return all
}

// down holds e to the power of minus so many hundredths.
var down = func() (all [4096]float64) {
	const hundredth = 0.990049833749168053570250420165 // e to the power of -0.01
	all[0] = 1
	for i := 1; i < len(all); i++ {
		all[i] = all[i-1] * hundredth
	}
	return all
}()

// OfMeter reports whether the rows of the i-th template mean something in one meter alone.
func OfMeter(i int) bool { return slices.Contains(templates[i].parts, slot) }
