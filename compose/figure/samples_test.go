package figure_test

import (
	"os"
	"path/filepath"
	"testing"

	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
)

// The drilled studies, songs and band parts by others are made of the catalogue's
// figures: at least this share of their notes lies in figures, and a figure takes in
// at least as many notes as said.
func TestSamples(t *testing.T) {
	for _, tt := range []struct {
		folder   string
		coverage float64
		notes    float64
	}{
		{"exercises", 0.97, 3}, {"songs", 0.97, 2}, {"marches", 0.95, 2},
	} {
		files, _ := filepath.Glob(filepath.Join("../../../shared/samples", tt.folder, "*.musicxml"))
		if len(files) == 0 {
			absent(t, tt.folder)
		}
		for _, file := range files {
			learnSample(t, file, tt.coverage, tt.notes)
		}
	}
}

// By figures the studies are said in at most half of what they take note by note.
func TestHalfTheLength(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/samples/exercises/*.musicxml")
	if len(files) == 0 {
		absent(t, "exercises")
	}
	for _, file := range files {
		p := readSample(t, file)
		l := figure.Default().Study(p)
		t.Logf("%s: %.0f bits note by note, %.0f by figures (%.1f %%), own %v",
			filepath.Base(file), l.ByNote, l.ByFigure, 100*l.ByFigure/l.ByNote, l.Own)
		if l.ByFigure > l.ByNote/2 {
			t.Errorf("%s: %.0f bits by figures, %.0f note by note", file, l.ByFigure, l.ByNote)
		}
	}
}

func absent(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Errorf("the sample %s are not there", what)
		return
	}
	t.Skipf("the sample %s are not there", what)
}

func readSample(t *testing.T, file string) *score.Part {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, _, err := musicxml.Read(f)
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return &s.Parts[0]
}

func learnSample(t *testing.T, file string, coverage, notes float64) {
	t.Helper()
	p := readSample(t, file)
	v := figure.Default().Learn(p)
	found := figure.Default().RecognizeIn(p, &v)
	figures := 0
	for _, e := range v.Figures {
		figures += e.Count
	}
	got, each := v.Coverage(found, len(figure.Onsets(p))), float64(v.Explained)/float64(max(figures, 1))
	t.Logf("%s: %d of %d notes in %d figures, %.2f notes each, coverage %.3f",
		filepath.Base(file), v.Explained, v.Total, figures, each, got)
	if got < coverage || each < notes {
		t.Errorf("%s: coverage %.3f, %.2f notes a figure; want at least %v and %v", file, got, each, coverage, notes)
	}
}
