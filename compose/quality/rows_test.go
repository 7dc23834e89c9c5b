package quality_test

import (
	"math"
	"slices"
	"strings"
)

// A row is one distribution that is compared, between sets of one style.
type row struct {
	name  string // as the table says it
	what  string // the name in a set
	scope string // which of our reads: "" for all, or a meter's name
	// measure reports the distance between a reference and another set; not a number
	// where either lacks it.
	measure func(reference, other *set, what string) float64
	// real is the set that reads are compared with, floors are pairs of real sets.
	real   *set
	floors []pair
}

// A pair is two real sets whose distance is a floor.
type pair struct {
	name string
	a, b *set
}

// fold renames kinds that the reference does not tell apart.
func fold(t, reference tally) tally {
	if t == nil {
		return nil
	}
	out := tally{}
	for k, x := range t {
		if _, ok := reference[k]; !ok {
			k = other
		}
		out[k] += x
	}
	return out
}

// kinds is the Jensen-Shannon distance.
func kinds(a, b *set, what string) float64 {
	x, y := a.counts[what], b.counts[what]
	return jensenShannon(x, fold(y, x))
}

// apart is the area that two distributions of kinds do not share.
func apart(a, b *set, what string) float64 {
	x, y := a.counts[what], b.counts[what]
	return 1 - overlap(x, fold(y, x))
}

// area is the area that two densities do not share.
func area(a, b *set, what string) float64 {
	x, y := a.dense[what], b.dense[what]
	if x == nil || y == nil {
		return math.NaN()
	}
	return 1 - overlapArea(x, y)
}

// gap is the mean difference of points.
func gap(a, b *set, what string) float64 {
	x, y := a.points[what], b.points[what]
	if x == nil || y == nil {
		return math.NaN()
	}
	sum := 0.0
	for i := range x {
		sum += math.Abs(x[i]-y[i]) / float64(len(x))
	}
	return sum
}

// bits is the difference of entropies.
func bits(a, b *set, what string) float64 {
	x, y := a.counts[what], b.counts[what]
	return math.Abs(entropy(x) - entropy(fold(y, x)))
}

// floorOf reports the distance of one pair of real sets: the mean of both ways, as
// folding is not the same both ways.
func (r *row) floorOf(p pair, measure func(*set, *set, string) float64) float64 {
	return (measure(p.a, p.b, r.what) + measure(p.b, p.a, r.what)) / 2
}

// floor reports the mean distance between real sets, and the least.
func (r *row) floor(measure func(*set, *set, string) float64) (mean, least float64) {
	least = math.NaN()
	sum, n := 0.0, 0.0
	for _, p := range r.floors {
		x := r.floorOf(p, measure)
		if math.IsNaN(x) {
			continue
		}
		sum, n = sum+x, n+1
		if math.IsNaN(least) || x < least {
			least = x
		}
	}
	if n == 0 {
		return math.NaN(), least
	}
	return sum / n, least
}

// bounded reports whether the row's distance is 1 at most.
func (r *row) bounded() bool {
	return strings.Contains(r.name, "(JS)") || strings.Contains(r.name, "area)")
}

// free are the rows that hold whatever the meter is.
func free(real *set, floors, phraseFloors, formFloors []pair) []row {
	var rows []row
	for _, what := range []string{signed, moves, afterLeap, leapAnswer, afterStep, finals, starts, inKey} {
		rows = append(rows, row{what + " (JS)", what, "", kinds, real, floors})
	}
	rows = append(rows, row{"entropy of intervals, bits", signed, "", bits, real, floors})
	for _, what := range []string{steps, stepsMoving, repeats, wideLeaps, turns, outOfKey, longest} {
		rows = append(rows, row{what + " (area)", what, "", area, real, floors})
	}
	for _, what := range []string{spanPoints, leapPoints} {
		rows = append(rows, row{what + " (st)", what, "", gap, real, floors})
	}
	rows = append(rows, row{shapes + " (JS)", shapes, "", kinds, real, phraseFloors},
		row{contour + " (st)", contour, "", gap, real, phraseFloors})
	for _, what := range []string{formPoints + "rhythm", formPoints + "shape", formPoints + "same"} {
		rows = append(rows, row{what + ", 5 lags (points)", what, "", gap, real, formFloors})
	}
	for _, what := range []string{formRhythms, formRun} {
		rows = append(rows, row{what, what, "", gap, real, formFloors})
	}
	return rows
}

// bound are the rows that depend on the meter.
func bound(scope string, real *set, floors []pair) []row {
	name := func(s, unit string) string {
		if scope != evened {
			s += " " + scope
		}
		return s + " (" + unit + ")"
	}
	rows := []row{
		{name(positions, "JS"), positions, scope, kinds, real, floors},
		{name(durations, "JS"), durations, scope, kinds, real, floors},
		{name("entropy of durations", "bits"), durations, scope, bits, real, floors},
	}
	for _, what := range []string{onBeat, perMeasure, distinct} {
		rows = append(rows, row{name(what, "area"), what, scope, area, real, floors})
	}
	return rows
}

// rhythmRows are the rows of one meter's measure rhythms.
func rhythmRows(meter string, real *set, floors []pair) []row {
	what := rhythms + meter
	return []row{
		{what + " (JS)", what, meter, kinds, real, floors},
		{"entropy of " + what + ", bits", what, meter, bits, real, floors},
	}
}

// evened is the scope of all reads, weighed so that each meter has the reference's share.
const evened = "evened"

// marchRows are the rows of marches: against the band's cornet and baritone.
func marchRows(ref *reference) []row {
	band := ref.set("band_march_cornet", "band_march_baritone")
	fife := ref.set("fife_marches")
	parts := pair{"cornet, baritone", ref.set("band_march_cornet"), ref.set("band_march_baritone")}
	six, two := ref.set("band_marches_6_8"), ref.set("band_marches_2_4_2_2")
	floors := []pair{parts, {"6/8, 2/4 and 2/2", six, two}, {"band, fife", band, fife}}
	rows := free(band, floors, floors, []pair{parts})
	rows = append(rows, bound("6/8", six, []pair{parts, {"band, fife in 6/8", six, ref.set("fife_marches_6_8")}})...)
	rows = append(rows, bound("2/4 2/2", two, []pair{parts, {"band, fife in 2/4", two, ref.set("fife_marches_2_4")}})...)
	for _, meter := range []string{"6/8", "2/4", "2/2"} {
		rows = append(rows, rhythmRows(meter, band, []pair{parts, {"band, fife", band, fife}})...)
	}
	return rows
}

// lyricalRows are the rows of songs: against vocalises. The file has phrases
// and form of one set alone; the floor there is the three sample songs, each against the others.
func lyricalRows(ref *reference, songs []weighed) []row {
	real, art := ref.set("vocalises"), ref.set("art_songs")
	floors := []pair{{"vocalises, art songs", real, art}}
	var formFloors []pair
	for i := range songs {
		rest := slices.Delete(slices.Clone(songs), i, i+1)
		formFloors = append(formFloors, pair{"a sample song, the others", setOf(songs[i : i+1]), setOf(rest)})
	}
	rows := free(real, floors, formFloors, formFloors)
	rows = append(rows, bound(evened, real, floors)...)
	for _, meter := range []string{"3/4", "4/4", "2/4", "6/8", "3/8"} {
		rows = append(rows, rhythmRows(meter, real, floors)...)
	}
	return rows
}
