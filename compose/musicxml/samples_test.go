package musicxml

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose/score"
)

// samplesDir reports where the outside files are; the test is skipped where they are
// absent, unless ONWARD_OUTSIDE=1 makes their absence a failure.
func samplesDir(t *testing.T) string {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "samples")
	if _, err := os.Stat(dir); err != nil {
		outside(t, "the samples are not at ../shared/samples")
	}
	return dir
}

// outside skips a test that lacks something outside the project, or fails it where
// ONWARD_OUTSIDE=1 says that it must be there.
func outside(t *testing.T, lack string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(lack)
	}
	t.Skip(lack)
}

func readSample(t *testing.T, file string) (*score.Score, []Warning, error) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return ReadFile(filepath.Base(file), bytes.NewReader(text), int64(len(text)))
}

// A tally is what a part holds.
type tally struct{ measures, notes, midi, graces, ties, slurs int }

func tallyOf(p *score.Part) tally {
	c := tally{measures: len(p.Measures)}
	for _, m := range p.Measures {
		for _, n := range m.Notes {
			if n.Rest {
				continue
			}
			c.notes, c.midi, c.graces = c.notes+1, c.midi+n.Pitch.MIDI(), c.graces+len(n.Grace)
			if n.TieStart {
				c.ties++
			}
			if n.SlurStart {
				c.slurs++
			}
		}
	}
	return c
}

// Ordinary parts by other programs are read whole: as many measures, notes (with the
// sum of their MIDI numbers), grace notes, ties and slurs as were counted in the first
// part's XML by another program (Python's ElementTree). The third song has 33 slurs, 8
// of them inside others.
func TestReadOrdinaryParts(t *testing.T) {
	for name, want := range map[string]tally{
		"exercises/brilliant-5.musicxml":      {50, 458, 26076, 0, 0, 29},
		"exercises/technical-c.musicxml":      {28, 214, 11531, 0, 0, 4},
		"exercises/technical-e-flat.musicxml": {22, 267, 14270, 0, 0, 0},
		"exercises/technical-f.musicxml":      {56, 341, 18998, 0, 13, 17},
		"marches/march-a-baritone.musicxml":   {128, 373, 20351, 0, 9, 0},
		"marches/march-b-baritone.musicxml":   {104, 311, 17483, 0, 17, 0},
		"marches/march-b-cornet.musicxml":     {104, 323, 23354, 0, 12, 0},
		"songs/vocalise-2.musicxml":           {61, 252, 14110, 6, 0, 15},
		"songs/vocalise-5.musicxml":           {59, 254, 14691, 2, 8, 24},
		"songs/vocalise-*-3.musicxml":         {34, 115, 6503, 0, 1, 33 - 8},
	} {
		files, _ := filepath.Glob(filepath.Join(samplesDir(t), name))
		if len(files) != 1 {
			t.Errorf("%s: %d such files", name, len(files))
			continue
		}
		s, _, err := readSample(t, files[0])
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if got := tallyOf(&s.Parts[0]); got != want {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
		first := score.Check(&score.Score{Parts: s.Parts[:1]})
		for _, check := range first.Failed() {
			if check != "final bar" && check != "beam groups" { // how others close and beam
				t.Errorf("%s: %v", name, first.Err())
			}
		}
		comesBack(t, name, s)
	}
}

// comesBack proves that a score read from another's file comes back from ours the same.
func comesBack(t *testing.T, name string, s *score.Score) {
	t.Helper()
	again, _, err := Read(bytes.NewReader(written(t, s)))
	if err != nil || textOf(again) != textOf(s) {
		t.Errorf("%s comes back otherwise: %v", name, err)
	}
}

// formatTexts says how the odd corners of the format are read; formatErrors which are
// refused, and why; by the number ahead of the file's name.
var (
	formatTexts = map[string]string{
		"03b": "key C major; 4/4 treble C4:4 C4:4 r:4 |",
		"03f": "key C major; 4/4 treble r:4 C4:4 r:4 C4:16 r:16 r:8 | short C4:4 |",
		"02e": "key C major; 4/4 treble C5:4 | A4:1 |]",
		"21d": "key Ab major; 4/4 treble words Largo; F4:1>@ fp | p Ab4:4. Ab4:8 Bb4:4 Bb4:4 |",
		"24a": "key C major; 4/4 treble {D5}C5:4 {E5,D5}C5:4 {D5(}C5:4 {D5(}C5:4 | {D5}C5:4 {E5,D5}C5:4 {D5(}C5:4 C5:4 | C5:4 {D#5}C5:4 {Db5,Ab4}C5:4 r:4 |]",
		"33c": "key C major; 4/4 treble G4:4( C5:4)( A4:4)( G4:4) | G4:4( C5:4 A4:4 G4:4) | r:2 A4:4 G4:4 |]",
		"42a": "key C major; 4/4 treble E5:2>@ mf D5:4 B4:4 | r:4 D5:4 B3:4.( C5:8) | R |]",
		"45a": "key C major; 4/4 treble R :| R |]",
		"45k": "key C major; 4/4 treble F4:1 | [1 F4:1 ] :| [2 F4:1 ] | F4:1 |]",
		"46d": "key C major; 4/4 treble E4:4 E4:8 | short F4:4 G4:4 | pickup A4:4 B4:4 | short C5:4 D5:4 r:4 |]",
		"46j": "key C major; 4/4 treble D4:4 E4:4 F4:4 G4:4 | 3/4 R | line 3/4 A4:4 A4:4 A4:4 |",
	}
	formatErrors = map[string]string{
		"02a": "part MusicXML Part: measure 4: a duration of 8 divisions, 512 to the quarter, is finer than can be counted",
		"11h": "part MusicXML Part: measure 1: the music has no meter",
	}
)

// Every corner of the format is read or refused with the part, the measure and the
// reason, and what is read comes back the same.
func TestReadFormat(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(samplesDir(t), "format", "*.xml"))
	if len(files) < 80 {
		outside(t, "the samples of the format are not at ../shared/samples/format")
	}
	for _, file := range files {
		name := filepath.Base(file)
		number, _, _ := strings.Cut(name, "-")
		s, _, err := readSample(t, file)
		if want, refused := formatErrors[number]; refused || err != nil {
			if err == nil || want == "" || !strings.Contains(err.Error(), name+": "+want) {
				t.Errorf("%s: %v, want an error with %q", name, err, want)
			}
			continue
		}
		s.Parts[0].Name = ""
		if want, listed := formatTexts[number]; listed && score.Text(s.Parts[0]) != want {
			t.Errorf("%s:\n got %s\nwant %s", name, score.Text(s.Parts[0]), want)
		}
		comesBack(t, name, s)
	}
}
