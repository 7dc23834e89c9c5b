package progress_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/progress"
	"onward/styles"
	"onward/theory"
)

var update = flag.Bool("update", false, "write testdata/reads.jsonl again, with the composer as it is")

// A realRead is a read of the composer's as the simulation's players meet it. Those in
// testdata/reads.json are twelve of each style and rung, half of them snippets and half
// strains, for a treble-clef euphonium.
type realRead struct {
	Style    string        `json:"style"`
	Rung     int           `json:"rung"`
	Keys     figure.Family `json:"keys"`
	Measures []realMeasure `json:"measures"`
}

// A realMeasure is load, share of unknown notes (those in figures that its rung brings) and
// figures by their index in the table.
type realMeasure []float64

// A readTable is reads and the figures in them.
type readTable struct {
	Figures []figure.Figure `json:"figures"`
	Reads   []realRead      `json:"reads"`
}

const tableFile = "testdata/reads.json"

// readsEach is how many reads of each style and rung there are.
const readsEach = 12

func keptTable() (*readTable, error) {
	b, err := os.ReadFile(tableFile)
	if err != nil {
		return nil, err
	}
	var all readTable
	if err := json.Unmarshal(b, &all); err != nil {
		return nil, fmt.Errorf("%s: %w", tableFile, err)
	}
	return &all, nil
}

// write writes the table, a read a line.
func (all *readTable) write(t *testing.T) {
	t.Helper()
	var out bytes.Buffer
	line := func(v any) []byte {
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	fmt.Fprintf(&out, "{\"figures\": %s, \"reads\": [\n", line(all.Figures))
	for i, r := range all.Reads {
		fmt.Fprintf(&out, "%s%s\n", line(r), strings.Repeat(",", min(len(all.Reads)-1-i, 1)))
	}
	out.WriteString("]}\n")
	if err := os.WriteFile(tableFile, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// index reports the figure's index; a new one is added.
func (all *readTable) index(f figure.Figure) float64 {
	i := slices.Index(all.Figures, f)
	if i < 0 {
		i = len(all.Figures)
		all.Figures = append(all.Figures, f)
	}
	return float64(i)
}

// page is the read as the model takes it.
func (all *readTable) page(r *realRead) []progress.Measure {
	var out []progress.Measure
	for _, m := range r.Measures {
		p := progress.Measure{Load: m[0], Unknown: m[1], Key: r.Keys}
		for _, f := range m[2:] {
			p.Figures = append(p.Figures, all.Figures[int(f)])
		}
		out = append(out, p)
	}
	return out
}

// compose adds a read of the composer's.
func (all *readTable) compose(t testing.TB, w *compose.World, s *styles.Sheet, rung int, seed uint64) {
	t.Helper()
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		t.Fatal(err)
	}
	r, err := compose.Compose(w, compose.Request{Style: s, Rung: rung, Instrument: in, Form: []string{"snippet", "strain"}[seed%2], Seed: seed})
	if err != nil {
		t.Fatalf("%s rung %d seed %d: %v", s.Name, rung, seed, err)
	}
	out := realRead{Style: s.Name, Rung: rung, Keys: figure.FamilyOf(*r.Score.Parts[0].Measures[0].Key)}
	for _, l := range r.Load {
		out.Measures = append(out.Measures, realMeasure{l, 0})
	}
	notes := make([]float64, len(r.Load))
	for _, f := range r.Figures {
		shape, cell := w.Catalogue.Shape(f.Shape), w.Catalogue.Cell(f.Cell)
		notes[f.Measure] += float64(f.Notes)
		m := &out.Measures[f.Measure]
		if *m = append(*m, all.index(f.Figure)); shape == nil || cell == nil || rung > 1 && max(shape.Level, cell.Level) >= rung {
			(*m)[1] += float64(f.Notes)
		}
	}
	for i, n := range notes {
		out.Measures[i][1] = math.Round(100*out.Measures[i][1]/max(n, 1)) / 100
	}
	all.Reads = append(all.Reads, out)
}

// The table of reads is the composer's: with -update all of it is made again, otherwise two
// fresh reads of each style and rung must lie as the table's do. What the model takes for
// granted of how loads lie within a read is the table's, too.
func TestTheTableOfReadsIsTheComposers(t *testing.T) {
	l := rungs(t)
	w := compose.NewWorld(figure.Default(), l)
	var fresh readTable
	first, last := uint64(101), uint64(102)
	if *update {
		first, last = 1, readsEach
	}
	for _, name := range []string{"march", "lyrical"} {
		s, err := styles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		for rung := 1; rung <= len(l.Rungs); rung++ {
			for seed := first; seed <= last; seed++ {
				fresh.compose(t, &w, s, rung, seed)
			}
		}
	}
	if *update {
		fresh.write(t)
	}
	kept, err := keptTable()
	if err != nil {
		t.Fatal(err)
	}
	got, want := relative(t, fresh.Reads), relative(t, kept.Reads)
	for i := 5; i < 100; i += 10 {
		g, w := got[i*len(got)/100], want[i*len(want)/100]
		t.Logf("%2d in 100: fresh %+.2f, table %+.2f, model %+.2f", i, g, w, progress.Within[i/10])
		if math.Abs(w-progress.Within[i/10]) > 0.01 {
			t.Errorf("%d in 100 measures lie below exp(%.2f) of their read's load, and exp(%.2f) for the model: put it right in next.go", i, w, progress.Within[i/10])
		}
		if i > 20 && math.Abs(g-w) > 0.16 {
			t.Errorf("%d in 100 measures of fresh reads lie below exp(%.2f) of their read's load, of the table's exp(%.2f): make it again with -update, and look at the simulation", i, g, w)
		}
	}
}

// relative lists the measures' loads in logarithms about the rung's aim for the style, in
// order.
func relative(t *testing.T, reads []realRead) []float64 {
	t.Helper()
	l := rungs(t)
	var out []float64
	for _, r := range reads {
		for _, m := range r.Measures {
			if m[0] > 0 {
				out = append(out, math.Log(m[0]/l.Rungs[r.Rung-1].Aim/bears[r.Style]))
			}
		}
	}
	slices.Sort(out)
	return out
}

// bears is what the styles bear of a rung's load.
var bears = map[string]float64{"march": 1.08, "lyrical": 0.86}
