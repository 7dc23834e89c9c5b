package figure

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// drillOf writes an exercise for a shape: it begins on one note of the scale after
// another, a measure each, on the simplest cell of as many notes, in the cell's first
// meter. ok is false where the shape stands on too few notes of the key.
func drillOf(s *Shape, key theory.Key) (part score.Part, cell *rhythm.Cell, ok bool) {
	cells := Default().Cells
	for i := range cells {
		if c := &cells[i]; c.Onsets() == s.Notes() && !strings.Contains(c.Text, "g") && (cell == nil || c.Level < cell.Level) {
			cell = c
		}
	}
	if cell == nil {
		return part, nil, false
	}
	meter, _ := rhythm.ParseMeter(cell.Meters[0])
	first := key.Tonic().In(4).Step()
	for step := first; step < first+8; step++ {
		pitches := realizeIn(s, key.At(step), key)
		if pitches == nil {
			continue
		}
		m := score.Measure{Number: len(part.Measures) + 1, Length: meter.Measure()}
		at, next := rhythm.Offset(0), 0
		for _, e := range cell.Events {
			n := score.Note{At: at, Value: e.Value, Rest: e.Rest}
			if !e.Rest {
				n.Pitch = pitches[next]
				if n.TieStart = e.Tied; !e.Tied {
					next++
				}
				n.TieStop = len(m.Notes) > 0 && m.Notes[len(m.Notes)-1].TieStart
			}
			m.Notes = append(m.Notes, n)
			at = at.Add(e.Value.Duration())
		}
		part.Measures = append(part.Measures, m)
	}
	if len(part.Measures) > 0 {
		part.Measures[0].Key, part.Measures[0].Meter = &key, &meter
	}
	return part, cell, len(part.Measures) >= 2
}

// realizeIn realizes the shape from start over the first chord of the key that bears it:
// triads, then sevenths; nil if none does.
func realizeIn(s *Shape, start theory.Pitch, key theory.Key) []theory.Pitch {
	var chords []theory.Chord
	for degree := 1; degree <= 7; degree++ {
		chords = append(chords, key.Triad(degree))
	}
	for q := theory.DominantSeventh; q <= theory.MajorSeventhChord; q++ {
		for degree := 1; degree <= 7; degree++ {
			c := theory.Chord{Root: key.Degree(degree), Quality: q}
			if !slices.ContainsFunc(c.Tones(), func(x theory.Class) bool { return offKey(key, x.In(4)) }) {
				chords = append(chords, c)
			}
		}
	}
	for _, chord := range chords {
		if pitches, ok := s.Realize(start, Context{key, chord}, nil); ok {
			return pitches
		}
	}
	return nil
}

// An exercise for any shape of any family, in a major and a minor key, is learned back:
// each note lies in a figure, and each figure is the shape that was drilled, or one by
// another name that has the same notes.
func TestEachFamilyIsLearnedBack(t *testing.T) {
	c := Default()
	drilled, same := map[string]int{}, map[string]int{}
	for i := range c.Shapes {
		s := &c.Shapes[i]
		for _, name := range []string{"F", "D minor"} {
			key, err := theory.ParseKey(name)
			if err != nil {
				t.Fatal(err)
			}
			part, cell, ok := drillOf(s, key)
			if !ok {
				continue
			}
			v := c.Learn(&part)
			if v.Explained != v.Total || v.Total != s.Notes()*len(part.Measures) {
				t.Errorf("%s in %s: %d of %d notes lie in figures:\n%s", s.Name, key, v.Explained, v.Total, score.Text(part))
			}
			drilled[s.Family]++
			i, found := v.find(Figure{s.Name, cell.Name})
			if !found {
				t.Errorf("%s on %s in %s was not learned, but %s", s.Name, cell.Name, key, counted(v))
				continue
			}
			if v.Figures[i].Count == len(part.Measures) {
				same[s.Family]++
			} else {
				t.Logf("%s on %s in %s: %s", s.Name, cell.Name, key, counted(v))
			}
		}
	}
	for family, n := range drilled {
		t.Logf("%s: %d exercises, each learned back; %d under the shape's own name alone", family, n, same[family])
	}
	if len(drilled) < 14 {
		t.Errorf("only %d families were drilled", len(drilled))
	}
}

// counted lists the figures that stand by themselves.
func counted(v Vocabulary) string {
	var all []string
	for _, e := range v.Figures {
		if e.Count > 0 {
			all = append(all, fmt.Sprintf("%d %s on %s", e.Count, e.Shape, e.Cell))
		}
	}
	return strings.Join(all, "; ")
}
