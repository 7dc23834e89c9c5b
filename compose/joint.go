package compose

import (
	"math"

	"onward/theory"
)

// joint weighs the interval from the last note before a slot to the slot's first,
// before the inner weights: 0 where a rule is broken.
func (p *piece) joint(prev *slot, from theory.Pitch, d demand, sl *slot, to theory.Pitch) float64 {
	i := theory.Between(from, to)
	if !sl.continues(prev, from, to) || awkward(i) || !sl.opens && !d.answers(i.Semitones) {
		return 0
	}
	if sl.final != "" && len(sl.onsets) == 1 && after(i.Semitones).open() {
		return 0 // a phrase does not end on an open leap
	}
	w := p.stepWeight(from, to)
	if w == 0 {
		return 0
	}
	if i.Semitones == wide || i.Semitones == -wide {
		w *= tritone
	}
	size := p.leapWeight(i.Steps)
	if sl.opens && i.Steps >= -4 && i.Steps <= 4 {
		size = math.Sqrt(size) // after a cadence the line may start anew
	} else if sl.opens && p.drilled == nil {
		size *= farStart
	}
	w *= size * goesOn(i.Steps, sl.rise)
	if !sl.opens && (d == rising && i.Steps < 0 || d == falling && i.Steps > 0) {
		w *= turning
	}
	if prev != nil {
		w *= p.resolves(prev, from, sl, i)
	}
	if w == 0 || sl.final == "" || len(sl.onsets) > 1 {
		return w
	}
	switch i.Steps { // how a phrase's last note is reached
	case 1, -1:
		return w * 5
	case 0:
		return w * 0.5
	}
	if sl.final == "close" {
		return w * 0.2
	}
	return w
}

// farStart is how much rarer a phrase starts more than a fifth from the last note.
const farStart = 0.3

// turning is the weight of turning back between figures against going on.
const turning = 0.4

// goesOn weighs which way a line moves into a slot against which way it should go there:
// up to two to one from slopes of two steps on.
func goesOn(steps int, rise float64) float64 {
	slope := max(-1, min(1, rise/2))
	switch {
	case steps > 0:
		return 1 + float64(slope/3)
	case steps < 0:
		return 1 - float64(slope/3)
	}
	return 1
}

// tritone is the weight of a diminished fifth against another leap.
const tritone = 0.1

// awkward reports intervals that a line avoids: augmented ones, sevenths, diminished ones
// but the fifth, more than an octave.
func awkward(i theory.Interval) bool {
	steps, semis := i.Steps, i.Semitones
	if steps < 0 {
		steps, semis = -steps, -semis
	}
	if steps == 0 && semis != 0 || steps == 6 || steps > 7 || semis < 0 {
		return true
	}
	least := [8]int{0, 1, 3, 5, 6, 8, 0, 12}
	most := [8]int{0, 2, 4, 5, 7, 9, 0, 12}
	return semis < least[steps] || semis > most[steps]
}

func (p *piece) leapWeight(steps int) float64 {
	m := p.req.Style.Melody
	if steps < 0 {
		steps = -steps
	}
	switch steps {
	case 0:
		return m.Repeat * min(1, 0.4+0.12*float64(p.req.Rung-1)) // little else leaps there: not to stand still
	case 1:
		return 1
	}
	// The lower rungs leap less: a quarter as often on the first, freely from the fifth.
	share := min(1, 0.25+0.19*float64(p.req.Rung-1))
	switch steps {
	case 2:
		return m.Third * share
	case 3:
		return m.Fourth * share
	case 4:
		return m.Fifth * share
	}
	return m.Wide * share
}

// resolves weighs how the note before goes on: a leading tone rises and a seventh
// falls where the chord moves on to its goal; leaps go between chord tones.
func (p *piece) resolves(prev *slot, from theory.Pitch, sl *slot, i theory.Interval) float64 {
	last := len(prev.chords) - 1
	chord, next := prev.chords[last], sl.chords[0]
	in := chord.Has(from.Class())
	w := 1.0
	if i.Steps < -1 || i.Steps > 1 {
		if !in {
			w = leapOffChord
		}
		if !next.Has(from.Transpose(i).Class()) {
			w *= leapOffChord
		}
	}
	if !sl.opens && !p.tends(prev.key, from, from.Transpose(i)) {
		w *= astray
	}
	if _, altered := prev.key.DegreeOf(from.Class()); altered != 0 && !in && !sl.opens && (i.Semitones < -2 || i.Semitones > 2 || i.Semitones == 0) {
		return 0 // a chromatic note goes on by step
	}
	if sl.opens || chord == next || !dominant(chord) || !in {
		return w
	}
	tones := chord.Tones()
	switch {
	case from.Class() == tones[1] && next.Root == chord.Root.Transpose(theory.Fourth):
		if i.Semitones != 1 {
			return 0 // the leading tone rises
		}
	case len(tones) == 4 && from.Class() == tones[3] && i.Steps != -1 && i.Steps != 0:
		w *= 0.1 // the seventh falls, or waits
	}
	return w
}

// dominant reports whether the chord has the build of a dominant.
func dominant(c theory.Chord) bool {
	return c.Quality == theory.DominantSeventh || c.Quality == theory.MajorTriad
}
