package compose

import (
	"math"

	"onward/compose/figure"
	"onward/theory"
)

// Shares of weight against a chord tone or a known figure.
const (
	offChordOnBeat = 0.5  // a note outside the chord on a beat
	leapOffChord   = 0.08 // a leap to or from a note outside the chord
	unknownFigure  = 0.0003
	knownShape     = 0.02 // a shape of the vocabulary on a cell it was not drilled on
	freshShape     = 12.0
	contourWidth   = 0.16 // of the range, where the pull is 1
	contourRise    = 4    // steps off the line's own rise
	boneWidth      = 2    // steps that a downbeat may lie off the line of downbeats
	leastRise      = 0.05
	atSummit       = 3     // one of the two highest notes where the section's peak is due
	overPeak       = 0.005 // a note above the section's peak to come
	highLeap       = 0.12  // times the rung: a leap up into the two highest notes
	shortLeap      = 0.8   // a leap between short notes
	shortTurn      = 0.2   // two of them, there and back
	shortRepeat    = 0.35  // a short note repeated
	astray         = 0.05  // an altered note that does not go on by step the way it points
	longAgain      = 0.4   // a note of a beat or more repeated
	againInside    = 2     // a note repeated inside a figure, times what it weighs between figures
	tellsChord     = 3     // a note that the key lacks and its chord has
	leadingTone    = 2     // the leading tone or the second degree before a close
	leastContour   = 1e-4  // however far the line is from its arch
	leastWeight    = 1e-12
)

// repeating is the family of shapes that stay on their note.
const repeating = "repeated"

// shapeWeight is how gladly the shape is used: by style, freshness and vocabulary.
func (p *piece) shapeWeight(sl *slot, s *figure.Shape) float64 {
	w := 1.0
	if f, ok := p.req.Style.Families[s.Family]; ok {
		if w = f; s.Family == repeating && f < 1 { // a note again and again fills, but says little
			w = math.Pow(f, float64(max(s.Notes()-2, 1)))
		}
	}
	w /= math.Pow(float64(p.kin(s)), kinShare)
	if p.bounds.FreshShapes[s.Name] {
		w *= freshShape
	}
	if sl.must != 0 && s.Notes() > 1 {
		fig := figure.Figure{Shape: s.Name, Cell: sl.cell.Name}
		return p.aimWeight(sl, fig, w, p.drilledWeight(sl, s, w))
	}
	return p.drilledWeight(sl, s, w)
}

// drilledWeight is how gladly the shape is used by a player who drilled it or did not; w is
// how gladly by style.
func (p *piece) drilledWeight(sl *slot, s *figure.Shape, w float64) float64 {
	d := p.drilled
	if d == nil || s.Notes() == 1 || sl.trap {
		return w
	}
	fig := figure.Figure{Shape: s.Name, Cell: sl.cell.Name}
	if much, ok := d.figures[fig]; ok {
		return w * (0.5 + much)
	}
	if d.shapes[s.Name] {
		return w * knownShape
	}
	return w * unknownFigure
}

// lineWeight weighs a figure's pitches in the slot: 0 where a rule is broken.
func (p *piece) lineWeight(sl *slot, pitches []theory.Pitch) float64 {
	w, told := 1.0, false
	for i, q := range pitches {
		if !p.inRange(q) {
			return 0
		}
		in := sl.chords[i].Has(q.Class())
		if _, altered := sl.key.DegreeOf(q.Class()); in && altered != 0 && !told {
			told, w = true, w*tellsChord
		}
		if !in && sl.strong[i] {
			if !p.leaningNote(sl, pitches, i) {
				return 0
			}
			w *= p.req.Style.Melody.Leaning
			continue
		}
		if !in && sl.held[i] > p.meter.Beat() {
			return 0 // a note outside the chord does not stay
		}
		if !in && (p.meter.OnBeat(sl.onsets[i]) || sl.held[i] == p.meter.Beat()) {
			w *= offChordOnBeat
		}
		if i == 0 {
			continue
		}
		w *= p.stepWeight(pitches[i-1], q) * p.shortWeight(sl, pitches, i)
		if !p.tends(sl.key, pitches[i-1], q) {
			w *= astray
		}
		if q == pitches[i-1] && sl.held[i-1] >= p.meter.Beat() && p.drilled == nil && p.req.Rung >= leaningRungs {
			w *= longAgain
		}
		if q == pitches[i-1] && sl.held[i-1] < p.meter.Beat() && p.drilled == nil {
			w *= min(1, againInside*p.req.Style.Melody.Repeat)
		}
		if d := q.Step() - pitches[i-1].Step(); d < -1 || d > 1 {
			if !in || !sl.chords[i-1].Has(pitches[i-1].Class()) {
				w *= leapOffChord
			}
		}
		if w == 0 {
			return 0
		}
	}
	if sl.leads {
		for i, q := range pitches {
			if degree, altered := sl.key.DegreeOf(q.Class()); degree == 7 && dominant(sl.chords[i]) && sl.chords[i].Has(q.Class()) && altered >= 0 {
				w *= leadingTone
				break
			}
		}
	}
	if n := len(pitches); sl.final != "" {
		if !p.closes(sl, pitches[n-1]) || n > 1 && after(pitches[n-1].MIDI()-pitches[n-2].MIDI()).open() {
			return 0
		}
	}
	return w
}

// tends reports whether a note that the key lacks goes on the way it points, a raised one
// up by step, a lowered one down, or waits; all other notes may go where they like.
func (p *piece) tends(key theory.Key, from, to theory.Pitch) bool {
	_, altered := key.DegreeOf(from.Class())
	d := to.Step() - from.Step()
	return altered == 0 || p.drilled != nil || d == 0 || altered > 0 && d == 1 || altered < 0 && d == -1
}

// leaningRungs is the rung from which a note outside the chord may stand on a strong beat.
const leaningRungs = 5

// leaningNote reports whether note i, outside the chord on a strong beat, leans: it is of the
// key, no longer than a beat, and the figure resolves it down a step into the chord.
func (p *piece) leaningNote(sl *slot, pitches []theory.Pitch, i int) bool {
	if p.req.Rung < leaningRungs || sl.final != "" || i+1 >= len(pitches) || sl.held[i] > p.meter.Beat() {
		return false
	}
	_, altered := sl.key.DegreeOf(pitches[i].Class())
	if altered != 0 || pitches[i+1].Step() != pitches[i].Step()-1 || !sl.chords[i+1].Has(pitches[i+1].Class()) {
		return false
	}
	return i == 0 || pitches[i-1].Step()-pitches[i].Step() <= 1 && pitches[i-1].Step()-pitches[i].Step() >= -2
}

// shortWeight weighs the interval into note i where the note before is short, less than
// the usual half or third of a beat: short notes go by step, or along a chord one way.
func (p *piece) shortWeight(sl *slot, pitches []theory.Pitch, i int) float64 {
	usual := p.meter.Beat() / 2
	if p.meter.Compound() {
		usual = p.meter.Beat() / 3
	}
	if sl.held[i-1] >= usual {
		return 1
	}
	d := pitches[i].Step() - pitches[i-1].Step()
	switch {
	case d == 0:
		return shortRepeat
	case d >= -1 && d <= 1:
		if i > 1 && d*(pitches[i-1].Step()-pitches[i-2].Step()) < 0 && p.req.Style.Melody.Turn > 0 && p.drilled == nil {
			return p.req.Style.Melody.Turn
		}
		return 1
	}
	if i > 1 {
		if before := pitches[i-1].Step() - pitches[i-2].Step(); before*d < -1 && (before < -1 || before > 1) {
			return shortTurn
		}
	}
	return shortLeap
}

// pull weighs how near a figure is to where the line should be, whether it goes where the
// line goes, and whether it leaves the peak to the section's own.
func (p *piece) pull(sl *slot, in *instance) float64 {
	off := (in.mean - sl.target) / (contourWidth * float64(p.high.Step()-p.low.Step()) / p.req.Style.Melody.Pull)
	w := max(math.Exp(-off*off/2), leastContour)
	if len(in.pitches) > 1 {
		turn := (float64(in.rise) - sl.rise) / contourRise
		w *= max(math.Exp(-turn*turn/2), leastRise)
	}
	if sl.at == 0 && sl.bone > 0 { // the downbeats by themselves make a line
		off := (float64(in.pitches[0].Step()) - sl.bone) / boneWidth
		w *= max(math.Exp(-off*off/2), leastRise)
	}
	switch {
	case in.top > sl.cap:
		w *= overPeak
	case sl.peak && in.top >= p.high.Step()-1:
		w *= atSummit
	}
	return w
}

// stepWeight weighs one interval inside or between figures for the rung's largest
// leap and for what the instrument makes costly; 0 if the rung does not have it.
func (p *piece) stepWeight(a, b theory.Pitch) float64 {
	steps := b.Step() - a.Step()
	if steps < 0 {
		steps = -steps
	}
	if steps+1 > p.rung.Leap {
		return 0
	}
	w := math.Exp(-p.costShare * float64(p.req.Instrument.Cost(a, b)))
	if steps > 1 && b.Step() > a.Step() && b.Step() >= p.high.Step()-1 {
		w *= min(1, highLeap*float64(p.req.Rung))
	}
	return w
}

// closes reports whether a phrase may end on the pitch: on the tonic where it
// closes, on a member of the dominant at a half cadence, on third or fifth (or any
// member of another chord) where it stays open.
func (p *piece) closes(sl *slot, q theory.Pitch) bool {
	chord := sl.chords[len(sl.chords)-1]
	degree, altered := sl.key.DegreeOf(q.Class())
	if !chord.Has(q.Class()) {
		return false
	}
	switch sl.final {
	case "close":
		return degree == 1 && altered == 0
	case "half":
		return degree != 4 // not on the seventh of V7
	}
	return degree != 7
}
