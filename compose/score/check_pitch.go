package score

import "onward/theory"

// alterations: no more than two sharps or flats, and a pitch that MIDI can name.
func alterations(l *line, f *Finding) {
	look := func(s spot, p theory.Pitch) {
		f.Examined++
		if p.Alter < -2 || p.Alter > 2 {
			l.blameNote(f, s, "%v has more than two sharps or flats", p)
		} else if p.Letter < theory.C || p.Letter > theory.B || p.MIDI() < 0 || p.MIDI() > 127 {
			l.blameNote(f, s, "%v is no pitch of MIDI's 0 to 127", p)
		}
	}
	for _, s := range l.notes {
		if s.Rest {
			continue
		}
		look(s, s.Pitch)
		for _, g := range s.Grace {
			look(s, g)
		}
	}
}

// accidentalsShown: every accidental that the page needs is printed, by the state of
// the measure, the signature, and ties over the barline; one that it does not need
// is a courtesy; the continuation of a tie prints none.
func accidentalsShown(l *line, f *Finding) {
	var inForce Accidentals
	measure := -1
	for _, s := range l.notes {
		for measure < s.measure {
			measure++
			inForce.NewMeasure(l.read[measure].key)
		}
		if s.Rest {
			continue
		}
		f.Examined++
		for _, g := range s.Grace {
			inForce.Sound(g)
		}
		if s.TieStop {
			if s.Accidental != Hidden {
				l.blameNote(f, s, "%v is tied from the note before and shows an accidental", s.Pitch)
			}
			inForce.Held(s.Pitch)
			continue
		}
		needs := inForce.Needs(s.Pitch)
		switch {
		case needs && s.Accidental != Shown:
			l.blameNote(f, s, "%v does not show its accidental", s.Pitch)
		case !needs && s.Accidental == Shown:
			l.blameNote(f, s, "%v shows an accidental that is in force already; a reminder is Courtesy", s.Pitch)
		}
		inForce.Sound(s.Pitch)
	}
}

// maxGraces is how many grace notes a player takes at sight ahead of a note.
const maxGraces = 4

// graces: grace notes stand ahead of a note that is not tied into, are few, lie
// within an octave of it, and do not repeat it at the last moment.
func graces(l *line, f *Finding) {
	for _, s := range l.notes {
		if len(s.Grace) == 0 {
			if s.GraceSlur {
				f.Examined++
				l.blameNote(f, s, "a slur from grace notes that are not there")
			}
			continue
		}
		f.Examined++
		switch {
		case s.Rest:
			l.blameNote(f, s, "grace notes ahead of a rest")
			continue
		case s.TieStop:
			l.blameNote(f, s, "grace notes inside a tie")
		case len(s.Grace) > maxGraces:
			l.blameNote(f, s, "%d grace notes; at most %d", len(s.Grace), maxGraces)
		case s.Grace[len(s.Grace)-1] == s.Pitch && s.GraceSlur:
			l.blameNote(f, s, "a grace note slurred to its own pitch %v", s.Pitch)
		}
		for _, g := range s.Grace {
			if d := g.Step() - s.Pitch.Step(); d < -7 || d > 7 {
				l.blameNote(f, s, "the grace note %v is more than an octave from %v", g, s.Pitch)
			}
		}
	}
}

// ties: a tie begins and ends on neighbours of one pitch, and its two sides say so.
// A first ending may be left and a second entered with a tie open, so a tie into an
// ending is looked for at the last note before the first ending.
func ties(l *line, f *Finding) {
	for k, s := range l.notes {
		if s.TieStart {
			f.Examined++
			switch {
			case s.Rest:
				l.blameNote(f, s, "a rest is tied")
			case k+1 == len(l.notes):
				l.blameNote(f, s, "%v is tied to nothing", s.Pitch)
			case l.notes[k+1].Rest:
				l.blameNote(f, s, "%v is tied to a rest", s.Pitch)
			case l.notes[k+1].Pitch != s.Pitch:
				l.blameNote(f, s, "%v is tied to %v", s.Pitch, l.notes[k+1].Pitch)
			case !l.notes[k+1].TieStop:
				l.blameNote(f, s, "the tie of %v has no end on the next note", s.Pitch)
			}
		}
		if s.TieStop {
			f.Examined++
			if s.Rest || !l.tiedInto(k) {
				l.blameNote(f, s, "a tie ends that did not begin")
			}
		}
	}
}

// tiedInto reports whether the note before note k in the order of playing is tied to it.
func (l *line) tiedInto(k int) bool {
	s := l.notes[k]
	if k > 0 && l.notes[k-1].TieStart {
		return true
	}
	m := l.part.Measures[s.measure]
	if s.note > 0 || !m.EndingStart || m.Ending < 2 {
		return false
	}
	for k--; k >= 0; k-- { // back over the first ending
		if i := l.notes[k].measure; l.part.Measures[i].Ending == 0 {
			return l.notes[k].TieStart && l.notes[k].Pitch == s.Pitch
		}
	}
	return false
}
