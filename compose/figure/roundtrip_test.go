package figure

import (
	"testing"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// written is a part of one figure a measure, and what each should be found as.
type written struct {
	part  score.Part
	shape []*Shape
	cell  []*rhythm.Cell
}

// add writes the pitches on the cell at the start of a measure of its own.
func (w *written) add(s *Shape, c *rhythm.Cell, m rhythm.Meter, k theory.Key, pitches []theory.Pitch) {
	bar := score.Measure{Number: len(w.shape) + 1, Length: m.Measure(), Meter: &m, Key: &k}
	at, next, tied := rhythm.Offset(0), -1, false
	for _, e := range c.Events {
		n := score.Note{At: at, Value: e.Value, Rest: e.Rest, TieStart: e.Tied, TieStop: tied}
		if !e.Rest {
			if !tied {
				next++
			}
			n.Pitch = pitches[next]
		}
		for range e.Grace {
			n.Grace = append(n.Grace, n.Pitch)
		}
		bar.Notes = append(bar.Notes, n)
		at, tied = at.Add(e.Value.Duration()), e.Tied
	}
	w.part.Measures = append(w.part.Measures, bar)
	w.shape, w.cell = append(w.shape, s), append(w.cell, c)
}

// chords are the tonic, the dominant seventh, and in major the dominant seventh of
// the dominant, with its note off the key.
func chords(k theory.Key) []theory.Chord {
	if k.Mode == theory.Minor {
		return []theory.Chord{
			{Root: k.Degree(1), Quality: theory.MinorTriad},
			{Root: k.Degree(5), Quality: theory.DominantSeventh},
		}
	}
	return []theory.Chord{
		{Root: k.Degree(1)},
		{Root: k.Degree(5), Quality: theory.DominantSeventh},
		{Root: k.Degree(2), Quality: theory.DominantSeventh},
	}
}

// players are clefs, transpositions and lowest written notes to test in: a
// B-flat trumpet, a euphonium in treble and in bass clef, an alto saxophone.
var players = []struct {
	clef   theory.Clef
	sounds theory.Interval
	low    string
}{
	{theory.Treble, theory.Interval{Steps: -1, Semitones: -2}, "A3"},
	{theory.Treble, theory.Interval{Steps: -8, Semitones: -14}, "F#3"},
	{theory.Bass, theory.Interval{}, "E2"},
	{theory.Treble, theory.Interval{Steps: -5, Semitones: -9}, "Bb3"},
}

// alsoNamed holds the shapes whose notes always have a simpler name too, and are
// found under it.
var alsoNamed = map[string]string{
	"chord note up":            "a step, third or fourth up",
	"chord note down":          "a step, third or fourth down",
	"chord note skipped up":    "a fourth to a sixth up",
	"chord note skipped down":  "a fourth to a sixth down",
	"seventh chord three up":   "a triad up, or a skip and a step",
	"seventh chord three down": "a triad down, or a step and a skip",
}

// Every shape, written on the cells that have as many notes, in twelve keys, major
// and minor by turns, for four players, is found under its own name from at least
// one note over one chord in nine keys or more: in some a half step is spelled as another
// one. Where another name is found, that shape sounds the same.
func TestEveryShapeIsFoundAgain(t *testing.T) {
	keys := map[string]int{}
	for fifths := -6; fifths < 6; fifths++ {
		k := theory.Key{Fifths: fifths}
		if fifths%2 == 0 && fifths <= 3 { // no further: its dominant needs a double sharp
			k.Mode = theory.Minor
		}
		player := players[(fifths+6)%len(players)]
		w := written{part: score.Part{Sounds: player.sounds}}
		w.writeShapes(k, theory.MustPitch(player.low).Step())
		w.part.Measures[0].Clef = &player.clef
		for s := range checkFound(t, &w, k) {
			keys[s]++
		}
	}
	for i := range Default().Shapes {
		if s := Default().Shapes[i].Name; keys[s] < 9 && alsoNamed[s] == "" {
			t.Errorf("%s is found under its own name in %d keys, want 9 or more", s, keys[s])
		}
	}
}

// writeShapes writes every shape from every note of an octave over every chord.
func (w *written) writeShapes(k theory.Key, low int) {
	c := Default()
	for i := range c.Shapes {
		s, turn := &c.Shapes[i], i
		for _, ch := range chords(k) {
			for step := low; step < low+7; step++ {
				pitches, ok := s.Realize(k.At(step), Context{k, ch}, nil)
				if cell, m, found := someCell(len(pitches), turn); ok && found {
					w.add(s, cell, m, k, pitches)
					turn++
				}
			}
		}
	}
}

// someCell picks, turn by turn, a cell of that many notes and a meter it is at home in.
func someCell(notes, turn int) (*rhythm.Cell, rhythm.Meter, bool) {
	var all []*rhythm.Cell
	for i := range Default().Cells {
		if cell := &Default().Cells[i]; cell.Onsets() == notes {
			all = append(all, cell)
		}
	}
	if len(all) == 0 {
		return nil, rhythm.Meter{}, false
	}
	cell := all[turn%len(all)]
	m, err := rhythm.ParseMeter(cell.Meters[turn/len(all)%len(cell.Meters)])
	return cell, m, err == nil
}

// checkFound reports the shapes that were found under their own names.
func checkFound(t *testing.T, w *written, k theory.Key) map[string]int {
	t.Helper()
	own := map[string]int{}
	found := Default().Recognize(&w.part)
	if len(found) != len(w.shape) {
		t.Fatalf("%s: %d figures found, %d written", k, len(found), len(w.shape))
	}
	bars := hear(&w.part)
	for i, f := range found {
		s := w.shape[i]
		if f.Measure != i || f.Notes != s.Notes() || !heardAlike(f.Cell, w.cell[i].Name) {
			t.Fatalf("%s: %s on %s found as %+v", k, s.Name, w.cell[i].Name, f)
		}
		if f.Shape == s.Name {
			own[s.Name]++
		} else if !makes(Default().Shape(f.Shape), bars[i].sounds, k) {
			t.Errorf("%s: %s found as %s", k, s.Name, f.Shape)
		}
	}
	return own
}

// heardAlike reports whether two cells are the same but for rests of whole beats
// before or after, which the ear cannot tell from an empty beat.
func heardAlike(a, b string) bool {
	p, q := patternOf(Default().Cell(a)), patternOf(Default().Cell(b))
	if len(p.notes) != len(q.notes) {
		return false
	}
	for i := range p.notes {
		x, y := p.notes[i], q.notes[i]
		if x.length != y.length || x.grace != y.grace || x.at-p.notes[0].at != y.at-q.notes[0].at {
			return false
		}
	}
	return true
}

// makes reports whether the shape can be realized, over some chord, to sound so.
func makes(s *Shape, sounds []sound, k theory.Key) bool {
	for letter := theory.C; letter <= theory.B; letter++ {
		for alter := -1; alter <= 1; alter++ {
			for q := range builds {
				chord := theory.Chord{Root: theory.Class{Letter: letter, Alter: alter}, Quality: theory.Quality(q)}
				got, ok := s.Realize(sounds[0].pitch, Context{k, chord}, nil)
				if ok && soundAlike(got, sounds) {
					return true
				}
			}
		}
	}
	return false
}

func soundAlike(pitches []theory.Pitch, sounds []sound) bool {
	for i, p := range pitches {
		if p.MIDI() != sounds[i].pitch.MIDI() {
			return false
		}
	}
	return len(pitches) == len(sounds)
}

// Every cell is found again in every meter that it is at home in.
func TestEveryCellIsFoundAgain(t *testing.T) {
	for i := range Default().Cells {
		cell := &Default().Cells[i]
		for _, m := range meters(t) {
			if !cell.Fits(m) {
				continue
			}
			for _, s := range Default().ShapesOf(cell.Onsets())[:1] {
				pitches, ok := s.Realize(theory.MustPitch("C4"), Context{}, nil)
				if !ok {
					t.Fatalf("%s: not from C", s.Name)
				}
				w := written{}
				w.add(s, cell, m, theory.Key{}, pitches)
				found := Default().Recognize(&w.part)
				if len(found) != 1 || found[0].Shape != s.Name || !heardAlike(found[0].Cell, cell.Name) {
					t.Errorf("%s: %q found as %s", m, cell.Name, figures(found))
				}
			}
		}
	}
}
