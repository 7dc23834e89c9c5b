package rhythm

// Spell reports the written values, to be tied in a row, of a note that starts at a
// measure offset and lasts d, as a good copyist would write them: as few as can be
// without hiding the beat. Only the patterns that players know may cross a beat: in
// 4/4 a dotted quarter on 1 or 3, a half on any beat but the last, a dotted half on 1
// or 2; eighth-quarter-eighth and eighth-dotted quarter inside half a measure. In
// compound meters nothing crosses a beat but whole beats. Where the start or the end
// lies on no binary division the values are triplets.
// It reports nil if the span does not lie inside the measure or no values up to 128ths
// and triplet 64ths fill it. In a pickup, count at as in the full measure it ends.
// Source: common practice of engravers (from memory).
func Spell(at Offset, d Duration, m Meter) []Value { return spell(at, d, m, showsNote) }

// SpellRest is Spell for rests, to be written in a row. It is stricter: in simple
// meters no dots, no half rest but on 1 and 3 of four beats (so none in 3/4), and each
// rest on a multiple of its own length; in compound meters a rest for two thirds of a
// beat only at its start. A rest of a full measure comes out as the value that fills
// it, where there is one; on the page it is a whole-measure rest.
// Source: common practice of engravers (from memory).
func SpellRest(at Offset, d Duration, m Meter) []Value { return spell(at, d, m, showsRest) }

// Shows reports whether one note of value v may start at a measure offset: whether
// Spell would write it so.
func (m Meter) Shows(at Offset, v Value) bool {
	return at >= 0 && v.exact() && at.Add(v.Duration()) <= Offset(m.Measure()) && showsNote(m, at, v)
}

// ShowsRest is Shows for rests.
func (m Meter) ShowsRest(at Offset, v Value) bool {
	return at >= 0 && v.exact() && at.Add(v.Duration()) <= Offset(m.Measure()) && showsRest(m, at, v)
}

// spellable holds every value that Spell may use, long before short, plain notes
// before triplets.
var spellable = func() []Value {
	var list []Value
	for _, tuplet := range []Ratio{{}, Triplet} {
		for base := 1; base <= 128; base *= 2 {
			for dots := 2; dots >= 0; dots-- {
				v := Value{base, dots, tuplet}
				if v.exact() && (tuplet == Ratio{} || (dots < 2 && base <= 64)) {
					list = append(list, v)
				}
			}
		}
	}
	return list
}()

// A spelling is the best way found to write from some offset to the end of a span.
type spelling struct {
	cost int   // 0 is not yet known, -1 that there is none
	next Value // the first value of it
}

// spell finds the cheapest row of values that fill the span, each of which shows.
func spell(at Offset, d Duration, m Meter, shows func(Meter, Offset, Value) bool) []Value {
	end := at.Add(d)
	if at < 0 || d <= 0 || end > Offset(m.Measure()) {
		return nil
	}
	grid := m.grid(at, d)
	known := map[Offset]spelling{}
	var best func(from Offset) int
	best = func(from Offset) int {
		if from == end {
			return 0
		}
		if s := known[from]; s.cost != 0 {
			return s.cost
		}
		s := spelling{cost: -1}
		for _, v := range spellable {
			to := from.Add(v.Duration())
			if to > end || v.Duration()%grid != 0 || !shows(m, from, v) {
				continue
			}
			rest := best(to)
			if rest < 0 {
				continue
			}
			cost := rest + valueCost(v)
			if to < end {
				cost += m.joinCost(to, v, known[to].next)
			}
			if s.cost < 0 || cost < s.cost {
				s = spelling{cost, v}
			}
		}
		known[from] = s
		return s.cost
	}
	if best(at) < 0 {
		return nil
	}
	var values []Value
	for at < end {
		v := known[at].next
		values = append(values, v)
		at = at.Add(v.Duration())
	}
	return values
}

// grid reports the widest grid that holds the pulse and both ends of a span; no note
// need be parted anywhere else.
func (m Meter) grid(at Offset, d Duration) Duration {
	grid := m.pulse()
	for _, n := range []Duration{Duration(at), d} {
		for n != 0 {
			grid, n = n, grid%n
		}
	}
	return grid
}

// pulse reports the longest note that is counted in twos: the beat, in compound meters
// a third of it.
func (m Meter) pulse() Duration {
	if m.Compound() {
		return m.Beat() / 3
	}
	return m.Beat()
}

// valueCost weighs values against each other: few before many, then plain before
// tuplet, then, after the places where they meet (depth), few dots.
func valueCost(v Value) int {
	cost := 1000 + v.Dots
	if v.Tuplet.Actual != 0 {
		cost += 200
	}
	return cost
}

// joinCost weighs the place where values a and b meet: a strong one is better, and
// inside a beat a triplet and a plain value meet badly.
func (m Meter) joinCost(at Offset, a, b Value) int {
	cost := m.depth(at)
	if a.Tuplet != b.Tuplet && at%Offset(m.pulse()) != 0 {
		cost += 500
	}
	return cost
}

// depth reports how weak a place of the measure is, in tens: 0 where the meter is
// strong, 10 on a beat, 10 more for each division below it. Of two ways to part a note
// the one at the stronger place is better.
func (m Meter) depth(at Offset) int {
	if m.Strong(at) {
		return 0
	}
	step, n := m.Beat(), 10
	if m.Compound() && !m.OnBeat(at) {
		step, n = step/3, 20
	}
	for at%Offset(step) != 0 && n < 100 {
		step, n = step/2, n+10
	}
	return n
}

// showsNote reports whether a note may be written so. The value lies in the measure.
func showsNote(m Meter, at Offset, v Value) bool {
	d := v.Duration()
	if v.Tuplet.Actual != 0 {
		return showsTriplet(m, at, v, false)
	}
	if at == 0 && d == m.Measure() {
		return true
	}
	start, beats := m.spellGroup(at)
	s, beat := at.Since(start), m.Beat()
	if s+d > Duration(beats)*beat {
		return false
	}
	if s/beat != (s+d-1)/beat { // crosses a beat
		return acrossBeats(s, d, beats, beat, m.Compound())
	}
	if m.Compound() {
		return insideThree(s%beat, d, beat/3)
	}
	return insideTwo(s%beat, d, beat)
}

// acrossBeats reports whether a span that crosses a beat of a group shows the beats.
func acrossBeats(s, d Duration, beats int, beat Duration, compound bool) bool {
	if s%beat == 0 && d%beat == 0 {
		return true // whole beats
	}
	if compound {
		return false
	}
	if s == 0 && beats == 4 && d == 7*beat/2 {
		return true // double-dotted half in 4/4
	}
	first := s / beat
	if beats%2 == 0 {
		first -= first % 2
	}
	return acrossTwo(s-first*beat, d, 2*beat, beats%2 == 0)
}

// acrossTwo reports whether a span across the middle of a window w is one of the
// patterns that players know: short-long-short, dotted long-short and, if late is
// allowed, short-dotted long.
func acrossTwo(s, d, w Duration, late bool) bool {
	switch {
	case s+d > w:
		return false
	case s == 0:
		return d == w || 4*d == 3*w || 8*d == 7*w
	case 4*s == w:
		return 2*d == w || (late && 4*d == 3*w)
	}
	return false
}

// insideTwo reports whether a span shows the halvings of a window w that it lies in.
func insideTwo(s, d, w Duration) bool {
	for half := w / 2; ; half = w / 2 {
		switch {
		case s+d > w || half == 0:
			return false
		case s+d <= half:
		case s >= half:
			s -= half
		default:
			return acrossTwo(s, d, w, true)
		}
		w = half
	}
}

// insideThree reports whether a span shows the three parts, each as long as part, of
// the compound beat that it lies in.
func insideThree(s, d, part Duration) bool {
	first := s / part
	switch {
	case first == (s+d-1)/part:
		return insideTwo(s%part, d, part)
	case s%part == 0 && d%part == 0:
		return true
	}
	return acrossTwo(s-first*part, d, 2*part, false)
}

// showsRest reports whether a rest may be written so. The value lies in the measure.
func showsRest(m Meter, at Offset, v Value) bool {
	d := v.Duration()
	if v.Tuplet.Actual != 0 {
		return v.Dots == 0 && showsTriplet(m, at, v, true)
	}
	if at == 0 && d == m.Measure() {
		return true
	}
	start, beats := m.spellGroup(at)
	s, beat := at.Since(start), m.Beat()
	if d > beat {
		return d == 2*beat && beats%2 == 0 && s%d == 0 && beats > 1
	}
	if s/beat != (s+d-1)/beat {
		return false
	}
	s %= beat
	if m.Compound() && d >= beat/3 {
		return (d == beat || d == 2*beat/3) && s == 0 || d == beat/3 && s%d == 0
	}
	return v.Dots == 0 && s%d == 0
}

// showsTriplet reports whether a triplet value lies well in some window that three
// equal parts divide: it starts on a multiple of its own length and is no longer than a
// part; or, in a window no longer than a beat, it is two parts long (or one and a half,
// dotted) from the first part on or, unless it is a rest, from the second. In compound
// meters the window is an eighth at most; in simple meters two quarters, in cut time
// the measure.
func showsTriplet(m Meter, at Offset, v Value, rest bool) bool {
	d, widest := v.Duration(), Half
	switch {
	case m.Compound():
		widest = m.Beat() / 3
	case m.Unit == 2:
		widest = Whole
	}
	start, beats := m.spellGroup(at)
	since, group := at.Since(start), Duration(beats)*m.Beat()
	for w := Sixteenth; w <= widest; w *= 2 {
		s, part := since%w, w/3
		switch {
		case s+d > w || since-s+w > group:
		case v.Dots == 0 && d <= part && s%d == 0:
			return true
		case w > m.Beat():
		case (d == 2*part || 2*d == 3*part) && (s == 0 || s == part && !rest):
			return true
		}
	}
	return false
}
