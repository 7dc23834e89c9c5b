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
	ours, real              int    // tunes left after matching
	words                   string // all that the judge said
}

// leastMatched is how many tunes of each side must be left once both are matched in density
// and mode: of fewer the judge learns too little, so that it would let all pass.
const leastMatched = 40

// fault says why the family may be told from real melodies; "" if it may not. Of both judges
// the better one counts.
func (v verdict) fault(bound float64) string {
	switch {
	case min(v.ours, v.real) < leastMatched:
		return fmt.Sprintf("%d of our reads and %d real melodies are as dense as each other and of the same mode, want %d of each", v.ours, v.real, leastMatched)
	case max(v.boosted, v.linear) > bound:
		return fmt.Sprintf("the judge tells our reads from real melodies: got an AUC of %.3f, want %.2f at most", max(v.boosted, v.linear), bound)
	}
	return ""
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
	all := 0
	if _, err := fmt.Sscanf(line, f.meter+" boosted %f spread %f linear %f generated %d of %d real %d", &v.boosted, &v.spread, &v.linear, &v.ours, &all, &v.real); err != nil {
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
			t.Parallel()
			v := f.judge(t, melodies, f.write(t, reads, rungsFrom(t, judged...)))
			t.Log(v.words)
			if fault := v.fault(f.bound); fault != "" && boundHolds {
				t.Errorf("%s\n%s", fault, v.words)
			} else if fault != "" {
				t.Log("not yet asked for: " + fault)
			}
		})
	}
}

func TestVerdictsThatAreFaults(t *testing.T) {
	for _, c := range []struct {
		v     verdict
		fault bool
	}{
		{verdict{boosted: 0.7, linear: 0.75, ours: 100, real: 90}, false},
		{verdict{boosted: 0.81, linear: 0.7, ours: 100, real: 90}, true},
		{verdict{boosted: 0.7, linear: 0.96, ours: 100, real: 90}, true},
		{verdict{boosted: 0.5, linear: 0.5, ours: 100, real: 21}, true},
	} {
		if got := c.v.fault(0.8); (got != "") != c.fault {
			t.Errorf("%+v: got %q, want a fault %v", c.v, got, c.fault)
		}
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
