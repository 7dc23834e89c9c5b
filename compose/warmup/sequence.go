package warmup

import (
	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// most is how many degrees of the scale a figure begins on, at most.
const most = 5

// sequence is a figure on one degree after the other, up and back, or from the highest down,
// from the tonic on, or higher where the range has no room for that. It ends on the tonic
// nearest to where it comes out.
func sequence(g *ground, shape *figure.Shape, degrees int, down bool) (drawn, bool) {
	way, title := append(run(1, degrees), run(degrees-1, 2)...), "From each step in turn: "
	if down {
		way, title = run(degrees, 1), "From each step, downward: "
	}
	for above := range most {
		notes, ok := g.figures(shape, way, above)
		if !ok {
			continue
		}
		home := 1
		last := notes[len(notes)-1].Step() - g.tonic.Step() + 1
		if abs(last-8) < abs(last-1) && g.high >= 8 {
			home = 8
		}
		l := g.scaleLine("", line(g.high, home))
		l.segments[0].pitches = append(notes, g.at(home, false))
		return drawn{title + shape.Words, []pattern{l}}, true
	}
	return drawn{}, false
}

// figures is the shape on each degree of a way that lies so many steps higher.
func (g *ground) figures(shape *figure.Shape, way []int, above int) ([]theory.Pitch, bool) {
	var notes []theory.Pitch
	for _, degree := range way {
		more, ok := g.figure(shape, degree+above)
		if !ok {
			return nil, false
		}
		notes = append(notes, more...)
	}
	return notes, true
}

// figure is the shape with its lead on a degree: over the triad on it, or the seventh chord
// where the shape is of one. Shapes that begin on another member of the chord do so.
func (g *ground) figure(shape *figure.Shape, degree int) ([]theory.Pitch, bool) {
	chord := g.key.Triad(degree)
	if shape.Members == 4 {
		chord = g.seventh(degree)
	}
	start := g.at(degree, false)
	if along(shape) {
		member := max(shape.From, 1) - 1
		tones := chord.Tones()
		if member >= len(tones) {
			return nil, false
		}
		start = tones[member].In((g.tonic.Step() + degree - 1 + 2*member) / 7)
	}
	pitches, ok := shape.Realize(start, figure.Context{Key: g.key, Chord: chord}, nil)
	if !ok {
		return nil, false
	}
	for _, p := range pitches {
		if !g.within.Has(p) {
			return nil, false
		}
	}
	return pitches, true
}

// along says whether a shape moves along the chord.
func along(s *figure.Shape) bool {
	for _, m := range s.Moves {
		if m.Unit == figure.ChordTone {
			return true
		}
	}
	return false
}

// seventh reports the seventh chord on a degree, of the notes of the scale; the dominant's
// has the leading tone in minor too.
func (g *ground) seventh(degree int) theory.Chord {
	place := ofScale(degree)
	if place == 5 {
		return g.key.DominantSeventh()
	}
	qualities := []theory.Quality{theory.MajorSeventhChord, theory.MinorSeventhChord, theory.MinorSeventhChord,
		theory.MajorSeventhChord, theory.DominantSeventh, theory.MinorSeventhChord, theory.HalfDiminished}
	if g.key.Mode == theory.Minor {
		qualities = []theory.Quality{theory.MinorSeventhChord, theory.HalfDiminished, theory.MajorSeventhChord,
			theory.MinorSeventhChord, theory.DominantSeventh, theory.MajorSeventhChord, theory.DominantSeventh}
	}
	return theory.Chord{Root: g.key.Degree(place), Quality: qualities[place-1]}
}

// meterOf finds a meter in which the cell fills the measure, once or more, and whose line
// can end on a beat. Cells with ties or grace notes have none.
func meterOf(c *rhythm.Cell) (rhythm.Meter, bool) {
	for _, e := range c.Events {
		if e.Tied || e.Grace > 0 {
			return rhythm.Meter{}, false
		}
	}
	for _, name := range []string{"4/4", "3/4", "6/8", "2/4"} {
		m, err := rhythm.ParseMeter(name)
		if err == nil && c.Fits(m) && m.Measure()%c.Span == 0 && len(c.Events) > 1 && !c.Events[0].Rest {
			return m, true
		}
	}
	return rhythm.Meter{}, false
}
