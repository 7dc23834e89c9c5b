package ladder

import (
	"math"
	"slices"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A Rating says how hard a part is to read at sight, whoever wrote it.
type Rating struct {
	// Rung is the step of the ladder that the part stands on, 1 to the last: the one
	// whose aim is nearest to the part's difficulty, as all that makes a part hard to
	// read goes into it in proportion. A part harder than the last stands on the last.
	Rung int
	// Load is the load of each measure as written, figures a second; Mean their mean by
	// length, Difficulty the whole part's as one figure.
	Load             []float64
	Mean, Difficulty float64
	// Aspects say which rung each side of the part asks for, the highest first. Those
	// above Rung are what a player on it may not have met.
	Aspects []Aspect
	// Named is the share of its notes, 0 to 1, in figures that the catalogue has by name.
	Named float64
}

// An Aspect is one side of a part, and the first rung that has it.
type Aspect struct {
	Name string // "load", "figures", "keys", "meters", "range" or "leaps"
	Rung int
}

// Shares of a part that must lie within a rung for the aspect to count as the rung's: a
// few odd figures, a cadenza or a passing key do not make a part hard.
const (
	figuresWithin = 0.95 // of the notes, by the level of the figures they lie in
	leapsWithin   = 0.98 // of the intervals, and of the notes for the range
	timeWithin    = 0.90 // of the measures, for keys and meters
)

// Rate rates a part for a player of the instrument who knows the vocabulary's figures, or
// all that the catalogue has by name where it is nil. The part is in the instrument's
// written pitch. A figure that the catalogue lacks counts as what the last rung may bring,
// for as many notes as it has. Where no tempo stands, a tempo word's usual one is taken, or
// that of a first class reading at sight.
func (l *Ladder) Rate(part *score.Part, in *theory.Instrument, cat *figure.Catalogue, v *figure.Vocabulary) Rating {
	m := measure(part, in, cat, v)
	r := Rating{Load: m.loads, Mean: Mean(m.loads, m.lengths), Difficulty: Difficulty(m.loads, m.lengths),
		Named: float64(m.named) / float64(max(len(m.levels), 1))}
	r.Rung = l.rungOfLoad(r.Difficulty)
	r.Aspects = []Aspect{
		{"load", r.Rung},
		{"figures", min(max(within(m.levels, figuresWithin), 1), len(l.Rungs))},
		{"keys", l.rungOfKeys(m.keys)},
		{"meters", l.rungOfMeters(m.meters)},
		{"range", l.rungOfRange(m.pitches, in)},
		{"leaps", l.rungOfLeaps(m.leaps)},
	}
	slices.SortStableFunc(r.Aspects, func(a, b Aspect) int { return b.Rung - a.Rung })
	return r
}

// within reports the least of the values that so large a share of them does not exceed; 0
// of none.
func within(values []int, share float64) int {
	if len(values) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(values))
	return sorted[max(int(math.Ceil(share*float64(len(sorted))))-1, 0)]
}

// rungOfLoad reports the rung whose aim is nearest to the load, by ratio.
func (l *Ladder) rungOfLoad(load float64) int {
	for i := range len(l.Rungs) - 1 {
		if load*load < l.Rungs[i].Aim*l.Rungs[i+1].Aim {
			return i + 1
		}
	}
	return len(l.Rungs)
}

// rungOfKeys reports the rung by which the keys of most measures are in.
func (l *Ladder) rungOfKeys(keys []theory.Key) int {
	var out []int
	for _, k := range keys {
		out = append(out, l.adding(func(t *Thing) bool { return slices.Contains(t.Keys, k.String()) }))
	}
	return max(within(out, timeWithin), 1)
}

// rungOfMeters reports the rung by which the meters of most measures are in; 2/2 is cut
// time under another sign.
func (l *Ladder) rungOfMeters(meters []rhythm.Meter) int {
	var out []int
	for _, m := range meters {
		if m.Beats == 2 && m.Unit == 2 {
			m = rhythm.CutTime
		}
		out = append(out, l.adding(func(t *Thing) bool { return slices.Contains(t.Meters, m.String()) }))
	}
	return max(within(out, timeWithin), 1)
}

// adding reports the rung that adds such a thing, the last if none does.
func (l *Ladder) adding(is func(*Thing) bool) int {
	if is(&l.Ground.Thing) {
		return 1
	}
	for i := range l.Rungs {
		for j := range l.Rungs[i].Adds {
			if is(&l.Rungs[i].Adds[j]) {
				return i + 1
			}
		}
	}
	return len(l.Rungs)
}

// rungOfRange reports the rung whose span holds most of the notes, and whose bracket of
// the instrument's range does.
func (l *Ladder) rungOfRange(pitches []theory.Pitch, in *theory.Instrument) int {
	var steps, keys []int
	for _, p := range pitches {
		steps, keys = append(steps, p.Step()), append(keys, p.MIDI())
	}
	span := within(steps, leapsWithin) - within(steps, 1-leapsWithin) + 1
	low, high := within(keys, 1-leapsWithin), within(keys, leapsWithin)
	for i := range l.Rungs {
		b := in.Ranges[brackets[l.Rungs[i].Bracket]]
		if len(pitches) == 0 || span <= l.Rungs[i].Span && low >= b.Low.MIDI() && high <= b.High.MIDI() {
			return i + 1
		}
	}
	return len(l.Rungs)
}

// rungOfLeaps reports the rung whose largest leap holds most intervals.
func (l *Ladder) rungOfLeaps(leaps []int) int {
	most := within(leaps, leapsWithin)
	for i := range l.Rungs {
		if l.Rungs[i].Leap >= most {
			return i + 1
		}
	}
	return len(l.Rungs)
}
