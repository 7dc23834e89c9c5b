package score

import "onward/rhythm"

// beams: each beam begins, goes on and ends on neighbours of one measure, never on a
// rest nor over one; a note has all its beams or none; hooks hang on a beam.
func beams(l *line, f *Finding) {
	var open []bool // by level, the eighths' beam first
	measure := -1
	for k, s := range l.notes {
		if measure != s.measure && anyOpen(open) {
			l.blameNote(f, l.notes[k-1], "a beam crosses the barline")
			open = nil
		}
		measure = s.measure
		if len(s.Beams) > 0 {
			f.Examined++
		}
		var fault string
		if open, fault = beamStep(open, s.Note); fault != "" {
			l.blameNote(f, s, "%s", fault)
			open = nil
		}
	}
	if anyOpen(open) {
		l.blameNote(f, l.notes[len(l.notes)-1], "a beam does not end")
	}
}

// beamStep reports which beams are open after the note, and what is wrong with it.
func beamStep(open []bool, n *Note) (after []bool, fault string) {
	switch count := n.Value.Flags(); {
	case len(n.Beams) == 0 && anyOpen(open):
		return nil, "a beam passes over a rest or a note without a beam"
	case len(n.Beams) == 0:
		return nil, ""
	case n.Rest:
		return nil, "a rest is beamed"
	case len(n.Beams) != count:
		return nil, "the note has not as many beams as its value"
	}
	after = make([]bool, len(n.Beams))
	for level, b := range n.Beams {
		before := level < len(open) && open[level]
		switch b {
		case BeamBegin:
			after[level] = true
			if before {
				return nil, "a beam begins inside another"
			}
		case BeamContinue, BeamEnd:
			after[level] = b == BeamContinue
			if !before {
				return nil, "a beam goes on that did not begin"
			}
		default:
			if level == 0 || before {
				return nil, "a hook that hangs on no beam"
			}
		}
	}
	for level := len(n.Beams); level < len(open); level++ {
		if open[level] {
			return nil, "a beam goes on over a longer note"
		}
	}
	if !after[0] && anyOpen(after) {
		return nil, "an inner beam outlasts the eighths' beam"
	}
	return after, ""
}

func anyOpen(open []bool) bool {
	for _, o := range open {
		if o {
			return true
		}
	}
	return false
}

// beamGroups: no beam joins notes of two beam groups of the meter.
func beamGroups(l *line, f *Finding) {
	first := -1
	for k, s := range l.notes {
		if len(s.Beams) == 0 {
			first = -1
			continue
		}
		f.Examined++
		if s.Beams[0] == BeamBegin {
			first = k
		}
		if s.Beams[0] != BeamEnd || first < 0 || l.notes[first].measure != s.measure {
			continue
		}
		if !l.oneGroup(l.notes[first : k+1]) {
			l.blameNote(f, l.notes[first], "the beam joins notes of two groups in %s", l.read[s.measure].meter)
		}
	}
}

// oneGroup reports whether the notes stand in one beam group of their meter.
func (l *line) oneGroup(notes []spot) bool {
	meter, skipped := l.read[notes[0].measure].meter, l.missing(notes[0].measure)
	group := beamGroupAt(meter, notes[0].At.Add(skipped))
	last := notes[len(notes)-1]
	return beamGroupAt(meter, last.At.Add(skipped)) == group
}

// beamGroupAt numbers the beam group of the meter that an offset lies in.
func beamGroupAt(meter rhythm.Meter, at rhythm.Offset) int {
	groups := rhythm.BeamGroups(meter)
	for i, g := range groups {
		if at -= rhythm.Offset(g); at < 0 {
			return i
		}
	}
	return len(groups)
}
