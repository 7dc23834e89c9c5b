package score

import (
	"cmp"
	"fmt"
	"slices"

	"onward/rhythm"
)

// legalValues: written values that exist: a base of 1 to 128, up to two dots, a
// tuplet ratio that comes out even. A value of 5/8 must be tied from two.
func legalValues(l *line, f *Finding) {
	for _, s := range l.notes {
		f.Examined++
		v := s.Value
		switch {
		case s.WholeMeasure && !s.Rest:
			l.blameNote(f, s, "only a rest may fill the measure whatever its length")
		case s.WholeMeasure && v != rhythm.Value{Base: 1}:
			l.blameNote(f, s, "a measure's rest is written as a whole, not %v", v)
		case v.Base < 1 || v.Base > 128 || v.Base&(v.Base-1) != 0:
			l.blameNote(f, s, "a note value of base %d does not exist", v.Base)
		case v.Dots < 0 || v.Dots > 2:
			l.blameNote(f, s, "%d dots; a note has at most two", v.Dots)
		case !exact(v):
			l.blameNote(f, s, "a tuplet of %d in the time of %d does not come out in whole ticks", v.Tuplet.Actual, v.Tuplet.Normal)
		}
	}
}

// exact reports whether the value's tuplet ratio is legal and divides its time into
// whole ticks.
func exact(v rhythm.Value) bool {
	if v.Tuplet == (rhythm.Ratio{}) {
		return true
	}
	if v.Tuplet.Actual < 1 || v.Tuplet.Normal < 1 || v.Tuplet.Actual == v.Tuplet.Normal {
		return false
	}
	plain := rhythm.Value{Base: v.Base, Dots: v.Dots}.Duration()
	return plain*rhythm.Duration(v.Tuplet.Normal)%rhythm.Duration(v.Tuplet.Actual) == 0
}

// soundValue reports whether the value can be asked for its duration.
func soundValue(n *Note) bool {
	return n.WholeMeasure || (n.Value.Base > 0 && n.Value.Dots >= 0 && (n.Value.Tuplet == rhythm.Ratio{} || n.Value.Tuplet.Actual > 0))
}

// noteOrder: the notes of a measure stand in order of time.
func noteOrder(l *line, f *Finding) {
	for k, s := range l.notes {
		f.Examined++
		if s.note > 0 && s.At <= l.notes[k-1].At {
			l.blameNote(f, s, "the note stands before the one written ahead of it")
		}
	}
}

// measuresFilled: the notes, in order of time, fill their measure without gap or
// overlap.
func measuresFilled(l *line, f *Finding) {
	for i := range l.part.Measures {
		m := &l.part.Measures[i]
		f.Examined++
		if len(m.Notes) == 0 {
			l.blame(f, i, 0, "the measure is empty; a silent one has a whole-measure rest")
			continue
		}
		notes := slices.Clone(m.Notes)
		slices.SortStableFunc(notes, func(a, b Note) int { return cmp.Compare(a.At, b.At) })
		if at, fault := fillFault(notes, m); fault != "" {
			l.blame(f, i, at, "%s", fault)
		}
	}
}

// fillFault says where and how the notes fail to fill the measure, "" where they do.
func fillFault(notes []Note, m *Measure) (at rhythm.Offset, fault string) {
	for _, n := range notes {
		if n.At != at {
			return at, fmt.Sprintf("a gap or an overlap: the next note stands at tick %d, not at %d", n.At, at)
		}
		if !soundValue(&n) {
			return 0, "" // legalValues says so
		}
		at = n.At.Add(n.Duration(m))
	}
	if at != rhythm.Offset(m.Length) {
		return at, fmt.Sprintf("the notes fill %s, the measure is %s long", inQuarters(rhythm.Duration(at)), inQuarters(m.Length))
	}
	return 0, ""
}

// fullMeasures: a measure is as long as its meter says; a pickup may be shorter, and
// so may a measure that completes one.
func fullMeasures(l *line, f *Finding) {
	pickups := map[rhythm.Duration]bool{}
	for i, m := range l.part.Measures {
		if m.Implicit && m.Length < l.read[i].meter.Measure() {
			pickups[m.Length] = true
		}
	}
	for i, m := range l.part.Measures {
		f.Examined++
		full := l.read[i].meter.Measure()
		switch {
		case m.Length > full || m.Length <= 0:
			l.blame(f, i, 0, "the measure is %s long in %s", inQuarters(m.Length), l.read[i].meter)
		case m.Length == full || m.Implicit || pickups[full-m.Length]:
		default:
			l.blame(f, i, 0, "the measure is only %s long in %s and completes no pickup", inQuarters(m.Length), l.read[i].meter)
		}
	}
}

// tuplets: brackets pair, hold notes of one ratio without a gap, and are whole.
func tuplets(l *line, f *Finding) {
	open := -1
	for k, s := range l.notes {
		in := s.Value.Tuplet != (rhythm.Ratio{})
		if in || s.TupletStart || s.TupletStop {
			f.Examined++
		}
		if open >= 0 && l.notes[open].measure != s.measure {
			l.blameNote(f, l.notes[open], "the tuplet is not closed in its measure")
			open = -1
		}
		switch {
		case !in && (s.TupletStart || s.TupletStop):
			l.blameNote(f, s, "a tuplet's bracket at a note that is in none")
			continue
		case !in && open >= 0, in && open >= 0 && s.TupletStart:
			l.blameNote(f, l.notes[open], "the tuplet is not closed before the next notes")
			open = -1
		}
		if s.TupletStart {
			open = k
		}
		if in && open < 0 {
			l.blameNote(f, s, "a tuplet note outside a bracket")
			continue
		}
		if s.TupletStop {
			if fault := tupletFault(l.notes[open : k+1]); fault != "" {
				l.blameNote(f, l.notes[open], "%s", fault)
			}
			open = -1
		}
	}
	if open >= 0 {
		l.blameNote(f, l.notes[open], "the tuplet is not closed")
	}
}

// tupletFault says what is wrong with the notes under one bracket, "" for nothing.
func tupletFault(notes []spot) string {
	ratio := notes[0].Value.Tuplet
	var sum rhythm.Duration
	shortest := 0
	for _, n := range notes {
		if n.Value.Tuplet != ratio {
			return "notes of two ratios under one bracket"
		}
		if !soundValue(n.Note) {
			return ""
		}
		sum, shortest = sum+n.Value.Duration(), max(shortest, n.Value.Base)
	}
	if !wholeTuplet(ratio, sum, shortest) {
		return "the tuplet is not whole: its notes last " + inQuarters(sum)
	}
	return ""
}

// inQuarters says a length in quarters, as in "5/2 quarters".
func inQuarters(d rhythm.Duration) string {
	a, b := int64(d), int64(rhythm.Quarter)
	for b != 0 {
		a, b = b, a%b
	}
	if a == 0 {
		a = 1
	}
	num, den := int64(d)/a, int64(rhythm.Quarter)/a
	if den == 1 {
		return fmt.Sprintf("%d quarters", num)
	}
	return fmt.Sprintf("%d/%d quarters", num, den)
}
