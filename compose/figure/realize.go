package figure

import "onward/theory"

// builds holds the members of each chord quality as intervals above the root.
var builds = func() (all [theory.MajorSeventhChord + 1][]theory.Interval) {
	for q := range all {
		for _, c := range (theory.Chord{Quality: theory.Quality(q)}).Tones() {
			all[q] = append(all[q], theory.Between(theory.Class{}.In(4), c.In(4)))
		}
	}
	return all
}()

// scaleSpans holds the fewest and the most semitones that a scale move of 0 to 7
// steps may have: no augmented second, no diminished third.
var scaleSpans = [8][2]int{{0, 0}, {1, 2}, {3, 4}, {4, 6}, {6, 8}, {8, 9}, {9, 11}, {12, 12}}

// Realize appends the shape's pitches, beginning with start, to out. It reports
// false, and out as it was, when the shape cannot stand there: it moves along the
// chord from a note that is no member, the chord has not the members that the
// shape wants, or a note would need a double accidental or an augmented second.
//
// A scale move takes the chord's alteration of a letter that the chord has, else
// the signature's. In minor the seventh is raised too when the shape goes on a
// step up from it, or ends on it rising, unless it comes from the natural sixth;
// and a note is raised where a step to or from the note above would be an
// augmented second (so the sixth below a raised seventh, going up or down).
// Chromatic neighbours take the next letter; chromatic runs sharpen upward and
// flatten downward, but take a note of the key's scale, or a natural, where one
// sounds the same.
func (s *Shape) Realize(start theory.Pitch, in Context, out []theory.Pitch) ([]theory.Pitch, bool) {
	if !plain(start) || !s.startsWell(start, in.Chord) {
		return out, false
	}
	pitches := append(out, start)
	for i, m := range s.Moves {
		next, ok := s.next(i, pitches[len(pitches)-1], in)
		if !ok || !plain(next) || m.Unit == Scale && !scaleMove(in.Key, pitches[len(pitches)-1], next, m.By) {
			return out, false
		}
		pitches = append(pitches, next)
	}
	return pitches, true
}

// startsWell reports whether the chord is of the kind the shape wants and start the
// member it wants.
func (s *Shape) startsWell(start theory.Pitch, chord theory.Chord) bool {
	if s.Members != 0 && s.Members != len(builds[chord.Quality]) {
		return false
	}
	return s.From == 0 || member(chord, start.Class()) == s.From-1
}

// next reports the note that the i-th move leads to from p.
func (s *Shape) next(i int, p theory.Pitch, in Context) (theory.Pitch, bool) {
	switch m := s.Moves[i]; m.Unit {
	case ChordTone:
		return chordMove(in.Chord, p, m.By)
	case Chromatic:
		return p.Transpose(theory.Interval{Steps: m.By, Semitones: m.By}), true
	case ChromaticRun:
		return chromaticStep(in.Key, p, m.By), true
	}
	return s.scaleNote(i, p, in), true
}

// scaleNote reports the note that the i-th move, by scale, leads to from p.
func (s *Shape) scaleNote(i int, p theory.Pitch, in Context) theory.Pitch {
	by := s.Moves[i].By
	if by == 0 {
		return p
	}
	q := onLetter(p, by)
	var fixed bool
	q.Alter, fixed = s.alter(i, q, in)
	if fixed {
		return q
	}
	if by == 1 && q.MIDI()-p.MIDI() == 3 { // from the natural sixth
		q.Alter = in.Key.Alter(q.Letter)
	}
	if by == -1 && p.MIDI()-q.MIDI() == 3 { // below a raised seventh
		q.Alter++
	}
	if i+1 < len(s.Moves) && s.Moves[i+1] == (Move{Scale, 1}) {
		above := onLetter(q, 1)
		if above.Alter, _ = s.alter(i+1, above, in); above.MIDI()-q.MIDI() == 3 {
			q.Alter++
		}
	}
	return q
}

// onLetter reports the natural note by steps above p.
func onLetter(p theory.Pitch, by int) theory.Pitch {
	q := theory.Pitch{Letter: p.Letter + theory.Letter(by), Octave: p.Octave}
	for ; q.Letter < theory.C; q.Letter += 7 {
		q.Octave--
	}
	for ; q.Letter > theory.B; q.Letter -= 7 {
		q.Octave++
	}
	return q
}

// alter reports the alteration of the scale note q that the i-th move leads to,
// before its neighbours are heard, and whether the chord fixes it.
func (s *Shape) alter(i int, q theory.Pitch, in Context) (alter int, fixed bool) {
	if j := lettered(in.Chord, q.Letter); j >= 0 {
		return in.Chord.Root.Transpose(builds[in.Chord.Quality][j]).Alter, true
	}
	alter = in.Key.Alter(q.Letter)
	if in.Key.Mode == theory.Minor && s.rises(i) {
		if degree, _ := in.Key.DegreeOf(q.Class()); degree == 7 {
			alter++
		}
	}
	return alter, false
}

// rises reports whether the shape goes on a scale step up from the note that the
// i-th move leads to, or ends there with a scale step up.
func (s *Shape) rises(i int) bool {
	return s.Moves[min(i+1, len(s.Moves)-1)] == Move{Scale, 1}
}

// scaleMove reports whether q lies by steps of the scale from p, both being notes
// that the key can have: on its scale or a half step off.
func scaleMove(key theory.Key, p, q theory.Pitch, by int) bool {
	if q.Step()-p.Step() != by {
		return false
	}
	if off := q.Alter - key.Alter(q.Letter); off < -1 || off > 1 {
		return false
	}
	semitones := q.MIDI() - p.MIDI()
	if by < 0 {
		by, semitones = -by, -semitones
	}
	octaves := max(by-1, 0) / 7
	span := scaleSpans[by-7*octaves]
	semitones -= 12 * octaves
	return semitones >= span[0] && semitones <= span[1]
}

// member reports which member of the chord the class is, 0 the root; -1 for none.
func member(chord theory.Chord, x theory.Class) int {
	j := lettered(chord, x.Letter)
	if j >= 0 && chord.Root.Transpose(builds[chord.Quality][j]) != x {
		return -1
	}
	return j
}

// lettered reports which member of the chord has the letter, 0 the root; -1 for none.
func lettered(chord theory.Chord, l theory.Letter) int {
	above := int(l - chord.Root.Letter)
	if above < 0 {
		above += 7
	}
	if j := above / 2; above%2 == 0 && j < len(builds[chord.Quality]) {
		return j // the members stand in thirds
	}
	return -1
}

// chordMove reports the chord member that lies by members above p; false if p is
// no member.
func chordMove(chord theory.Chord, p theory.Pitch, by int) (theory.Pitch, bool) {
	build := builds[chord.Quality]
	j := member(chord, p.Class())
	if j < 0 {
		return p, false
	}
	octaves, k := 0, j+by
	for ; k < 0; k += len(build) {
		octaves--
	}
	for ; k >= len(build); k -= len(build) {
		octaves++
	}
	return p.Transpose(theory.Interval{
		Steps:     build[k].Steps - build[j].Steps + 7*octaves,
		Semitones: build[k].Semitones - build[j].Semitones + 12*octaves,
	}), true
}

// chromaticStep reports the note a half step from p, up or down as by is 1 or -1,
// as the key's chromatic scale in that direction spells it.
func chromaticStep(key theory.Key, p theory.Pitch, by int) theory.Pitch {
	next := p.Transpose(theory.Interval{Steps: by, Semitones: by})
	same := p.Transpose(theory.Interval{Semitones: by})
	switch {
	case next.Alter == key.Alter(next.Letter):
		return next
	case same.Alter == key.Alter(same.Letter):
		return same
	case !plain(same) || soundsNatural(same):
		return next
	}
	return same
}

// plain reports whether the pitch needs no double accidental.
func plain(p theory.Pitch) bool { return p.Alter >= -1 && p.Alter <= 1 }

// soundsNatural reports whether an altered pitch sounds as a natural: E-sharp,
// B-sharp, F-flat, C-flat.
func soundsNatural(p theory.Pitch) bool {
	switch p.Letter {
	case theory.E, theory.B:
		return p.Alter == 1
	case theory.F, theory.C:
		return p.Alter == -1
	}
	return false
}
