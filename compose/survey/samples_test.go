package survey_test

import (
	"bytes"
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/survey"
)

// samplesAt is where sample scores lie, beside the project.
const samplesAt = "../../../shared/samples"

// The facts of real parts, read by eye off their engraved pages before the survey was asked.
func TestSamples(t *testing.T) {
	if _, err := os.Stat(samplesAt); err != nil {
		t.Skip("no sample scores beside the project")
	}
	for _, c := range []struct {
		file, instrument string
		key, meter       string
		printed, played  int
		changes          string // signatures after the first, by measure
		low, high        string // with the measures of the first
		graces           string // measures
		densest          string // one of the densest measures, and its notes
		keys             string // some of the keys that are not signed, each with a measure in it
	}{
		{"exercises/brilliant-5", "trombone", "G major", "4/4", 50, 50, "", "F#2 41", "G4 39", "[]", "18 11", "5 E minor, 12 D major, 20 C major, 26 A minor, 36 E minor"},
		{"exercises/technical-c", "trombone", "C major", "4/4", 28, 52, "", "F#2 24", "F4 14", "[]", "1 8", "9 G major"},
		{"exercises/technical-e-flat", "trombone", "Eb major", "4/4", 22, 22, "", "F2 4", "G4 11", "[]", "7 20", "10 F minor, 13 C minor, 14 Bb major, 17 F minor"},
		{"exercises/technical-f", "trombone", "F major", "2/4", 56, 72, "17 C major, 33 F major", "F2 16", "G4 29", "[]", "33 8", ""},
		{"songs/vocalise-2", "trombone", "F major", "3/4", 61, 61, "", "Bb2 43", "A4 55", "[18 19 22]", "22 7", "14 C major, 30 C major, 44 Bb major"},
		{"songs/vocalise-5", "trombone", "C major", "4/4", 59, 59, "", "C3 12", "G4 11", "[43 50]", "11 8", "27 A minor"},
		{"songs/vocalise-*-3", "trombone", "D major", "2/4", 34, 34, "", "D3 3", "F#4 14", "[]", "3 4", "17 G major"},
		{"marches/march-a-baritone", "baritone-bc", "Eb major", "2/2", 128, 128, "70 Ab major", "Ab2 58", "F4 17", "[]", "56 7", "30 Bb major, 122 Bb minor"},
		{"marches/march-b-baritone", "baritone-bc", "F major", "6/8", 104, 104, "55 Bb major", "E2 54", "F4 32", "[]", "5 5", "19 C major"},
		{"marches/march-b-cornet", "cornet", "G major", "6/8", 104, 104, "55 C major", "D4 21", "B5 3", "[4 20]", "4 6", ""},
	} {
		t.Run(filepath.Base(c.file), func(t *testing.T) {
			found, err := filepath.Glob(filepath.Join(samplesAt, c.file+".musicxml"))
			if err != nil || len(found) != 1 {
				t.Fatalf("%s: %d files, %v", c.file, len(found), err)
			}
			text, err := os.ReadFile(found[0])
			if err != nil {
				t.Fatal(err)
			}
			p, err := musicxml.ReadPiece(bytes.NewReader(text))
			if err != nil {
				t.Fatal(err)
			}
			s, err := survey.Of(p, 0, survey.Options{Instrument: instrument(t, c.instrument), Catalogue: figure.Default(), Ladder: rungs(t)})
			if err != nil {
				t.Fatal(err)
			}
			var changes []string
			for _, k := range s.Changes {
				changes = append(changes, fmt.Sprintf("%d %s", k.Measure, k.Name))
			}
			got := []any{s.Key.Name, s.Meters[0].Meter, len(s.Meters), s.Form.Measures, s.Form.Played, strings.Join(changes, ", "),
				fmt.Sprintf("%s %d", s.Range.Low.Pitch, s.Range.Low.Measure), fmt.Sprintf("%s %d", s.Range.High.Pitch, s.Range.High.Measure),
				fmt.Sprint(s.Graces.Measures), fmt.Sprintf("%d %d", s.Densest.Measure, s.Densest.Notes)}
			want := []any{c.key, c.meter, 1, c.printed, c.played, c.changes, c.low, c.high, c.graces, c.densest}
			for i := range want {
				if got[i] != want[i] {
					t.Errorf("fact %d: %v, want %v", i+1, got[i], want[i])
				}
			}
			// On that page clefs change inside measures, the first time in 16.
			if moved := strings.Contains(strings.Join(s.Left, "; "), "from measure 16: a clef that changes"); moved != strings.Contains(c.file, "march-a") {
				t.Errorf("left out: %q", s.Left)
			}
			clef, first := map[string]string{
				"marches/march-a-baritone": "16 2+1/2", // before the last quarter
				"marches/march-b-baritone": "32 ",
			}[c.file], survey.Trap{}
			if i := slices.IndexFunc(s.Traps, func(t survey.Trap) bool { return t.Kind == survey.NewClef }); i >= 0 {
				first = s.Traps[i]
			}
			if got := fmt.Sprintf("%d %s", first.Measure, first.Beat); got != cmp.Or(clef, "0 ") {
				t.Errorf("the first clef that changes: %s, want %s", got, clef)
			}
			// On that page "Fine" stands at the end of 16, and the jump at that of 56.
			if strings.Contains(c.file, "technical-f") {
				at := map[string]int{}
				for _, w := range s.Words {
					at[w.Text] = w.Measure
				}
				if at["Fine"] != 16 || at["D.C. al Fine"] != 56 {
					t.Errorf("words %+v", s.Words)
				}
			}
			for _, k := range strings.Split(c.keys, ", ") {
				measure, key, named := strings.Cut(k, " ")
				found := !named
				for _, r := range s.Tonicised {
					var n int
					fmt.Sscan(measure, &n)
					found = found || r.Key == key && n >= r.First && n <= r.Last
				}
				if !found {
					t.Errorf("no %s in %s; %+v", key, measure, s.Tonicised)
				}
			}
		})
	}
}
