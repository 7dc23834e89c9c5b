package musicxml

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"onward/compose/score"
	"onward/rhythm"

	"pgregory.net/rapid"
)

// outsideScores writes one page of every sign and count random scores of one part into
// a folder, and reports them with the files' names.
func outsideScores(t *testing.T, count int) (scores []*score.Score, files []string) {
	t.Helper()
	scores = []*score.Score{marchPage()}
	for seed := range count {
		s := rapid.Custom(drawPlain).Example(seed)
		s.Parts = s.Parts[:1]
		scores = append(scores, s)
	}
	dir := t.TempDir()
	for i, s := range scores {
		file := filepath.Join(dir, fmt.Sprintf("random-%d.musicxml", i))
		if err := os.WriteFile(file, written(t, s), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, file)
	}
	return scores, files
}

// Every document is valid against the MusicXML 4.0 schema (W3C), as an independent
// validator finds it.
func TestSchema(t *testing.T) {
	schema, _ := filepath.Abs(filepath.Join("..", "..", "..", "shared", "musicxml-schema"))
	if _, err := os.Stat(schema); err != nil {
		outside(t, "the MusicXML schema is not at ../shared/musicxml-schema")
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		outside(t, "xmllint is not installed (Debian: libxml2-utils)")
	}
	_, files := outsideScores(t, 60)
	args := append([]string{"--noout", "--nonet", "--schema", filepath.Join(schema, "musicxml.xsd")}, files...)
	lint := exec.Command("xmllint", args...)
	lint.Env = append(os.Environ(), "XML_CATALOG_FILES="+filepath.Join(schema, "catalog.xml"))
	if out, err := lint.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// A struck is a note as it sounds: when, in quarters from the start, and its MIDI number.
type struck [2]float64

// An independent engraver reads the same onsets and the same sounding pitches out of
// the documents as stand in the scores.
func TestEngraver(t *testing.T) {
	modules := filepath.Join("..", "..", "testdata", "outside")
	if _, err := os.Stat(filepath.Join(modules, "node_modules", "verovio")); err != nil {
		outside(t, "the engraver is not installed: npm ci --prefix testdata/outside")
	}
	if _, err := exec.LookPath("node"); err != nil {
		outside(t, "node is not installed")
	}
	count := 6
	if os.Getenv("ONWARD_LONG") == "1" {
		count = 100
	}
	scores, files := outsideScores(t, count)
	out, err := exec.Command("node", append([]string{filepath.Join(modules, "engraver.mjs")}, files...)...).Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, err.(*exec.ExitError).Stderr)
	}
	lines := bytes.Split(bytes.TrimSpace(out), []byte("\n"))
	if len(lines) != len(scores) {
		t.Fatalf("%d answers to %d files", len(lines), len(scores))
	}
	compared := 0
	for i, s := range scores {
		var played []struck
		if err := json.Unmarshal(lines[i], &played); err != nil {
			t.Fatal(err)
		}
		notes, graces := struckOf(&s.Parts[0])
		compared += len(notes)
		if fault := unlikeStruck(played, notes, graces); fault != "" {
			t.Errorf("%s: %s\n%s", filepath.Base(files[i]), fault, textOf(s))
		}
	}
	if compared < 10*len(scores) {
		t.Errorf("only %d notes were compared", compared)
	}
}

// expected is a note that must sound between two times, in quarters from the start.
type expected struct{ from, until, key float64 }

// struckOf reports the notes of the part as they sound, tied notes as one, and the
// sounding pitches of its grace notes. A note with grace notes may be late: the
// engraver plays some of them on the beat.
func struckOf(p *score.Part) (notes []expected, graces []float64) {
	start := rhythm.Duration(0)
	for i := range p.Measures {
		m := &p.Measures[i]
		for _, n := range m.Notes {
			if !n.Rest && !n.TieStop {
				at := float64(start+n.At.Since(0)) / float64(rhythm.Quarter)
				until := at
				if len(n.Grace) > 0 {
					until += float64(n.Duration(m)) / float64(rhythm.Quarter)
				}
				notes = append(notes, expected{at, until, float64(n.Pitch.Transpose(p.Sounds).MIDI())})
			}
			for _, g := range n.Grace {
				graces = append(graces, float64(g.Transpose(p.Sounds).MIDI()))
			}
		}
		start += m.Length
	}
	return notes, graces
}

// unlikeStruck says how what was played differs from the notes and graces expected;
// "" for not at all. Grace notes may come at any time.
func unlikeStruck(played []struck, notes []expected, graces []float64) string {
	const rounding = 1.5 / 120 // quarters
	for _, n := range notes {
		k := slices.IndexFunc(played, func(p struck) bool {
			return p[1] == n.key && p[0] > n.from-rounding && p[0] < n.until+rounding
		})
		if k < 0 {
			return fmt.Sprintf("nothing sounds %v at quarter %v; left over are %v", n.key, n.from, played)
		}
		played = slices.Delete(played, k, k+1)
	}
	var left []float64
	for _, p := range played {
		left = append(left, p[1])
	}
	slices.Sort(left)
	slices.Sort(graces)
	if !slices.Equal(left, graces) {
		return fmt.Sprintf("sounds %v, which are not the grace notes %v", left, graces)
	}
	return ""
}
