package score

// openingSigns: the first measure has key, meter and clef.
func openingSigns(l *line, f *Finding) {
	f.Examined++
	if len(l.part.Measures) == 0 {
		f.Offenders = append(f.Offenders, Offence{Place{Part: l.name, Beat: "1"}, "the part has no measures"})
		return
	}
	m := l.part.Measures[0]
	if m.Key == nil {
		l.blame(f, 0, 0, "the first measure has no key")
	}
	if m.Meter == nil {
		l.blame(f, 0, 0, "the first measure has no meter")
	}
	if m.Clef == nil {
		l.blame(f, 0, 0, "the first measure has no clef")
	}
}

// measureNumbers: numbered measures count up by one from 1; a measure that is not
// numbered bears the number of the one before, a pickup at the start 0.
func measureNumbers(l *line, f *Finding) {
	last := 0
	for i, m := range l.part.Measures {
		f.Examined++
		want := last + 1
		if m.Implicit {
			want = last
		}
		if m.Number != want {
			l.blame(f, i, 0, "the measure should be number %d", want)
		}
		last = m.Number
	}
}

// repeats: a forward repeat is followed by a backward one before the next; a
// backward one alone goes back to the start of the part, once.
func repeats(l *line, f *Finding) {
	open, closed := -1, false
	for i, m := range l.part.Measures {
		if m.RepeatStart {
			f.Examined++
			if open >= 0 {
				l.blame(f, i, 0, "a repeat begins inside another")
			}
			open = i
		}
		if !m.RepeatEnd {
			continue
		}
		f.Examined++
		if open < 0 && closed {
			l.blame(f, i, 0, "a repeat ends that did not begin")
		}
		open, closed = -1, true
	}
	if open >= 0 {
		l.blame(f, open, 0, "the repeat does not end")
	}
}

// endings: a first ending stands at the end of a repeat, is closed, and is followed
// at once by the second, which is closed too.
func endings(l *line, f *Finding) {
	under := 0 // the bracket that is open
	for i, m := range l.part.Measures {
		if m.Ending == 0 && !m.EndingStart && !m.EndingStop && under == 0 {
			continue
		}
		f.Examined++
		if fault := l.endingFault(i, under); fault != "" {
			l.blame(f, i, 0, "%s", fault)
		}
		under = m.Ending
		if m.EndingStop {
			under = 0
		}
	}
	if n := len(l.part.Measures); under != 0 {
		l.blame(f, n-1, 0, "the bracket of ending %d is not closed", under)
	}
}

// endingFault says what is wrong with measure i where the bracket under is open, ""
// for nothing.
func (l *line) endingFault(i, under int) string {
	m := l.part.Measures[i]
	after := Measure{}
	if i+1 < len(l.part.Measures) {
		after = l.part.Measures[i+1]
	}
	firstClosed := i > 0 && l.part.Measures[i-1].Ending == 1 && l.part.Measures[i-1].EndingStop
	switch {
	case m.Ending < 1 || m.Ending > 2:
		return "a bracket stands over a measure that is in no ending"
	case m.EndingStart && under != 0:
		return "an ending begins inside another"
	case !m.EndingStart && under != m.Ending:
		return "the ending has no beginning"
	case m.EndingStart && m.Ending == 2 && !firstClosed:
		return "a second ending that follows no first"
	case m.Ending == 1 && m.EndingStop && !m.RepeatEnd:
		return "the first ending does not go back"
	case m.Ending == 1 && m.EndingStop && (after.Ending != 2 || !after.EndingStart):
		return "the first ending is not followed by the second"
	case m.Ending == 1 && m.RepeatEnd && !m.EndingStop:
		return "the bracket of the first ending lasts beyond the repeat"
	}
	return ""
}

// finalBar: the last measure closes with a final barline or a repeat, and no other
// has a final barline.
func finalBar(l *line, f *Finding) {
	for i, m := range l.part.Measures {
		last := i == len(l.part.Measures)-1
		if m.FinalBar || last {
			f.Examined++
		}
		switch {
		case last && !m.FinalBar && !m.RepeatEnd:
			l.blame(f, i, 0, "the last measure has no final barline")
		case !last && m.FinalBar:
			l.blame(f, i, 0, "a final barline before the end")
		}
	}
}
