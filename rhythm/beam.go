package rhythm

// A BeamShare is one note's share in one beam.
type BeamShare int

// The shares of a beam. Hooks are partial beams.
const (
	BeamBegin BeamShare = iota
	BeamContinue
	BeamEnd
	BeamForwardHook
	BeamBackwardHook
)

// A TimedValue is one written note or rest of a measure. In a pickup At is counted as
// in the full measure that it ends.
type TimedValue struct {
	At    Offset // from the start of the measure
	Value Value
	Rest  bool
}

// Beams reports for each note of a measure its share in each of its beams, eighth beam
// first; nil for one without beams. The notes stand in order of At. A beam joins notes
// of one beat; where eighths and eighth rests alone fill a group of BeamGroups (two
// beats, in 3/4 the measure) the eighths between rests are joined too; in cut time the
// beat is a half and beams below the first break at each quarter. Beams below the
// second break at each eighth, those below the first between tuplets and plain values.
// Rests and values without flags break all. A lone short note's hook points to the note that
// it makes a full division with.
// Source: common practice of engravers (from memory).
func Beams(m Meter, notes []TimedValue) [][]BeamShare {
	shares := make([][]BeamShare, len(notes))
	groups := m.beamSpans(notes)
	for first := 0; first < len(notes); {
		last := first + 1
		for last < len(notes) && joined(notes[last-1], notes[last]) && sameSpan(groups, notes[last-1].At, notes[last].At) {
			last++
		}
		if last-first > 1 {
			beamRun(m, notes[first:last], shares[first:last])
		}
		first = last
	}
	return shares
}

// joined reports whether one beam may hold both neighbours.
func joined(a, b TimedValue) bool {
	return !a.Rest && !b.Rest && a.Value.Flags() > 0 && b.Value.Flags() > 0 && a.At.Add(a.Value.Duration()) == b.At
}

// beamSpans reports where the stretches that one beam may hold end, in order.
func (m Meter) beamSpans(notes []TimedValue) []Offset {
	var ends []Offset
	start := Offset(0)
	for _, group := range BeamGroups(m) {
		end := start.Add(group)
		step := m.Beat()
		switch {
		case m.Unit == 2 && tuplets(notes, start, end):
			step = Quarter
		case m.Unit >= 8 || evenEighths(notes, start, end):
			step = group
		}
		for start < end {
			start = start.Add(step)
			ends = append(ends, start)
		}
	}
	return ends
}

// sameSpan reports whether no end lies between a and b.
func sameSpan(ends []Offset, a, b Offset) bool {
	for _, end := range ends {
		if a < end {
			return b < end
		}
	}
	return true
}

// tuplets reports whether a tuplet starts inside the span.
func tuplets(notes []TimedValue, start, end Offset) bool {
	for _, n := range notes {
		if start <= n.At && n.At < end && n.Value.Tuplet.Actual != 0 {
			return true
		}
	}
	return false
}

// evenEighths reports whether plain eighth notes and eighth rests alone fill the span.
func evenEighths(notes []TimedValue, start, end Offset) bool {
	at := start
	for _, n := range notes {
		if start <= n.At && n.At < end {
			if n.At != at || n.Value != (Value{Base: 8}) {
				return false
			}
			at = at.Add(Eighth)
		}
	}
	return at == end
}

// beamRun fills in the shares of notes that one beam joins.
func beamRun(m Meter, notes []TimedValue, shares [][]BeamShare) {
	for level := 1; level <= 5; level++ {
		for first := 0; first < len(notes); {
			last := first + 1
			for notes[first].Value.Flags() >= level && last < len(notes) &&
				notes[last].Value.Flags() >= level && !m.breaks(level, notes[last-1], notes[last]) {
				last++
			}
			if notes[first].Value.Flags() >= level {
				beamLevel(m, level, first, last, notes, shares)
			}
			first = last
		}
	}
}

// beamLevel adds one beam from notes first up to last, or a hook if that is one note.
func beamLevel(m Meter, level, first, last int, notes []TimedValue, shares [][]BeamShare) {
	if last-first == 1 {
		shares[first] = append(shares[first], hook(m, level, first, notes, shares[first]))
		return
	}
	for i := first; i < last; i++ {
		share := BeamContinue
		switch i {
		case first:
			share = BeamBegin
		case last - 1:
			share = BeamEnd
		}
		shares[i] = append(shares[i], share)
	}
}

// hook reports which way a partial beam points, given the note's shares in the beams
// above it, which begin or end at the ends of the run.
func hook(m Meter, level, i int, notes []TimedValue, above []BeamShare) BeamShare {
	switch above[level-2] {
	case BeamForwardHook, BeamBackwardHook:
		return above[level-2]
	case BeamBegin:
		return BeamForwardHook
	case BeamEnd:
		return BeamBackwardHook
	}
	if m.breaks(level, notes[i-1], notes[i]) {
		return BeamForwardHook
	}
	if m.breaks(level, notes[i], notes[i+1]) {
		return BeamBackwardHook
	}
	if notes[i].At%Offset(2*notes[i].Value.Duration()) == 0 {
		return BeamForwardHook
	}
	return BeamBackwardHook
}

// breaks reports whether the beam of a level breaks between two neighbours of a run:
// the second beam at each beat (in cut time each quarter) and where a tuplet meets a
// plain value, further ones at each eighth too.
func (m Meter) breaks(level int, a, b TimedValue) bool {
	if level == 1 {
		return false
	}
	step := m.Beat()
	switch {
	case level > 2:
		step = min(Eighth, step)
	case m.Unit == 2:
		step = Quarter
	case m.Unit >= 8 && !m.Compound():
		step = m.Measure() // 5/8, 7/8: the group is what is felt
	}
	return a.At/Offset(step) != b.At/Offset(step) || a.Value.Tuplet != b.Value.Tuplet
}
