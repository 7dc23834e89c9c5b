package quality_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

func (t *table) verdict(l *line) string {
	times, rung := t.worst(l)
	switch {
	case l.bounded() && factor*l.floor >= 1:
		return "floor too wide to tell"
	case math.IsNaN(times):
		return "-"
	case times <= factor:
		return fmt.Sprintf("within, %.1f", times)
	}
	return fmt.Sprintf("OVER, %.1f at rung %d", times, rung)
}

// String lays the table out.
func (t *table) String() string {
	var s strings.Builder
	fmt.Fprintf(&s, "\n%s: %d reads a rung, distance from real melodies\n", t.style, t.reads)
	fmt.Fprintf(&s, "%-41s %5s %5s %5s |%s | %5s | %5s  times the floor\n", "", "floor", "least", "samp", t.heads(), fmt.Sprintf("%d up", firstFree), "walk")
	for i := range t.lines {
		l := &t.lines[i]
		fmt.Fprintf(&s, "%-41s %5s %5s %5s |%s | %5s | %5s  %s\n", l.name, cell(l.floor), cell(l.least), cell(l.samples), cells(l.rungs), cell(l.together), cell(l.ceiling), t.verdict(l))
	}
	s.WriteString(t.overlaps() + t.floors())
	over, of := t.over()
	fmt.Fprintf(&s, "\n%s: %d of %d rows are over %d times the floor at a rung from %d on, the farthest first\n", t.style, len(over), of, factor, firstFree)
	for _, l := range over {
		times, rung := t.worst(l)
		fmt.Fprintf(&s, "  %4.1f  %s, rung %d; floor %s, %d up %s, walk %s\n%s", times, l.name, rung, cell(l.floor), firstFree, cell(l.together), cell(l.ceiling), l.detail)
	}
	return s.String() + t.extra
}

// heads are the rungs' column heads.
func (t *table) heads() string {
	var s strings.Builder
	for _, r := range t.rungs {
		fmt.Fprintf(&s, " %5s", fmt.Sprintf("r%d", r))
	}
	return s.String()
}

// overlaps lays out, for rows of kinds, the area that is shared.
func (t *table) overlaps() string {
	var s strings.Builder
	fmt.Fprintf(&s, "\n%s: the same by overlapping area, 1 for equal\n", t.style)
	for i := range t.lines {
		l := &t.lines[i]
		if strings.Contains(l.name, "(JS)") {
			fmt.Fprintf(&s, "%-46s %5s |%s\n", l.name, cell(l.floorShared), cells(l.shared))
		}
	}
	return s.String()
}

// floors lays out how far real sets are from each other.
func (t *table) floors() string {
	var s strings.Builder
	fmt.Fprintf(&s, "\n%s: the floors, one pair of real sets each\n", t.style)
	for i := range t.lines {
		l := &t.lines[i]
		fmt.Fprintf(&s, "%-46s", l.name)
		for _, p := range l.row.floors {
			if x := l.floorOf(p, l.measure); !math.IsNaN(x) {
				fmt.Fprintf(&s, "  %s %s;", p.name, cell(x))
			}
		}
		s.WriteString("\n")
	}
	return s.String()
}

// shown is how many kinds of a distribution a detail names.
const shown = 8

// detail says what a row is made of: real melodies, ours from firstFree on, the walk.
func detail(r *row, ours, walk *set) string {
	var s strings.Builder
	say := func(name string, a, b, c float64) {
		fmt.Fprintf(&s, "          %-34s real %5s  ours %5s  walk %5s\n", name, cell(a), cell(b), cell(c))
	}
	x, y, z := r.real.counts[r.what], ours.counts[r.what], walk.counts[r.what]
	switch {
	case x != nil && strings.HasPrefix(r.name, "entropy"):
		say("bits", entropy(x), entropy(fold(y, x)), entropy(fold(z, x)))
	case x != nil:
		y, z = fold(y, x), fold(z, x)
		keys := keysOf(x, y)
		slices.SortStableFunc(keys, func(a, b string) int { return cmp.Compare(math.Abs(x[b]-y[b]), math.Abs(x[a]-y[a])) })
		for _, k := range keys[:min(shown, len(keys))] {
			say(k, 100*x[k], 100*y[k], 100*z[k])
		}
	case r.real.dense[r.what] != nil:
		say("mean", r.real.dense[r.what].mean(), ours.dense[r.what].mean(), walk.dense[r.what].mean())
	default:
		for i, p := range r.real.points[r.what] {
			say(fmt.Sprint("number ", i+1), p, at(ours.points[r.what], i), at(walk.points[r.what], i))
		}
	}
	return s.String()
}

// at reports number i of a list; not a number where it is missing.
func at(list []float64, i int) float64 {
	if i < len(list) {
		return list[i]
	}
	return math.NaN()
}

// cells writes figures in columns.
func cells(all []float64) string {
	var s strings.Builder
	for _, x := range all {
		fmt.Fprintf(&s, " %5s", cell(x))
	}
	return s.String()
}

// cell writes a figure in five places; "-" for none.
func cell(x float64) string {
	switch {
	case math.IsNaN(x):
		return "-"
	case math.Abs(x) >= 100:
		return fmt.Sprintf("%.0f", x)
	case math.Abs(x) >= 10:
		return fmt.Sprintf("%.1f", x)
	case math.Abs(x) >= 1:
		return fmt.Sprintf("%.2f", x)
	}
	return fmt.Sprintf("%.3f", x)
}

// unreferenced lays out what the reference file has no figures of, and form lag by lag,
// beside the sample scores.
func (t *table) unreferenced(real *set, byRung [][]*figures, blind []*figures) string {
	walk := setOf(pick(blind, "", nil))
	var ours []*set
	for _, made := range byRung {
		ours = append(ours, setOf(pick(made, "", nil)))
	}
	var s strings.Builder
	fmt.Fprintf(&s, "\n%s: in percent, beside the sample scores\n%-46s %5s |%s |  walk\n", t.style, "", "real", t.heads())
	say := func(name string, of func(*set) float64) {
		var x []float64
		for _, z := range ours {
			x = append(x, of(z))
		}
		fmt.Fprintf(&s, "%-46s %5s |%s | %5s\n", name, cell(of(real)), cells(x), cell(of(walk)))
	}
	say("syncopated notes", percentOf(syncopation, "syncopated"))
	say("strong-beat notes in the chord", percentOf(chordTones, "in"))
	say("off-beat notes", percentOf(positions, "offbeat"))
	for _, what := range named(real.counts, pairs) {
		say(what+" (JS)", func(z *set) float64 { return kinds(real, z, what) })
	}
	for _, like := range likes {
		for i, lag := range lags {
			say(likeness(like, lag), func(z *set) float64 { return at(z.points[formPoints+like], i) })
		}
	}
	return s.String()
}

// percentOf reports a kind's share of a set's distribution; not a number of none.
func percentOf(what, kind string) func(*set) float64 {
	return func(z *set) float64 {
		if z.counts[what] == nil {
			return math.NaN()
		}
		return 100 * z.counts[what][kind]
	}
}

// named lists the distributions whose names begin so, in order.
func named(counts map[string]tally, prefix string) []string {
	var out []string
	for k := range counts {
		if strings.HasPrefix(k, prefix) {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out
}
