package compose_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/styles"
)

// exercises reads the drilled exercises that lie beside the project, by file name.
func exercises(t *testing.T) map[string]*score.Score {
	t.Helper()
	files, _ := filepath.Glob("../../shared/samples/exercises/*.musicxml")
	if len(files) == 0 {
		if os.Getenv("ONWARD_OUTSIDE") != "" {
			t.Fatal("../shared/samples/exercises is not there")
		}
		t.Skip("../shared/samples/exercises is not there: reads of real exercises are not tried")
	}
	out := map[string]*score.Score{}
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
		out[filepath.Base(name)] = s
	}
	return out
}

// Where a rung has none of the rhythms that were drilled, the shapes stand on its own, and the
// read says so: most notes lie in drilled figures of three notes and more.
func TestShapesStandOnOtherRhythms(t *testing.T) {
	w := world(t)
	part := &exercises(t)["technical-e-flat.musicxml"].Parts[0]
	v := w.Catalogue.Learn(part)
	var all []compose.Request
	for i := range reads(12) {
		all = append(all, compose.Request{Style: sheet(t, styles.Names()[i%2]), Rung: []int{5, 8, 11}[i/2%3], Instrument: instrument(t, "trombone"), Form: "strain", Seed: uint64(i),
			Vocabulary: &v, Drills: compose.Lines(part, 15)})
	}
	notes, figures := 0, 0
	for _, r := range composed(t, w, all) {
		for _, f := range r.Figures {
			notes += f.Notes
			if f.Known && f.Notes >= 3 {
				figures += f.Notes
			}
		}
		if !slices.ContainsFunc(r.Loosened, func(l string) bool { return strings.Contains(l, "none of your rhythms") }) {
			t.Errorf("%s: it does not say that the rhythms are others: %q", r.Identity, r.Loosened)
		}
	}
	t.Logf("%d of %d notes lie in drilled figures of three notes and more", figures, notes)
	if 100*figures < 70*notes {
		t.Errorf("%d of %d notes lie in drilled figures of three notes and more, want 70 in 100", figures, notes)
	}
}

// From a drilled exercise the reads are made of its figures: at least nine notes in ten
// of those that are not in traps, at rungs that have them, and no run of it returns (Compose certifies that).
func TestReadsAreMadeOfWhatWasDrilled(t *testing.T) {
	w := world(t)
	in := instrument(t, "trombone")
	for name, s := range exercises(t) {
		part := &s.Parts[0]
		v := w.Catalogue.Learn(part)
		var all []compose.Request
		for i := range 6 * reads(12) {
			all = append(all, compose.Request{Style: sheet(t, styles.Names()[i%2]), Rung: []int{6, 9, 12}[i/2%3], Instrument: in, Form: "strain", Seed: uint64(i / 6),
				Vocabulary: &v, Drills: compose.Lines(part, 15)})
		}
		sum, least, n := 0.0, 1.0, 0
		for _, r := range composed(t, w, all) {
			notes, traps := 0, 0 // a trap is what was not drilled, on purpose
			for _, f := range r.Figures {
				notes += f.Notes
				if f.Trap {
					traps += f.Notes
				}
			}
			covered := min(1, r.Coverage*float64(notes)/float64(notes-traps))
			sum, least, n = sum+covered, min(least, covered), n+1
		}
		t.Logf("%s: coverage %.1f %%, least %.1f %%", name, 100*sum/float64(n), 100*least)
		if sum/float64(n) < 0.9 {
			t.Errorf("%s: coverage %.1f %%, want 90 %%", name, 100*sum/float64(n))
		}
	}
}
