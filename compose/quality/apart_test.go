package quality_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/musicxml"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A family is the melodies that are compared with each other: ours of some forms of a style
// in one meter, beside real ones of the same meter (testdata/outside/melodies.py).
type family struct {
	name  string // of its benchmark
	style string
	forms []string
	meter string
	bound float64 // the AUC that the judge may reach, where boundHolds
}

var families = []family{
	{"march24", "march", []string{"strain"}, "2/4", 0.80},
	{"march68", "march", []string{"strain"}, "6/8", 0.80},
	{"song44", "lyrical", []string{"strain", "song"}, "4/4", 0.80},
	{"song34", "lyrical", []string{"strain", "song"}, "3/4", 0.80},
}

// boundHolds says that a family beyond its bound fails the test. As long as it does not,
// the test reports the figure alone.
const boundHolds = false

// judged are the rungs whose reads are told from real melodies.
var judged = []int{6, 7, 8, 9, 10}

// The judge is the system's Python with scikit-learn, an opinion from outside.
const (
	python      = "/usr/bin/python3"
	outside     = "../../testdata/outside"
	apartScript = outside + "/apart.py"
)

// realMelodies is the file of real melodies; where it is absent the test is skipped.
func realMelodies(tb testing.TB) string {
	tb.Helper()
	name := filepath.Join(beside, "melodies", "melodies.jsonl")
	if _, err := os.Stat(name); err != nil {
		absent(tb, "the real melodies are not beside this tree: "+err.Error())
	}
	return name
}

// openJudge looks that the judge and the real melodies are at hand.
func openJudge(tb testing.TB) (melodies string) {
	tb.Helper()
	if err := exec.Command(python, "-c", "import sklearn").Run(); err != nil {
		absent(tb, fmt.Sprintf("%s with scikit-learn (Debian's python3-sklearn) is not at hand: %v", python, err))
	}
	return realMelodies(tb)
}

// compose makes the family's reads, as many of each rung in turn, and hands over each.
func (f family) compose(tb testing.TB, reads int, rungs []int, take func(i int, r *compose.Read) error) {
	tb.Helper()
	w := world(tb)
	style, err := styles.Shipped(f.style)
	if err != nil {
		tb.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		tb.Fatal(err)
	}
	meter, err := rhythm.ParseMeter(f.meter)
	if err != nil {
		tb.Fatal(err)
	}
	each(tb, reads, func(i int) error {
		k := i / len(rungs)
		req := compose.Request{Style: style, Rung: rungs[i%len(rungs)], Instrument: in, Form: f.forms[k%len(f.forms)], Meter: &meter, Seed: uint64(k + 1)}
		r, err := compose.Compose(&w, req)
		if err != nil {
			return fmt.Errorf("%s, rung %d, seed %d: %w", f.name, req.Rung, req.Seed, err)
		}
		return take(i, r)
	})
}

// write composes the family's reads into a folder as MusicXML.
func (f family) write(tb testing.TB, reads int, rungs []int) (folder string) {
	tb.Helper()
	folder = tb.TempDir()
	f.compose(tb, reads, rungs, func(i int, r *compose.Read) error {
		var page bytes.Buffer
		if err := musicxml.Write(&page, r.Score); err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(folder, fmt.Sprintf("%04d-rung%d.musicxml", i, r.Rung)), page.Bytes(), 0o644)
	})
	return folder
}

// A verdict is how well the judge tells a family from real melodies.
type verdict struct {
	boosted, spread, linear float64
	words                   string // all that the judge said
}

// judge runs the judge's script; of no folder it tells how far real melodies are from each
// other.
func (f family) judge(tb testing.TB, melodies, folder string, options ...string) verdict {
	tb.Helper()
	args := []string{apartScript, f.meter, melodies}
	if folder != "" {
		args = append(args, folder)
	}
	args = append(args, options...) // after the folder, or the script's parser takes it for missing
	text, err := exec.Command(python, args...).Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			text = exit.Stderr
		}
		tb.Fatalf("%s: %v: %s", f.name, err, text)
	}
	v := verdict{words: string(text)}
	line, _, _ := strings.Cut(v.words, "\n")
	if _, err := fmt.Sscanf(line, f.meter+" boosted %f spread %f linear %f", &v.boosted, &v.spread, &v.linear); err != nil {
		tb.Fatalf("%s: %v in %q", f.name, err, line)
	}
	return v
}

// TestApartFromRealMelodies has an outside judge tell our reads from real melodies that
// nothing was fitted to.
func TestApartFromRealMelodies(t *testing.T) {
	melodies := openJudge(t)
	reads := numberFrom(t, "ONWARD_READS", 150)
	for _, f := range families {
		t.Run(f.name, func(t *testing.T) {
			v := f.judge(t, melodies, f.write(t, reads, rungsFrom(t, judged...)))
			t.Log(v.words)
			if boundHolds && v.boosted > f.bound {
				t.Errorf("the judge tells our reads from real melodies: got an AUC of %.3f, want %.2f at most\n%s", v.boosted, f.bound, v.words)
			}
		})
	}
}

// BenchmarkApart prints what the judge says of each family; see the package's words.
func BenchmarkApart(b *testing.B) {
	melodies := openJudge(b)
	reads := numberFrom(b, "ONWARD_READS", 250)
	for _, f := range families {
		b.Run(f.name, func(b *testing.B) {
			var v verdict
			for b.Loop() {
				v = f.judge(b, melodies, f.write(b, reads, rungsFrom(b, judged...)), "--groups", "--telling", "25")
			}
			fmt.Printf("\n%s (bound %.2f)\n%s", f.name, f.bound, v.words)
			b.ReportMetric(v.boosted, "AUC")
			b.ReportMetric(v.spread, "spread")
			b.ReportMetric(v.linear, "linear-AUC")
		})
	}
}
