package ladder_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/theory"
)

// samples are real parts, easiest first, as a teacher put them in order from the engraved
// pages before any was rated. Neighbours may change places; songs are below marches, and
// marches below the last three.
var samples = []struct{ file, instrument, kind string }{
	{"songs/vocalise-*-3", "trombone", "song"},
	{"songs/vocalise-5", "trombone", "song"},
	{"songs/vocalise-2", "trombone", "song"},
	{"exercises/technical-c", "trombone", "exercise"},
	{"marches/march-b-baritone", "trombone", "march"},
	{"marches/march-b-cornet", "cornet", "march"},
	{"marches/march-a-baritone", "trombone", "march"},
	{"exercises/brilliant-5", "trombone", "last"},
	{"exercises/technical-f", "trombone", "last"},
	{"exercises/technical-e-flat", "trombone", "last"},
}

// Real parts get rungs in a teacher's order.
func TestRealPartsStandInATeachersOrder(t *testing.T) {
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	by := map[string][]ladder.Rating{}
	var all []float64
	for _, s := range samples {
		r := rateSample(t, l, cat, s.file, s.instrument)
		t.Logf("%-28s rung %2d, load %.2f, difficulty %.2f, %v", s.file, r.Rung, r.Mean, r.Difficulty, r.Aspects)
		if r.Named < 0.95 {
			t.Errorf("%s: %.0f %% of the notes in figures with names, want 95 %%", s.file, 100*r.Named)
		}
		by[s.kind], all = append(by[s.kind], r), append(all, r.Difficulty)
	}
	before(t, by, "song", "march")
	before(t, by, "march", "last")
	apart := 0
	for i, d := range all { // Spearman by places
		place := 0
		for _, o := range all {
			if o < d {
				place++
			}
		}
		apart += (place - i) * (place - i)
	}
	n := len(all)
	rho := 1 - 6*float64(apart)/float64(n*(n*n-1))
	t.Logf("Spearman with the teacher's order %.2f", rho)
	if rho < 0.9 {
		t.Errorf("Spearman with the teacher's order %.2f, want 0.9", rho)
	}
}

// before demands that all of one kind stand below all of another.
func before(t *testing.T, by map[string][]ladder.Rating, low, high string) {
	t.Helper()
	for _, a := range by[low] {
		for _, b := range by[high] {
			if a.Rung >= b.Rung || a.Difficulty >= b.Difficulty {
				t.Errorf("a %s of rung %d, difficulty %.2f, is not below a %s of rung %d, difficulty %.2f", low, a.Rung, a.Difficulty, high, b.Rung, b.Difficulty)
			}
		}
	}
}

func rateSample(t *testing.T, l *ladder.Ladder, cat *figure.Catalogue, file, id string) ladder.Rating {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join("..", "..", "..", "shared", "samples", file+".musicxml"))
	if len(files) != 1 {
		if os.Getenv("ONWARD_OUTSIDE") == "1" {
			t.Fatalf("%s is not at ../shared/samples", file)
		}
		t.Skip("the samples are not at ../shared/samples")
	}
	text, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	s, _, err := musicxml.ReadFile(filepath.Base(files[0]), bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return l.Rate(&s.Parts[0], &in, cat, nil)
}

// Each aspect of a part is told by itself: what puts it where it is.
func TestAspectsAreToldApart(t *testing.T) {
	for _, c := range []struct {
		text, aspect string
		rung         int
	}{
		{plain(head, quarters), "meters", 1},
		{plain(head, quarters), "leaps", 1},
		{plain(head, quarters), "keys", 1}, // written C is concert B-flat for a cornet
		{plain("part P; key E major; 4/4 treble tempo 4=92; ", quarters), "keys", 9},
		{"part P; key C major; 9/8 treble tempo 4.=50; C4:2. D4:4. | E4:2. C4:4. |]", "meters", 9},
		{"part P; key C major; 2/2 treble tempo 2=100; C4:2 D4:2 | E4:2 C4:2 |]", "meters", 5},
		{"part P; key C major; 4/4 treble tempo 4=92; C4:4 C5:4 D4:4 D5:4 | D4:1 |]", "leaps", 5},
		{"part P; key C major; 4/4 treble tempo 4=92; C4:4 D4:4 E4:4 F#6:4 | C4:1 |]", "range", 12},
		{"part P; key C major; 4/4 treble tempo 4=92; R | R |]", "load", 1},
	} {
		found := false
		for _, a := range rated(t, c.text).Aspects {
			if a.Name == c.aspect {
				found = true
				if a.Rung != c.rung {
					t.Errorf("%s of %q: rung %d, want %d", c.aspect, c.text, a.Rung, c.rung)
				}
			}
		}
		if !found {
			t.Errorf("%q has no aspect %s", c.text, c.aspect)
		}
	}
}
