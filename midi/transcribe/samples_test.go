package transcribe

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/musicxml"
)

// figures lists what stands by itself in a vocabulary.
func figures(l figure.Lesson) string {
	var all []string
	for _, e := range l.Figures {
		if e.Count > 0 {
			all = append(all, e.Shape+" on "+e.Cell)
		}
	}
	for _, o := range l.Own {
		all = append(all, o.Name+": "+o.Moves)
	}
	return strings.Join(all, "; ")
}

// The MIDI of an exercise holds the same figures as its MusicXML.
func TestExercisesHoldTheSameFigures(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/samples/exercises/*.musicxml")
	if len(files) == 0 {
		if os.Getenv("ONWARD_OUTSIDE") == "1" {
			t.Fatal("the sample exercises are not there")
		}
		t.Skip("the sample exercises are not there")
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		s, _, err := musicxml.Read(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		for i := range s.Parts[0].Measures { // played once through
			m := &s.Parts[0].Measures[i]
			m.RepeatStart, m.RepeatEnd, m.Ending, m.EndingStart, m.EndingStop = false, false, 0, false, false
		}
		take := played(t, &s.Parts[0])
		page, err := Write(take, Voices(take)[0])
		if err != nil {
			t.Fatal(err)
		}
		want, got := figure.Default().Study(&s.Parts[0]), figure.Default().Study(&page.Part)
		if figures(got) != figures(want) || got.Total != want.Total {
			t.Errorf("%s: %d notes, %.0f bits: %s\nwant %d notes, %.0f bits: %s", name, got.Total, got.ByFigure, figures(got), want.Total, want.ByFigure, figures(want))
		}
	}
}
