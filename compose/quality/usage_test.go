package quality_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/score"
)

// A usage is how often the figures of one cell were used, against their weights. All
// figures of a cell compete for the same places. How many of these each fits into
// (harmony, range, the line's way on) is not known from outside the composer, so it is
// measured: base are the uses in reads from the same figures all drilled alike. Expected
// are the uses in proportion to base times weight.
type usage struct {
	cell    string
	shapes  []string
	weights []float64 // 0.5 and how much it was drilled, as the composer has it
	base    []float64
	uses    []float64
	perRead [][]float64 // uses by read, by shape
}

// drillsOf learns the sample exercises as the program would.
func drillsOf(tb testing.TB, c *figure.Catalogue, back int) (*figure.Vocabulary, []compose.Line) {
	tb.Helper()
	files := samples(tb, "exercises")
	var names []string
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	var parts []*score.Part
	var lines []compose.Line
	for _, n := range names {
		parts = append(parts, files[n])
		lines = append(lines, compose.Lines(files[n], back)...)
	}
	v := c.Learn(parts...)
	return &v, lines
}

// alike is the vocabulary with every figure drilled equally often.
func alike(v *figure.Vocabulary) *figure.Vocabulary {
	flat := *v
	flat.Figures = slices.Clone(v.Figures)
	for i := range flat.Figures {
		flat.Figures[i].Count, flat.Figures[i].Within = 1, 0
	}
	return &flat
}

// sharp is the vocabulary with every other figure of a cell drilled a hundred times as
// often as the ones between: the widest difference of weights that there is.
func sharp(v *figure.Vocabulary) *figure.Vocabulary {
	sharp := *v
	sharp.Figures = slices.Clone(v.Figures)
	met := map[string]int{}
	for i := range sharp.Figures {
		f := &sharp.Figures[i]
		f.Count, f.Within = 1+99*(met[f.Cell]%2), 0
		met[f.Cell]++
	}
	return &sharp
}

// figuresUsed makes reads from a vocabulary and counts each read's known figures.
func figuresUsed(tb testing.TB, req compose.Request, count int) []map[figure.Figure]float64 {
	tb.Helper()
	w := world(tb)
	out := make([]map[figure.Figure]float64, count)
	each(tb, count, func(i int) error {
		req := req
		req.Seed = uint64(i + 1)
		r, err := compose.Compose(&w, req)
		if err != nil {
			return fmt.Errorf("%s, rung %d, seed %d: %w", req.Style.Name, req.Rung, req.Seed, err)
		}
		out[i] = map[figure.Figure]float64{}
		for _, p := range r.Figures {
			if p.Known && !p.Trap && p.Notes > 1 {
				out[i][p.Figure]++
			}
		}
		return nil
	})
	return out
}

// leastExpected is how often a figure must be expected for the test to count it.
const leastExpected = 5

// usageOf makes the reads and lays out the test, of the vocabulary as learned and of the
// sharp one: what the weights say, and for comparison what would be expected if they did
// nothing.
func usageOf(tb testing.TB, style string, rung, count int) string {
	tb.Helper()
	w := world(tb)
	req, err := snippetOf(style, rung)
	if err != nil {
		tb.Fatal(err)
	}
	v, lines := drillsOf(tb, w.Catalogue, slices.Max(w.Ladder.Runs())-1)
	req.Vocabulary, req.Drills = alike(v), lines
	base := figuresUsed(tb, req, count)
	s := fmt.Sprintf("  how figures of a vocabulary are used in %d snippets, against their weights:\n", count)
	for _, each := range []struct {
		name string
		v    *figure.Vocabulary
	}{{"as learned from the exercises", v}, {"every other figure drilled 100 times", sharp(v)}} {
		req.Vocabulary = each.v
		s += "   " + each.name + ": " + usageText(each.v, figuresUsed(tb, req, count), base)
	}
	return s
}

func usageText(v *figure.Vocabulary, drilled, base []map[figure.Figure]float64) string {
	used := map[figure.Figure]bool{}
	for _, read := range drilled {
		for f := range read {
			used[f] = true
		}
	}
	var s strings.Builder
	var sum, idle test
	all := usages(v, drilled, base)
	for _, u := range all {
		if x := u.chiSquare(u.expected()); x.freedom > 0 {
			sum, idle = sum.plus(x), idle.plus(u.chiSquare(shares(u.base)))
			fmt.Fprintf(&s, "    %-36s %s\n", u.cell, x)
		}
	}
	fmt.Fprintf(&s, "    %-36s %s\n    %-36s %s\n", "all cells, as weighed", sum, "all cells, if weights did nothing", idle)
	fmt.Fprintf(&s, "    use grows with the weight to the power %.2f (1 is as weighed)\n", power(all))
	return fmt.Sprintf("%d of %d figures used\n%s", len(used), len(v.Figures), s.String())
}

// usages gathers the figures by cell, the most used cell first; figures too seldom
// expected are left out.
func usages(v *figure.Vocabulary, drilled, base []map[figure.Figure]float64) []*usage {
	byCell := map[string]*usage{}
	var all []*usage
	for _, e := range v.Figures {
		before := total(base, e.Figure)
		if before < 2*leastExpected {
			continue
		}
		u := byCell[e.Cell]
		if u == nil {
			u = &usage{cell: e.Cell, perRead: make([][]float64, len(drilled))}
			byCell[e.Cell] = u
			all = append(all, u)
		}
		u.shapes, u.weights = append(u.shapes, e.Shape), append(u.weights, 0.5+v.Weight(e.Figure))
		u.base, u.uses = append(u.base, before), append(u.uses, total(drilled, e.Figure))
		for i, read := range drilled {
			u.perRead[i] = append(u.perRead[i], read[e.Figure])
		}
	}
	slices.SortStableFunc(all, func(a, b *usage) int { return cmp.Compare(plain(b.uses), plain(a.uses)) })
	return all
}

func total(reads []map[figure.Figure]float64, f figure.Figure) float64 {
	n := 0.0
	for _, r := range reads {
		n += r[f]
	}
	return n
}

func plain(all []float64) float64 {
	s := 0.0
	for _, x := range all {
		s += x
	}
	return s
}

// shares makes figures sum to 1.
func shares(all []float64) []float64 {
	sum := plain(all)
	out := slices.Clone(all)
	for i := range out {
		out[i] /= sum
	}
	return out
}

// expected reports the shares that the weights say.
func (u *usage) expected() []float64 {
	out := slices.Clone(u.base)
	for i := range out {
		out[i] *= u.weights[i]
	}
	return shares(out)
}

// A test is a chi-square and its degrees of freedom; none where nothing is tested.
type test struct{ square, freedom float64 }

func (t test) plus(u test) test { return test{t.square + u.square, t.freedom + u.freedom} }

// String gives the statistic and the probability of one as great by chance.
func (t test) String() string {
	return fmt.Sprintf("chi-square %6.1f on %2.0f, p %.3f", t.square, t.freedom, chiSquareTail(t.square, t.freedom))
}

// chiSquare tests the uses against shares. As phrases take up others' figures, uses come
// in clusters: the statistic is divided by how much wider reads scatter than single draws
// would (the first-order correction of Rao and Scott 1981), and by the uncertainty of the
// base, which is counted too.
func (u *usage) chiSquare(want []float64) test {
	n, b := plain(u.uses), plain(u.base)
	if n < 2*leastExpected || len(u.uses) < 2 {
		return test{}
	}
	x := 0.0
	for i, q := range want {
		x += (u.uses[i] - n*q) * (u.uses[i] - n*q) / (n * q)
	}
	return test{x / u.clustering() / (1 + n/b), float64(len(u.uses) - 1)}
}

// clustering reports how many times wider the uses scatter from read to read than single
// draws would; 1 at least.
func (u *usage) clustering() float64 {
	n := plain(u.uses)
	seen, drawn := 0.0, 0.0
	for i := range u.uses {
		p := u.uses[i] / n
		drawn += n * p * (1 - p)
		for _, read := range u.perRead {
			e := read[i] - p*plain(read)
			seen += e * e
		}
	}
	if drawn == 0 {
		return 1
	}
	return max(1, seen/drawn)
}

// power reports by what power of its weight a figure's use grows over the base, inside
// cells: the slope of a line through the logarithms, each figure weighed by its base.
func power(all []*usage) float64 {
	sxx, sxy := 0.0, 0.0
	for _, u := range all {
		var w, x, y []float64
		for i, n := range u.uses {
			if n > 0 {
				w, x, y = append(w, u.base[i]), append(x, math.Log(u.weights[i])), append(y, math.Log(n/u.base[i]))
			}
		}
		mx, my := mean(x, w), mean(y, w)
		for i := range w {
			sxx, sxy = sxx+w[i]*(x[i]-mx)*(x[i]-mx), sxy+w[i]*(x[i]-mx)*(y[i]-my)
		}
	}
	return sxy / sxx
}
