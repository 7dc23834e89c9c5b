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

// formatTexts says how the odd corners of the format are read, by the number ahead of the
// file's name.
var formatTexts = map[string]string{
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

// Every corner of the format is read, and what is read comes back the same.
func TestReadFormat(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(samplesDir(t), "format", "*.xml"))
	if len(files) < 80 {
		outside(t, "the samples of the format are not at ../shared/samples/format")
	}
	for _, file := range files {
		name := filepath.Base(file)
		number, _, _ := strings.Cut(name, "-")
		s, _, err := readSample(t, file)
		if err != nil {
			t.Error(err)
			continue
		}
		s.Parts[0].Name = ""
		if want, listed := formatTexts[number]; listed && score.Text(s.Parts[0]) != want {
			t.Errorf("%s:\n got %s\nwant %s", name, score.Text(s.Parts[0]), want)
		}
		comesBack(t, name, s)
	}
}

// What is read of each sample: parts and notes of Read (tied ones that stand for one
// count), notes of ReadPiece. The last, and the parts with those that Read leaves out for
// having no pitch (1 of 41c, 2 of 73a), were counted by another program (Python's
// ElementTree); so were the notes of Read where no part has several voices or a measure
// that must be tied from several values (11d).
var sampleNotes = []struct {
	file                   string // its name, or the number ahead of it
	parts, notes, sounding int
}{
	{"brilliant-5.musicxml", 1, 458, 458}, {"technical-c.musicxml", 1, 214, 220}, {"technical-e-flat.musicxml", 1, 267, 267},
	{"technical-f.musicxml", 1, 341, 341}, {"01a", 1, 108, 108}, {"01c", 1, 1, 1}, {"01e", 1, 16, 16}, {"02a", 1, 0, 0}, {"02c", 1, 0, 0},
	{"02e", 1, 2, 3}, {"03b", 1, 2, 4}, {"03d", 1, 11, 11}, {"03f", 1, 3, 3}, {"11b", 1, 3, 6}, {"11d", 1, 14, 11}, {"11f", 1, 3, 3},
	{"11h", 1, 12, 21}, {"12a", 1, 17, 17}, {"13a", 1, 46, 46}, {"13c", 1, 2, 2}, {"13e", 1, 5, 5}, {"14a", 2, 10, 10}, {"21b", 1, 12, 24},
	{"21d", 1, 5, 9}, {"21f", 1, 1, 3}, {"21h", 1, 1, 3}, {"22a", 1, 114, 114}, {"22c", 1, 4, 12}, {"23a", 1, 30, 30}, {"23c", 1, 30, 30},
	{"23e", 1, 20, 20}, {"24a", 1, 11, 26}, {"24c", 1, 2, 4}, {"24e", 1, 2, 5}, {"24g", 1, 1, 5}, {"31a", 1, 57, 57}, {"31c", 1, 12, 12},
	{"31f", 1, 1, 1}, {"32b", 1, 2, 2}, {"32d", 1, 6, 18}, {"33a", 1, 62, 62}, {"33c", 1, 10, 12}, {"33db", 1, 10, 10}, {"33f", 1, 4, 7},
	{"33h", 1, 20, 20}, {"33j", 1, 14, 20}, {"34a", 1, 42, 42}, {"34c", 1, 24, 25}, {"41a", 4, 4, 4}, {"41c", 24, 24, 28}, {"41e", 1, 22, 22},
	{"41g", 8, 0, 0}, {"41i", 2, 4, 4}, {"41k", 1, 2, 2}, {"42a", 1, 6, 12}, {"43a", 1, 1, 2}, {"43c", 1, 1, 2}, {"43e", 1, 12, 24},
	{"43g", 1, 0, 0}, {"43i", 1, 8, 8}, {"45a", 1, 0, 0}, {"45c", 1, 0, 0}, {"45e", 1, 0, 0}, {"45g", 1, 2, 2}, {"45i", 1, 7, 7},
	{"45k", 1, 4, 4}, {"46b", 1, 4, 4}, {"46d", 1, 8, 8}, {"46f", 1, 12, 12}, {"46h", 1, 3, 3}, {"46j", 1, 7, 7}, {"51b", 1, 0, 0},
	{"51d", 1, 0, 0}, {"52b", 1, 3, 3}, {"61b", 1, 8, 8}, {"61d", 1, 8, 10}, {"61f", 1, 8, 13}, {"61h", 1, 28, 28}, {"61j", 1, 4, 4},
	{"71a", 1, 8, 8}, {"71c", 1, 8, 8}, {"71e", 8, 59, 65}, {"71g", 1, 2, 2}, {"72b", 11, 11, 11}, {"73a", 1, 3, 9}, {"75a", 1, 16, 16},
	{"99a", 1, 6, 6}, {"march-a-baritone.musicxml", 1, 373, 373}, {"march-b-baritone.musicxml", 1, 311, 311},
	{"march-b-cornet.musicxml", 1, 323, 323}, {"vocalise-2.musicxml", 2, 421, 867}, {"vocalise-5.musicxml", 2, 591, 1038},
	{"vocalise-*-3.musicxml", 2, 150, 261},
}

// Every sample is read both ways, with as many notes as it has.
func TestReadEverySample(t *testing.T) {
	compared := 0
	for _, want := range sampleNotes {
		files, _ := filepath.Glob(filepath.Join(samplesDir(t), "*", want.file+"-*"))
		if strings.HasSuffix(want.file, ".musicxml") {
			files, _ = filepath.Glob(filepath.Join(samplesDir(t), "*", want.file))
		}
		if len(files) != 1 {
			t.Errorf("%s: %d such files", want.file, len(files))
			continue
		}
		s, _, err := readSample(t, files[0])
		if err != nil {
			t.Error(err)
			continue
		}
		notes, sounding := 0, 0
		for i := range s.Parts {
			notes += tallyOf(&s.Parts[i]).notes
		}
		text, err := os.ReadFile(files[0])
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadPiece(bytes.NewReader(text))
		if err != nil {
			t.Error(err)
			continue
		}
		for i := range p.Parts {
			sounding += p.Parts[i].Sounding()
			if keepsNotes(p.Parts[i].LineWarnings) && p.Parts[i].Line != nil {
				compared += proveLine(t, &p.Parts[i])
			}
		}
		if len(s.Parts) != want.parts || notes != want.notes || sounding != want.sounding {
			t.Errorf("%s: %d parts, %d notes, %d sounding; want %d, %d, %d", want.file, len(s.Parts), notes, sounding, want.parts, want.notes, want.sounding)
		}
	}
	if compared < 2500 {
		t.Errorf("only %d notes of lines were compared with what sounds", compared)
	}
}
