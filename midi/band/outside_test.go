package band_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"onward/compose/musicxml"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
)

// elsewhere says where the engraver (verovio 6.3.0) plays a sample otherwise, and why ours
// stands. Where it begins with "time:" the pitches agree, and only times differ.
var elsewhere = map[string]string{
	"03f":         "time: what is left free at the end of a measure has no length there",
	"11h":         "time: rests without type have no length there",
	"23c":         "time: it goes by types where durations differ from them; MusicXML plays durations",
	"23e":         "it strikes tremolos again",
	"24a":         "time: grace notes have a timing of its own",
	"24c":         "time: grace notes have a timing of its own",
	"24e":         "time: grace notes have a timing of its own",
	"32d":         "time: it spreads arpeggios",
	"33f":         "time: grace notes have a timing of its own",
	"33j":         "time: tremolos between two notes: it goes by types where durations differ from them",
	"34c":         "it goes by types where durations differ from them; it knows no percussion",
	"41c":         "it knows no percussion",
	"45i":         "a repeat inside an ending: it does not go back behind the ending",
	"46j":         "time: an empty measure has no length there",
	"61f":         "time: grace notes have a timing of its own",
	"71e":         "it finds the pitches of tablature from strings of its own",
	"73a":         "it knows no percussion",
	"vocalise-2.": "time: grace notes have a timing of its own",
	"vocalise-5.": "time: grace notes have a timing of its own",
}

// An onset is a note's place in quarters and its MIDI number.
type onset [2]float64

// TestEngraver has an independent engraver play every sample file, all parts and repeats,
// and some of our own reads: it begins the same notes at the same places. Notes that two
// voices strike at once on one instrument count once.
func TestEngraver(t *testing.T) {
	modules := filepath.Join("..", "..", "testdata", "outside")
	if _, err := os.Stat(filepath.Join(modules, "node_modules", "verovio")); err != nil {
		absent(t, "the engraver is not installed: npm ci --prefix testdata/outside")
	}
	if _, err := exec.LookPath("node"); err != nil {
		absent(t, "node is not installed")
	}
	files, _ := filepath.Glob(filepath.Join("..", "..", "..", "shared", "samples", "*", "*.*ml"))
	if len(files) < 90 {
		absent(t, "the samples are not at ../shared/samples")
	}
	files = append(files, ownPages(t)...)
	out, err := exec.Command("node", append([]string{filepath.Join(modules, "engraver.mjs"), "--whole"}, files...)...).Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, err.(*exec.ExitError).Stderr)
	}
	lines := bytes.Split(bytes.TrimSpace(out), []byte("\n"))
	if len(lines) != len(files) {
		t.Fatalf("%d answers to %d files", len(lines), len(files))
	}
	agree := 0
	for i, file := range files {
		var theirs []onset
		if err := json.Unmarshal(lines[i], &theirs); err != nil {
			t.Fatal(err)
		}
		p := sample(t, file)
		ours := onsets(accompany(t, p, 0, band.PieceOptions{Options: band.Options{Guide: true}}))
		theirs = distinct(theirs)
		missed, left := unlike(ours, theirs)
		name := filepath.Base(file)
		why := ""
		for prefix, words := range elsewhere {
			if strings.HasPrefix(name, prefix) {
				why = words
			}
		}
		if testing.Verbose() {
			t.Logf("%-46s %2d parts, %3d measures, %3d played, %4d notes, %4d agree %s", name, len(p.Parts), len(p.Measures), len(p.Order), len(ours), len(ours)-len(missed), why)
		}
		agree += len(ours) - len(missed)
		switch differs := len(missed)+len(left) > 0; {
		case differs && why == "":
			t.Errorf("%s: ours alone %v, theirs alone %v", name, missed, left)
		case !differs && why != "":
			t.Errorf("%s: nothing differs any more: %s", name, why)
		case strings.HasPrefix(why, "time:") && !slices.Equal(pitches(missed), pitches(left)):
			t.Errorf("%s: the pitches differ too: ours alone %v, theirs alone %v", name, missed, left)
		}
	}
	t.Logf("%d notes of %d files agree", agree, len(files))
	if agree < 5000 {
		t.Errorf("only %d notes agree", agree)
	}
}

// ownPages writes some reads without grace notes.
func ownPages(t *testing.T) []string {
	var files []string
	folder := t.TempDir()
	for _, a := range reads(t) {
		graces := false
		for _, m := range a.r.Score.Parts[0].Measures {
			for _, note := range m.Notes {
				graces = graces || len(note.Grace) > 0
			}
		}
		if graces || len(files) == 8 {
			continue
		}
		var page bytes.Buffer
		if err := musicxml.Write(&page, a.r.Score); err != nil {
			t.Fatal(err)
		}
		files = append(files, filepath.Join(folder, fmt.Sprintf("own-%d.musicxml", len(files))))
		if err := os.WriteFile(files[len(files)-1], page.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return files
}

// onsets lists the notes of a take.
func onsets(line *timeline.Timeline) []onset {
	var all []onset
	for _, e := range line.Events {
		if e.Kind == timeline.NoteOn {
			all = append(all, onset{float64(e.At) / float64(rhythm.Quarter), float64(e.A)})
		}
	}
	return distinct(all)
}

// rounding is how far the engraver's places may lie from ours: it has 120 to the quarter.
const rounding = 1.6 / 120

// distinct leaves one of notes that are struck together.
func distinct(all []onset) []onset {
	var kept []onset
	for _, a := range all {
		if !slices.ContainsFunc(kept, func(b onset) bool { return a[1] == b[1] && math.Abs(a[0]-b[0]) < rounding }) {
			kept = append(kept, a)
		}
	}
	return kept
}

// unlike lists the notes that only one side has.
func unlike(ours, theirs []onset) (missed, left []onset) {
	left = slices.Clone(theirs)
	for _, a := range ours {
		k := slices.IndexFunc(left, func(b onset) bool { return a[1] == b[1] && math.Abs(a[0]-b[0]) < rounding })
		if k < 0 {
			missed = append(missed, a)
			continue
		}
		left = slices.Delete(left, k, k+1)
	}
	return missed, left
}

func pitches(all []onset) []float64 {
	var list []float64
	for _, a := range all {
		list = append(list, a[1])
	}
	slices.Sort(list)
	return list
}
