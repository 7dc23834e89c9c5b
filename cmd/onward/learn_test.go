package main

import (
	"bytes"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/musicxml"
	"onward/compose/score"
)

// drill is an exercise: scales and broken chords in eighths.
const drill = "key C; 2/4 treble C4:8 D4:8 E4:8 F4:8 | G4:8 F4:8 E4:8 D4:8 | C4:8 E4:8 G4:8 E4:8 | D4:8 E4:8 F4:8 G4:8 |" +
	" A4:8 G4:8 F4:8 E4:8 | D4:8 F4:8 A4:8 F4:8 | G4:8 F4:8 E4:8 D4:8 | E4:4 C4:4 |]"

// writeDrill writes the exercise as a MusicXML file.
func writeDrill(t *testing.T, name string) score.Part {
	t.Helper()
	p := score.MustText(drill)
	p.Name = "Trumpet"
	var b bytes.Buffer
	if err := musicxml.Write(&b, &score.Score{Title: "Scales", Parts: []score.Part{p}}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestLearnReport(t *testing.T) {
	s := newStage(t)
	writeDrill(t, "scales.musicxml")
	out := fine(t, s, "learn scales.musicxml")
	inOrder(t, out, "notes   30, of which 30 lie in figures (100.0 %)\n", "keys    C major (8 measures)\n", "meters  2/4 (8 measures)\n",
		"four up, on four eighths\n", "four eighths\n")
	if strings.Contains(out, "saved") {
		t.Errorf("it was not asked to save:\n%s", out)
	}
	if _, err := os.Stat("journal.db"); err == nil {
		t.Error("a journal was begun for nothing")
	}
}

func TestLearnDocument(t *testing.T) {
	s := newStage(t)
	writeDrill(t, "scales.musicxml")
	var l learned
	r := json.NewDecoder(strings.NewReader(fine(t, s, "learn --json scales.musicxml")))
	r.DisallowUnknownFields()
	if err := r.Decode(&l); err != nil {
		t.Fatal(err)
	}
	if l.Coverage != 1 || l.Total != 30 || len(l.Keys) != 1 || l.Keys[0] != (learnedKey{"C major", 8}) || len(l.Figures) == 0 {
		t.Errorf("got %+v", l)
	}
}

// Figures may be given as the exercise, as a saved name or, without the exercise's line,
// as a file; the first two are one request.
func TestReadOfDrilledFigures(t *testing.T) {
	s := newStage(t)
	part := writeDrill(t, "scales.musicxml")
	inOrder(t, fine(t, s, "learn scales.musicxml --save warm-up"), "\nsaved: onward read --figures warm-up\n")
	fine(t, s, "learn scales.musicxml --save figures.toml")
	flags := " --rung 6 --meter 2/4 --seed 3 --instrument trumpet"
	out := fine(t, s, "write --figures warm-up"+flags)
	inOrder(t, out, "figures    ", " % of the notes lie in figures that you drill\n", "return from what you drill;", "--figures warm-up ")
	again := fine(t, s, "write --figures scales.musicxml"+flags)
	if !strings.Contains(again, "a repeat of your read") {
		t.Errorf("the exercise and its saved figures are not one request:\n%s", again)
	}
	var d compose.Document
	if err := json.Unmarshal([]byte(fine(t, s, "write --json --journal other-journal.db --out other --figures figures.toml"+flags)), &d); err != nil {
		t.Fatal(err)
	}
	if d.Coverage == nil || *d.Coverage < 0.5 || d.Certificate.Against != 0 {
		t.Errorf("figures of a file: coverage %v, certificate %+v", d.Coverage, d.Certificate)
	}
	if err := json.Unmarshal(load(t, "march-r6-3.json"), &d); err != nil {
		t.Fatal(err)
	}
	if d.Coverage == nil || *d.Coverage < 0.5 || d.Certificate.Against == 0 {
		t.Errorf("figures of an exercise: coverage %v, certificate %+v", d.Coverage, d.Certificate)
	}
	sharesNothing(t, &part, "march-r6-3.musicxml", d.Certificate.Length)
}

// sharesNothing wants no run of a drilled part on a page.
func sharesNothing(t *testing.T, drilled *score.Part, page string, length int) {
	t.Helper()
	text := load(t, page)
	s, _, err := musicxml.ReadFile(page, bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	had := map[uint64]bool{}
	for _, r := range compose.Runs(drilled, []int{length}) {
		had[r.Hash] = true
	}
	if len(had) == 0 {
		t.Errorf("the drill has no runs of %d notes", length)
	}
	for _, r := range compose.Runs(&s.Parts[0], []int{length}) {
		if had[r.Hash] {
			t.Errorf("%s copies %d notes of the drill: %v", page, length, r.Intervals)
		}
	}
}

func TestLearnRefusals(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"learn scales.musicxml --save a/b", "could be a file's"},
		{"learn scales.musicxml --save no/where.toml", "no/where.toml"},
		{"learn page.txt", "give a MusicXML file"},
		{"write --figures ./page.txt", "give a MusicXML file"},
		{"write --figures broken.toml", "broken.toml:2"},
	} {
		s := newStage(t)
		writeDrill(t, "scales.musicxml")
		for name, text := range map[string]string{"page.txt": "a page\n", "broken.toml": "version = 1\nfigures = 3\n"} {
			if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		code, out, err := s.run(strings.Fields(c.args)...)
		if code != exitRequest || out != "" || !strings.Contains(err, c.want) {
			t.Errorf("onward %s: exit code %d, printed %q and %q, want code 2 and %q", c.args, code, out, err, c.want)
		}
		wantFiles(t, ".", "broken.toml", "page.txt", "scales.musicxml")
	}
}
