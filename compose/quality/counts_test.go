package quality_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"onward/compose"
	"onward/compose/tune"
)

// countMeasures is how long the tunes are that are counted.
const countMeasures = 16

// A count is one figure of a tune of sixteen measures; not a number where it has none.
type count struct {
	name string
	of   func(*tune.Tune) float64
}

// counts are what our reads were farthest from real tunes in.
var counts = []count{
	{"notes held over a barline", heldOver},
	{"time in rests, %", silence},
	{"measures between rests", betweenRests},
	{"leaps wider than a fourth, %", wideLeapsOf},
	{"measures 4, 8, 12, 16 with a long note, %", longEnds},
	{"distinct rhythms in 16 measures", distinctRhythms},
	{"rhythm comes again after 4 measures, %", rhythmAgain},
	{"out of key, %", outOfKeyOf},
	{"half measures alike, %", halvesAlike},
	{"shape moved by steps at once, %", movedAtOnce},
	{"height of the last eighth, steps", lastHeight},
	{"beats of three eighths, %", threeEighths},
}

// inHundred is a share in percent; not a number of nothing.
func inHundred(some, all int) float64 { return 100 * float64(some) / float64(all) }

func heldOver(t *tune.Tune) float64 {
	held := 0
	for _, n := range t.Notes {
		if n.Onset >= 0 && n.Onset/t.Measured() != (n.Onset+n.Ticks-1)/t.Measured() {
			held++
		}
	}
	return float64(held)
}

// rests reports how many rests a tune has, and how many ticks they last.
func rests(t *tune.Tune) (number, ticks int) {
	end := 0
	for i, n := range t.Notes {
		if gap := n.Onset - end; i > 0 && gap > 0 {
			number, ticks = number+1, ticks+gap
		}
		end = n.Onset + n.Ticks
	}
	if gap := t.Measures*t.Measured() - end; gap > 0 {
		number, ticks = number+1, ticks+gap
	}
	return number, ticks
}

func silence(t *tune.Tune) float64 {
	_, ticks := rests(t)
	return inHundred(ticks, t.Measures*t.Measured())
}

func betweenRests(t *tune.Tune) float64 {
	number, _ := rests(t)
	return float64(t.Measures) / float64(max(1, number))
}

func wideLeapsOf(t *tune.Tune) float64 {
	wide := 0
	for i := 1; i < len(t.Notes); i++ {
		if by := t.Semitones(t.Notes[i]) - t.Semitones(t.Notes[i-1]); by > 5 || by < -5 {
			wide++
		}
	}
	return inHundred(wide, len(t.Notes)-1)
}

func longEnds(t *tune.Tune) float64 {
	long := 0
	measures := t.ByMeasure()
	for i := 3; i < t.Measures; i += 4 {
		if slices.ContainsFunc(measures[i], func(n tune.Note) bool { return 2*n.Ticks >= t.Measured() }) {
			long++
		}
	}
	return inHundred(long, t.Measures/4)
}

// onsetsOf spells where notes begin within a stretch of ticks.
func onsetsOf(t *tune.Tune, from, to int) string {
	var b strings.Builder
	for _, n := range t.Notes {
		if from <= n.Onset && n.Onset < to {
			fmt.Fprint(&b, n.Onset-from, " ")
		}
	}
	return b.String()
}

// parts spells the onsets of each of a tune's stretches of so many ticks.
func parts(t *tune.Tune, ticks int) []string {
	var all []string
	for at := 0; at < t.Measures*t.Measured(); at += ticks {
		all = append(all, onsetsOf(t, at, at+ticks))
	}
	return all
}

// like reports the percentage of the parts that are as the part so many before.
func like(all []string, lag int) float64 {
	same := 0
	for i := lag; i < len(all); i++ {
		if all[i] == all[i-lag] {
			same++
		}
	}
	return inHundred(same, len(all)-lag)
}

func distinctRhythms(t *tune.Tune) float64 {
	all := parts(t, t.Measured())
	slices.Sort(all)
	return float64(len(slices.Compact(all)))
}

func rhythmAgain(t *tune.Tune) float64 { return like(parts(t, t.Measured()), 4) }

func halvesAlike(t *tune.Tune) float64 {
	if t.Beats == 3 {
		return math.NaN()
	}
	return like(parts(t, t.Measured()/2), 1)
}

// outOfKeyOf does not count the raised sixth and seventh of minor.
func outOfKeyOf(t *tune.Tune) float64 {
	out := 0
	for _, n := range t.Notes {
		melodic := t.Minor && n.Alter == 1 && (n.Step%7+7)%7 >= 5
		if n.Alter != 0 && !melodic {
			out++
		}
	}
	return inHundred(out, len(t.Notes))
}

// movedAtOnce is how many measures are the one before, all its notes moved by as many steps.
func movedAtOnce(t *tune.Tune) float64 {
	moved := 0
	measures := t.ByMeasure()
	for i := 1; i < t.Measures; i++ {
		a, b := measures[i-1], measures[i]
		if len(a) < 2 || len(a) != len(b) || a[0].Step == b[0].Step {
			continue
		}
		same := true
		for k := range a {
			same = same && a[k].Onset == b[k].Onset && b[k].Step-a[k].Step == b[0].Step-a[0].Step
		}
		if same {
			moved++
		}
	}
	return inHundred(moved, t.Measures-1)
}

func lastHeight(t *tune.Tune) float64 {
	sum, late, lateNotes := 0, 0, 0
	for _, n := range t.Notes {
		sum += n.Step
		if 8*n.Onset >= 7*t.Measures*t.Measured() {
			late, lateNotes = late+n.Step, lateNotes+1
		}
	}
	return float64(late)/float64(lateNotes) - float64(sum)/float64(len(t.Notes))
}

func threeEighths(t *tune.Tune) float64 {
	if t.Unit != 8 {
		return math.NaN()
	}
	all := parts(t, t.Beat())
	three := 0
	for _, p := range all {
		if p == "0 12 24 " {
			three++
		}
	}
	return inHundred(three, len(all))
}

// countsOver reports the mean of each count over the tunes that have it, and its standard
// error.
func countsOver(tunes []*tune.Tune) (means, errors []float64) {
	for _, c := range counts {
		sum, squares, number := 0.0, 0.0, 0.0
		for _, t := range tunes {
			if x := c.of(t); !math.IsNaN(x) {
				sum, squares, number = sum+x, squares+x*x, number+1
			}
		}
		mean := sum / number
		means = append(means, mean)
		errors = append(errors, math.Sqrt(max(0, squares/number-mean*mean)/number))
	}
	return means, errors
}

// realTunes reports the real tunes of sixteen measures of a family that nothing was fitted to:
// for marches the strains of the band's parts apart from the dances, for songs all.
func realTunes(tb testing.TB, f family) (band, others []*tune.Tune) {
	tb.Helper()
	text, err := os.Open(realMelodies(tb))
	if err != nil {
		tb.Fatal(err)
	}
	defer text.Close()
	rows, err := tune.Rows(text)
	if err != nil {
		tb.Fatal(err)
	}
	for _, r := range rows {
		for _, t := range r.Tunes() {
			if t.Measures != countMeasures || fmt.Sprintf("%d/%d", t.Beats, t.Unit) != f.meter {
				continue
			}
			switch {
			case f.style == "march" && t.Kind == "march":
				band = append(band, t) // all, since they are few: a table compares, and learns nothing
			case f.style == "march" && t.Kind == "dance" && t.HeldBack() && t.Plain():
				others = append(others, t)
			case f.style == "lyrical" && t.Kind != "march" && t.Kind != "dance" && t.HeldBack() && t.Plain():
				others = append(others, t)
			}
		}
	}
	return band, others
}

// tunes composes the family's reads of a rung, and cuts the first sixteen measures out.
func (f family) tunes(tb testing.TB, reads, rung int) []*tune.Tune {
	tb.Helper()
	var all []*tune.Tune
	var lock sync.Mutex
	f.compose(tb, reads, []int{rung}, func(_ int, r *compose.Read) error {
		part := &r.Score.Parts[0]
		from := r.Sections[0].First
		key, meter, _ := part.At(from)
		if t := tune.FromPart(part, key, meter, from, countMeasures); t != nil {
			lock.Lock()
			defer lock.Unlock()
			all = append(all, t)
		}
		return nil
	})
	if len(all) == 0 {
		tb.Fatalf("%s, rung %d: none of %d reads has %d measures", f.name, rung, reads, countMeasures)
	}
	return all
}

// BenchmarkCounts prints the counts of real tunes and of ours by rung; see the package's words.
func BenchmarkCounts(b *testing.B) {
	reads := numberFrom(b, "ONWARD_READS", 60)
	rungs := rungsFrom(b, 6, 7, 8, 9, 10)
	for _, f := range families {
		b.Run(f.name, func(b *testing.B) {
			band, others := realTunes(b, f)
			var ours [][]float64
			for b.Loop() {
				ours = nil
				for _, rung := range rungs {
					means, _ := countsOver(f.tunes(b, reads, rung))
					ours = append(ours, means)
				}
			}
			within, of := printCounts(f, rungs, band, others, ours)
			b.ReportMetric(float64(within), "within-bound")
			b.ReportMetric(float64(of), "judged")
		})
	}
}

// printCounts prints a family's table, and reports how many counts lie within their bounds,
// and of how many. A bound is half of the first distance from real tunes, or two standard
// errors of these where that is more.
func printCounts(f family, rungs []int, band, others []*tune.Tune, ours [][]float64) (within, of int) {
	bands, _ := countsOver(band)
	held, _ := countsOver(others)
	real, errors := countsOver(band)
	if len(band) == 0 {
		real, errors = countsOver(others)
	}
	fmt.Printf("\n%s: %d strains of bands, %d other real tunes held back\n%-42s %7s %7s", f.name, len(band), len(others), "", "band", "others")
	for _, rung := range rungs {
		fmt.Printf(" %7s", fmt.Sprint("rung ", rung))
	}
	fmt.Printf(" %7s %7s %16s\n", "mean", "first", "bound")
	for i, c := range counts {
		if math.IsNaN(real[i]) {
			continue
		}
		fmt.Printf("%-42s %7.1f %7.1f", c.name, bands[i], held[i])
		mean := 0.0
		for _, o := range ours {
			fmt.Printf(" %7.1f", o[i])
			mean += o[i] / float64(len(ours))
		}
		first := firstCounts[f.name][c.name]
		half := max(math.Abs(first-real[i])/2, 2*errors[i])
		verdict := "within"
		if of++; math.Abs(mean-real[i]) > half {
			verdict = "over"
		} else {
			within++
		}
		fmt.Printf(" %7.1f %7.1f %6.1f to %-6.1f %s\n", mean, first, real[i]-half, real[i]+half, verdict)
	}
	return within, of
}

// firstCounts are the means over rungs 6 to 10 of 60 reads each, seeds 1 and on, of the
// composer of version 4. Measured by BenchmarkCounts.
var firstCounts = map[string]map[string]float64{
	"march24": {
		"notes held over a barline":                 0,
		"time in rests, %":                          3.2,
		"measures between rests":                    12.6,
		"leaps wider than a fourth, %":              5.4,
		"measures 4, 8, 12, 16 with a long note, %": 90.6,
		"distinct rhythms in 16 measures":           5.4,
		"rhythm comes again after 4 measures, %":    45.9,
		"out of key, %":                             1.8,
		"half measures alike, %":                    20.5,
		"shape moved by steps at once, %":           11,
		"height of the last eighth, steps":          0.9,
	},
	"march68": {
		"notes held over a barline":                 0,
		"time in rests, %":                          4.5,
		"measures between rests":                    10.5,
		"leaps wider than a fourth, %":              5.1,
		"measures 4, 8, 12, 16 with a long note, %": 89.6,
		"distinct rhythms in 16 measures":           5.1,
		"rhythm comes again after 4 measures, %":    48.5,
		"out of key, %":                             1.6,
		"half measures alike, %":                    29.2,
		"shape moved by steps at once, %":           11.3,
		"height of the last eighth, steps":          0.8,
		"beats of three eighths, %":                 6.1,
	},
	"song44": {
		"notes held over a barline":                 0,
		"time in rests, %":                          2,
		"measures between rests":                    13.2,
		"leaps wider than a fourth, %":              4.9,
		"measures 4, 8, 12, 16 with a long note, %": 81.9,
		"distinct rhythms in 16 measures":           5.6,
		"rhythm comes again after 4 measures, %":    41.8,
		"out of key, %":                             1,
		"half measures alike, %":                    16.8,
		"shape moved by steps at once, %":           6.8,
		"height of the last eighth, steps":          0.9,
	},
	"song34": {
		"notes held over a barline":                 0,
		"time in rests, %":                          1.8,
		"measures between rests":                    14.2,
		"leaps wider than a fourth, %":              5.4,
		"measures 4, 8, 12, 16 with a long note, %": 75.2,
		"distinct rhythms in 16 measures":           5.2,
		"rhythm comes again after 4 measures, %":    44.1,
		"out of key, %":                             1,
		"shape moved by steps at once, %":           8,
		"height of the last eighth, steps":          0.9,
	},
}
