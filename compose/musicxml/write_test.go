package musicxml

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose/score"
)

var update = flag.Bool("update", false, "write the golden files anew")

// written reports the document of a score of the parts given.
func written(t *testing.T, s *score.Score) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// marchPage is a score with every sign the writer knows.
func marchPage() *score.Score {
	p := score.MustText(`part Euphonium T.C.; sounds -8 -14; key C; 6/8 treble tempo 4.=112 March tempo;
		f C5:8' |: letter A; p G4:4( A4:8) B4:8( C5:8 D5:8) | < E5:4.>~ E5:8 D5:8 C5:8 ! |
		f {D5,E5(}F5:4^ F#5:8 G5:4., | line [1 A5:16( G5:16 F5:8 E5:8) D5:8' r:8 r:8 ] :| [2 C5:2.@ ] ||
		line words Trio; letter B; key F; mp F4:16 G4:16 A4:4 {B4(}Bb4:8( C5:8t D5:8t E5:8t) | Bb4:8. A4:16 G4:8 F#4:8_ G4:8_ A4:8_ |
		cut words dolce; C5:2 B4:2 | Bb4:4t A4:4t G4:4t F4:2 | R | ff F4:4^ r:4 r:2 |]`)
	p.Abbreviation, p.Program = "Euph.", 58
	return &score.Score{Title: "Page of Signs", Subtitle: "march, rung 3", Composer: "Onward",
		Identity: "seed 7; march; rung 3; version 1", Parts: []score.Part{p}}
}

// The document of a page with every sign is as it was when it was last looked at.
func TestWriteGolden(t *testing.T) {
	if err := score.Check(marchPage()).Err(); err != nil {
		t.Error(err)
	}
	got := written(t, marchPage())
	golden := filepath.Join("testdata", "signs.musicxml")
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from what Write gives; look at the page and run go test -update\n%s", golden, firstDifference(got, want))
	}
}

func firstDifference(got, want []byte) string {
	g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			return "line " + g[i] + "\nwant " + w[i]
		}
	}
	return "one is longer"
}

// A score without a part is refused.
func TestWriteRefuses(t *testing.T) {
	if err := Write(&bytes.Buffer{}, &score.Score{Title: "Nothing"}); err == nil || !strings.Contains(err.Error(), "no part") {
		t.Errorf("Write of an empty score = %v, want an error", err)
	}
}

// Naturals stand ahead of a new signature where sharps or flats of the old one go
// (MusicXML 4.0, cancel: its value is the old signature's fifths; to C major "this will
// always happen ... and need not be specified").
func TestWriteCancels(t *testing.T) {
	for _, c := range []struct {
		from, to, want string
	}{
		{"D", "G", "<cancel>2</cancel>"}, {"Bb", "F", "<cancel>-2</cancel>"}, {"A", "F", "<cancel>3</cancel>"},
		{"Eb", "D", "<cancel>-3</cancel>"}, {"F", "Bb", ""}, {"G", "D", ""}, {"G", "C", ""}, {"F", "C", ""}, {"C", "F", ""}, {"G", "E minor", ""},
	} {
		p := score.MustText("key " + c.from + "; 4/4 treble C5:1 || key " + c.to + "; D5:1 |]")
		got := string(written(t, &score.Score{Title: "Two Keys", Parts: []score.Part{p}}))
		if has := strings.Count(got, "<cancel>"); (c.want == "") != (has == 0) || !strings.Contains(got, c.want) {
			t.Errorf("%s to %s: %d cancelled, want %q", c.from, c.to, has, c.want)
		}
	}
}
