package figure

import "onward/theory"

// Matches reports whether the pitches, as spelled, move as the shape does, in this
// key over some chord: all the moves along the chord go along one triad or seventh
// chord of the qualities in use, whatever its root. Whatever Realize makes matches; a page may have double accidentals,
// which Realize makes none of.
func (s *Shape) Matches(pitches []theory.Pitch, key theory.Key) bool {
	_, ok := s.match(pitches, key)
	return ok
}

// match is Matches and reports the chord too, the zero chord when the shape has no
// move along one.
func (s *Shape) match(pitches []theory.Pitch, key theory.Key) (theory.Chord, bool) {
	if len(pitches) != s.Notes() {
		return theory.Chord{}, false
	}
	first := -1 // the first note that the shape leaves along the chord
	for i, m := range s.Moves {
		if m.Unit == ChordTone && first < 0 {
			first = i
		}
		if !m.leads(key, pitches[i], pitches[i+1]) {
			return theory.Chord{}, false
		}
	}
	if first < 0 {
		return theory.Chord{}, true
	}
	return s.findChord(pitches, first)
}

// leads reports whether the move leads from p to q; of a move along a chord only
// whether it may: a member lies one to three steps from the next.
func (m Move) leads(key theory.Key, p, q theory.Pitch) bool {
	between := theory.Between(p, q)
	switch m.Unit {
	case ChordTone:
		steps, by := between.Steps, m.By
		if by < 0 {
			steps, by = -steps, -by
		}
		return by <= steps && steps <= 3*by
	case Chromatic:
		return between == theory.Interval{Steps: m.By, Semitones: m.By}
	case ChromaticRun:
		return between.Semitones == m.By && (between.Steps == m.By || between.Steps == 0)
	}
	return scaleMove(key, p, q, m.By)
}

// findChord looks for a chord along which all the shape's chord moves go, the first
// of which leaves the note with index first. Plainer qualities come first.
func (s *Shape) findChord(pitches []theory.Pitch, first int) (theory.Chord, bool) {
	for q, build := range builds {
		for _, b := range build {
			chord := theory.Chord{Root: pitches[first].Class().Transpose(b.Neg()), Quality: theory.Quality(q)}
			if s.startsWell(pitches[0], chord) && s.goesAlong(pitches, chord) {
				return chord, true
			}
		}
	}
	return theory.Chord{}, false
}

func (s *Shape) goesAlong(pitches []theory.Pitch, chord theory.Chord) bool {
	for i, m := range s.Moves {
		if m.Unit != ChordTone {
			continue
		}
		if to, ok := chordMove(chord, pitches[i], m.By); !ok || to != pitches[i+1] {
			return false
		}
	}
	return true
}
