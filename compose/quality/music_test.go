package quality_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"testing"
)

// firstFree is the rung from which reads are to be as like real melodies as those are
// like each other, within a factor.
const (
	firstFree = 5
	factor    = 2
)

// BenchmarkMusic compares reads with real melodies; see the package's words.
func BenchmarkMusic(b *testing.B) {
	ref := openReference(b)
	reads := numberFrom(b, "ONWARD_READS", 60)
	rungs := rungsFrom(b, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)
	var tables []*table
	for b.Loop() {
		tables = nil
		for _, style := range stylesFrom(b) {
			tables = append(tables, newTable(b, ref, style, reads, max(2, reads/4), rungs))
		}
	}
	for _, t := range tables {
		fmt.Print(t)
		over, of := t.over()
		b.ReportMetric(float64(len(over)), t.style+"-rows-over")
		b.ReportMetric(float64(of), t.style+"-rows-judged")
		if x := t.typical(); !math.IsNaN(x) {
			b.ReportMetric(x, t.style+"-times-floor")
		}
	}
}

// A line of a table is a row with its figures.
type line struct {
	row
	floor, least, ceiling float64
	samples               float64   // distance of the sample scores
	rungs                 []float64 // distance by rung
	together              float64   // distance of all rungs from firstFree on
	shared                []float64 // overlapping area by rung, where the row is of kinds
	floorShared           float64
	detail                string
}

// A table is all rows of one style.
type table struct {
	style string
	reads int
	rungs []int
	lines []line
	extra string // what has no reference in the file
}

// sampleFolder is where the sample scores of a style are.
var sampleFolder = map[string]string{"march": "marches", "lyrical": "songs"}

// bare takes weights off.
func bare(all []weighed) []*figures {
	var out []*figures
	for _, f := range all {
		out = append(out, f.figures)
	}
	return out
}

// newTable makes the reads, and so many walks a rung, and compares them.
func newTable(tb testing.TB, ref *reference, style string, reads, walks int, rungs []int) *table {
	tb.Helper()
	_, scores := measured(tb, sampleFolder[style])
	rows, meters := marchRows(ref), ref.corpora["band_march_cornet"].Meters
	if style == "lyrical" {
		rows, meters = lyricalRows(ref, scores), ref.corpora["vocalises"].Meters
	}
	t := &table{style: style, reads: reads, rungs: rungs}
	var byRung [][]*figures
	var ours []batch
	var blind, judged []*figures
	for _, rung := range rungs {
		made := order{style, wholePiece[style], rung, reads, false}.make(tb)
		byRung, ours = append(byRung, made), append(ours, batchOf(made, rows, meters))
		if rung >= firstFree || slices.Max(rungs) < firstFree {
			judged = append(judged, made...)
			blind = append(blind, order{style, wholePiece[style], rung, walks, true}.make(tb)...)
		}
	}
	walk, whole, real := batchOf(blind, rows, meters), batchOf(judged, rows, meters), batchOf(bare(scores), rows, meters)
	for _, r := range rows {
		l := newLine(r, ours, whole, walk)
		l.samples = r.measure(r.real, real[r.scope], r.what)
		t.lines = append(t.lines, l)
	}
	t.extra = t.unreferenced(setOf(scores), byRung, blind)
	return t
}

func newLine(r row, ours []batch, whole, walk batch) line {
	l := line{row: r, ceiling: r.measure(r.real, walk[r.scope], r.what), floorShared: math.NaN()}
	l.together = r.measure(r.real, whole[r.scope], r.what)
	l.floor, l.least = r.floor(r.measure)
	if r.real.counts[r.what] != nil {
		x, _ := r.floor(apart)
		l.floorShared = 1 - x
	}
	for _, b := range ours {
		l.rungs = append(l.rungs, r.measure(r.real, b[r.scope], r.what))
		l.shared = append(l.shared, 1-apart(r.real, b[r.scope], r.what))
	}
	l.detail = detail(&r, whole[r.scope], walk[r.scope])
	return l
}

// worst reports how many times the floor the worst rung from firstFree on is, and which;
// not a number where the floor is missing, or so wide that nothing could be beyond.
func (t *table) worst(l *line) (times float64, rung int) {
	times = math.NaN()
	if l.bounded() && factor*l.floor >= 1 {
		return times, 0
	}
	for i, d := range l.rungs {
		if t.rungs[i] < firstFree || math.IsNaN(d) || math.IsNaN(l.floor) {
			continue
		}
		if x := d / max(l.floor, 1e-3); math.IsNaN(times) || x > times {
			times, rung = x, t.rungs[i]
		}
	}
	return times, rung
}

// over lists the lines beyond the factor, the farthest first, and how many have a verdict.
func (t *table) over() (over []*line, of int) {
	for i := range t.lines {
		times, _ := t.worst(&t.lines[i])
		if !math.IsNaN(times) {
			of++
		}
		if times > factor {
			over = append(over, &t.lines[i])
		}
	}
	slices.SortStableFunc(over, func(a, b *line) int {
		x, _ := t.worst(a)
		y, _ := t.worst(b)
		return cmp.Compare(y, x)
	})
	return over, of
}

// typical reports the median over the lines of how many times the floor the worst rung is.
func (t *table) typical() float64 {
	var all []float64
	for i := range t.lines {
		if times, _ := t.worst(&t.lines[i]); !math.IsNaN(times) {
			all = append(all, times)
		}
	}
	if len(all) == 0 {
		return math.NaN()
	}
	slices.Sort(all)
	return all[len(all)/2]
}
