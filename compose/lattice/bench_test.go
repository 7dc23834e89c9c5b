package lattice

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// slots is a graph of single steps: in each of so many slots a line of 15 nodes moves
// by -2 to 2.
func slots(n int) *Graph {
	g := &Graph{Nodes: []int{15}, Starts: []int32{7}, Ends: []int32{7}}
	for by := -2; by <= 2; by++ {
		g.Words = append(g.Words, []Symbol{Symbol(by)})
	}
	for range n {
		g.Nodes = append(g.Nodes, 15)
		var edges []Edge
		for from := range 15 {
			for w := range 5 {
				if to := from + w - 2; to >= 0 && to < 15 {
					edges = append(edges, Edge{From: int32(from), To: int32(to), Word: int32(w), Weight: 1})
				}
			}
		}
		g.Edges = append(g.Edges, edges)
	}
	return g
}

// measures is a graph in the manner of a melody: layers of edges that each stand for
// four steps among 45 nodes, 15 places in a scale with three sorts each. The steps
// are chosen in the scale, from shapes that differ from layer to layer, and said in
// twelfths of an octave, so that one shape makes several words; about 3,000 edges to
// a layer.
func measures(n int, rng *rand.Rand) *Graph {
	const places, sorts, shapes, each = 15, 3, 400, 120
	g := &Graph{Nodes: []int{places * sorts}}
	shape := make([][4]int, shapes)
	for k := range shape {
		for i := range shape[k] {
			shape[k][i] = rng.IntN(5) - 2
			if rng.IntN(5) == 0 {
				shape[k][i] = rng.IntN(11) - 5
			}
		}
	}
	words := map[[4]int]int32{}
	for range n {
		g.Nodes = append(g.Nodes, places*sorts)
		used := rng.Perm(shapes)[:each]
		var edges []Edge
		for from := range places * sorts {
			for _, k := range used {
				to, word := walkScale(from%places, shape[k])
				if to < 0 || to >= places || rng.IntN(10) == 0 {
					continue
				}
				id, ok := words[word]
				if !ok {
					id = int32(len(g.Words))
					words[word] = id
					g.Words = append(g.Words, symbols(word[:]))
				}
				to += places * rng.IntN(sorts)
				edges = append(edges, Edge{From: int32(from), To: int32(to), Word: id, Weight: 0.1 + rng.Float64()})
			}
		}
		g.Edges = append(g.Edges, edges)
	}
	return g
}

// walkScale gives where a shape leads, and its word; a place out of range if it
// leaves the range on its way.
func walkScale(place int, shape [4]int) (to int, word [4]int) {
	scale := [7]int{0, 2, 4, 5, 7, 9, 11}
	for i, by := range shape {
		next := place + by
		if next < 0 || next >= 15 {
			return -1, word
		}
		word[i] = next/7*12 + scale[next%7] - place/7*12 - scale[place%7]
		place = next
	}
	return place, word
}

func symbols(word []int) []Symbol {
	s := make([]Symbol, len(word))
	for i, c := range word {
		s[i] = Symbol(c)
	}
	return s
}

// drawRuns makes runs that walks through g do spell.
func drawRuns(g *Graph, n, length int, rng *rand.Rand) []Run {
	s, err := New(g, nil)
	if err != nil {
		panic(err)
	}
	var runs []Run
	for len(runs) < n {
		word := spell(g, s.Sample(rng))
		for k := 0; k < 4 && len(runs) < n; k++ {
			at := rng.IntN(len(word) - length + 1)
			runs = append(runs, Run{at, word[at : at+length]})
		}
	}
	return runs
}

// spell gives the word of a walk.
func spell(g *Graph, walk []int32) []Symbol {
	var word []Symbol
	for i, j := range walk {
		word = append(word, g.Words[g.Edges[i][j].Word]...)
	}
	return word
}

// everywhere anchors runs to all positions.
func everywhere(runs []Run, length int) []Run {
	var all []Run
	for _, r := range runs {
		for at := 0; at+len(r.Symbols) <= length; at++ {
			all = append(all, Run{at, r.Symbols})
		}
	}
	return all
}

// An instance is a graph with runs, to be measured.
type instance struct {
	name string
	make func() (*Graph, []Run)
}

// instances are the benchmarks. Runs are taken from walks through the graph itself,
// which is the hardest case, but for "foreign", of whose symbols one in four is
// changed.
var instances = []instance{
	{"slots/2000runs", func() (*Graph, []Run) { return withRuns(slots(96), 2000) }},
	{"slots/200runs-everywhere", func() (*Graph, []Run) {
		g, runs := withRuns(slots(96), 200)
		return g, everywhere(runs, 96)
	}},
	{"measures/0runs", func() (*Graph, []Run) { return withRuns(measures(25, source()), 0) }},
	{"measures/2000runs", func() (*Graph, []Run) { return withRuns(measures(25, source()), 2000) }},
	{"measures/20000runs", func() (*Graph, []Run) { return withRuns(measures(25, source()), 20000) }},
	{"measures/20000foreign", func() (*Graph, []Run) {
		g, runs := withRuns(measures(25, source()), 20000)
		foreign(runs, source())
		return g, runs
	}},
}

func source() *rand.Rand { return rand.New(rand.NewPCG(3, 4)) }

func withRuns(g *Graph, n int) (*Graph, []Run) { return g, drawRuns(g, n, 8, source()) }

// foreign changes a quarter of the symbols.
func foreign(runs []Run, rng *rand.Rand) {
	for i := range runs {
		runs[i].Symbols = slices.Clone(runs[i].Symbols)
		for k := range runs[i].Symbols {
			if rng.IntN(4) == 0 {
				runs[i].Symbols[k] = Symbol(rng.IntN(17) - 8)
			}
		}
	}
}

func BenchmarkNew(b *testing.B) {
	for _, in := range instances {
		b.Run(in.name, func(b *testing.B) {
			g, runs := in.make()
			b.ReportAllocs()
			var s *Sampler
			for b.Loop() {
				s = mustNew(b, g, runs)
			}
			b.ReportMetric(float64(s.States()), "states")
			b.ReportMetric(s.Log10(), "log10")
		})
	}
}

func BenchmarkSample(b *testing.B) {
	benchmark(b, func(s *Sampler, rng *rand.Rand) { s.Sample(rng) })
}

func BenchmarkCount(b *testing.B) {
	benchmark(b, func(s *Sampler, _ *rand.Rand) { s.Count() })
}

func benchmark(b *testing.B, do func(*Sampler, *rand.Rand)) {
	for _, in := range instances {
		b.Run(in.name, func(b *testing.B) {
			g, runs := in.make()
			s := mustNew(b, g, runs)
			rng := source()
			b.ReportAllocs()
			for b.Loop() {
				do(s, rng)
			}
		})
	}
}

// mustNew makes a Sampler of what has one.
func mustNew(t testing.TB, g *Graph, runs []Run) *Sampler {
	t.Helper()
	s, err := New(g, runs)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
