package warmup

import (
	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// most is how many degrees of the scale a figure begins on, at most.
const most = 5

// sequence is a figure on one degree after the other, up and back, or from the highest down;
// it ends on the tonic.
func sequence(g *ground, shape *figure.Shape, degrees int, down bool) (drawn, bool) {
	l := g.scaleLine("", line(g.high, 1))
	var notes []theory.Pitch
	way, title := append(run(1, degrees), run(degrees-1, 2)...), "Figure from each step in turn: "
	if down {
		way, title = run(degrees, 1), "Figure from each step, downward: "
	}
	for _, degree := range way {
		more, ok := g.figure(shape, degree)
		if !ok {
			return drawn{}, false
		}
		notes = append(notes, more...)
	}
	l.segments[0].pitches = append(notes, g.tonic)
	return drawn{title + shape.Words, []pattern{l}}, true
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
