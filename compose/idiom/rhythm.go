package idiom

import (
	"slices"
	"sort"
)

// rhythmLevels is the number of contexts that a rhythm is counted in, from the general to
// the special: the place; the class; both; the class and the rhythm before; all three.
const rhythmLevels = 5

// caution is how much each rhythm that was met in a context makes it lean on the more
// general one. By the rhythms of tunes held back 4 to 8 are best, in every meter.
const caution = 4

// places is the number of places in a phrase; see PlaceOf.
const places = 4

// A pair is a rhythm and how often it was counted.
type pair struct{ rhythm, times int32 }

// counts holds for each context, in order, the rhythms that were counted in it.
type counts struct {
	contexts []int32
	rows     [][]pair
}

// find reports the rhythms counted in a context.
func (c *counts) find(context int) []pair {
	at := sort.Search(len(c.contexts), func(i int) bool { return c.contexts[i] >= int32(context) })
	if at < len(c.contexts) && c.contexts[at] == int32(context) {
		return c.rows[at]
	}
	return nil
}

// add counts a rhythm in a context.
func (c *counts) add(context, rhythm, times int) {
	at, found := slices.BinarySearch(c.contexts, int32(context))
	if !found {
		c.contexts = slices.Insert(c.contexts, at, int32(context))
		c.rows = slices.Insert(c.rows, at, nil)
	}
	row := &c.rows[at]
	k, found := slices.BinarySearchFunc(*row, rhythm, func(p pair, r int) int { return int(p.rhythm) - r })
	if !found {
		*row = slices.Insert(*row, k, pair{rhythm: int32(rhythm)})
	}
	(*row)[k].times += int32(times)
}

// key is a rhythm as a string that no other rhythm has.
func (r Rhythm) key() string {
	b := make([]byte, 0, 4*len(r))
	for _, p := range r {
		b = append(b, byte(p.Onset), byte(p.Onset>>8), byte(p.Ticks), byte(p.Ticks>>8))
	}
	return string(b)
}

func (m *Meter) setRhythms(rhythms []Rhythm) {
	m.Rhythms = rhythms
	m.index = make(map[string]int, len(rhythms))
	for i, r := range rhythms {
		m.index[r.key()] = i
	}
}

// Index reports which of m.Rhythms a rhythm is; -1 if it is none.
func (m *Meter) Index(r Rhythm) int {
	if i, ok := m.index[r.key()]; ok {
		return i
	}
	return -1
}

// AddRhythm makes a rhythm one of m.Rhythms, if it is not yet. A silent one is left out.
func (m *Meter) AddRhythm(r Rhythm) {
	if len(r) > 0 && m.Index(r) < 0 {
		m.index[r.key()] = len(m.Rhythms)
		m.Rhythms = append(m.Rhythms, r)
	}
}

// Counted reports how many rhythms were counted in all.
func (m *Meter) Counted() int {
	sum := 0
	for _, row := range m.levels[0].rows {
		for _, p := range row {
			sum += int(p.times)
		}
	}
	return sum
}

// contexts reports the contexts of a measure, level by level; -1 for one that cannot be.
func (m *Meter) contexts(class, place int, before Rhythm) [rhythmLevels]int {
	all := [rhythmLevels]int{-1, -1, -1, -1, -1}
	placed := place >= 0 && place < places
	if placed {
		all[0] = place
	}
	if class < 0 || class >= m.Classes {
		return all
	}
	if all[1] = class; placed {
		all[2] = class*places + place
	}
	at := 0 // the start
	if before != nil {
		if at = m.Index(before) + 1; at == 0 {
			return all
		}
	}
	if all[3] = at*m.Classes + class; placed {
		all[4] = all[3]*places + place
	}
	return all
}

// CountRhythm adds to how often a rhythm stands in a measure at a place, in a tune of a
// class, after the rhythm before; nil at the start. A rhythm that is not one of m.Rhythms
// is not counted.
func (m *Meter) CountRhythm(class, place int, before, r Rhythm, times int) {
	at := m.Index(r)
	if at < 0 {
		return
	}
	for level, context := range m.contexts(class, place, before) {
		if context >= 0 {
			m.levels[level].add(context, at, times)
		}
	}
}

// RhythmChances reports the chance of each of m.Rhythms in a measure at a place (see
// PlaceOf), in a tune of a class, after the rhythm before, nil at the start. What was not
// met in the special context has a chance by the more general ones, and so has all where
// the class, the place (-1) or the rhythm before is not known.
func (m *Meter) RhythmChances(class, place int, before Rhythm) []float64 {
	chance := make([]float64, len(m.Rhythms))
	m.general(chance)
	for level, context := range m.contexts(class, place, before) {
		if context < 0 {
			continue
		}
		row := m.levels[level].find(context)
		sum := 0
		for _, p := range row {
			sum += int(p.times)
		}
		lean := caution * float64(len(row))
		if sum == 0 {
			continue
		}
		total := float64(sum) + lean
		for i := range chance {
			chance[i] = float64(lean*chance[i]) / total
		}
		for _, p := range row {
			chance[p.rhythm] += float64(p.times) / total
		}
	}
	return chance
}

// general sets each rhythm's share of all that was counted, one more for each.
func (m *Meter) general(chance []float64) {
	total := len(chance)
	times := make([]int, len(chance))
	for _, row := range m.levels[0].rows {
		for _, p := range row {
			times[p.rhythm] += int(p.times)
			total += int(p.times)
		}
	}
	for i, n := range times {
		chance[i] = float64(n+1) / float64(total)
	}
}
