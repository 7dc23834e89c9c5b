package lattice

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// A plainState is a node and the last symbols that can still matter.
type plainState struct {
	node int32
	tail string
}

// plainly counts and weighs the legal walks layer by layer with no automaton: it keeps
// the last symbols and looks up each run.
func plainly(g *Graph, runs []Run) (count *big.Int, weight float64) {
	type sums struct {
		count  *big.Int
		weight float64
	}
	forbidden, longest := map[string]bool{}, 1
	for _, r := range runs {
		forbidden[string(rune(r.At))+string32(r.Symbols)] = true
		longest = max(longest, len(r.Symbols))
	}
	states := map[plainState]sums{}
	for n := range g.Nodes[0] {
		if allowed(g.Starts, int32(n)) {
			states[plainState{int32(n), ""}] = sums{big.NewInt(1), 1}
		}
	}
	at := 0
	for _, edges := range g.Edges {
		next := map[plainState]sums{}
		leaving := map[int32][]Edge{}
		for _, e := range edges {
			leaving[e.From] = append(leaving[e.From], e)
		}
		for s, v := range states {
			for _, e := range leaving[s.node] {
				tail, ok := spellOn(s.tail, g.Words[e.Word], at, longest, forbidden)
				if !ok {
					continue
				}
				to := plainState{e.To, tail}
				old, ok := next[to]
				if !ok {
					old.count = new(big.Int)
				}
				old.count.Add(old.count, v.count)
				next[to] = sums{old.count, old.weight + v.weight*e.Weight}
			}
		}
		states = next
		at += len(g.Words[edges[0].Word])
	}
	count = new(big.Int)
	for s, v := range states {
		if allowed(g.Ends, s.node) {
			count.Add(count, v.count)
			weight += v.weight
		}
	}
	return count, weight
}

// spellOn appends a word that starts at a position to a tail; false if a forbidden run
// ends in it.
func spellOn(tail string, word []Symbol, at, longest int, forbidden map[string]bool) (string, bool) {
	t := []rune(tail)
	for k, c := range word {
		t = append(t, rune(c+100))
		for n := 1; n <= min(len(t), longest); n++ {
			if forbidden[string(rune(at+k+1-n))+string(t[len(t)-n:])] {
				return "", false
			}
		}
	}
	return string(t[max(0, len(t)-longest+1):]), true
}

// thin keeps one edge in so many.
func thin(g *Graph, keep int) *Graph {
	for i := range g.Edges {
		var kept []Edge
		for j := 0; j < len(g.Edges[i]); j += keep {
			kept = append(kept, g.Edges[i][j])
		}
		g.Edges[i] = kept
	}
	return g
}

// TestTablesEqualPlainCounting compares with plain counting where matches abound.
func TestTablesEqualPlainCounting(t *testing.T) {
	short := slots(24)
	melody := thin(measures(5, source()), 12)
	dense := slots(12)
	for i, c := range []struct {
		g    *Graph
		runs []Run
	}{
		{short, everywhere(drawRuns(short, 60, 4, source()), 24)},
		{short, drawRuns(short, 1500, 4, source())},
		{melody, drawRuns(melody, 3000, 8, source())},
		{melody, append(drawRuns(melody, 2000, 5, source()), drawRuns(melody, 2000, 7, source())...)},
		{dense, append(everywhere(drawRuns(dense, 9, 3, source()), 12), drawRuns(dense, 2, 1, source())...)},
	} {
		count, weight := plainly(c.g, c.runs)
		s := mustNew(t, c.g, c.runs)
		if got := s.Count(); got.Cmp(count) != 0 {
			t.Errorf("case %d: count: got %v, want %v", i, got, count)
		}
		exact, _ := new(big.Float).SetInt(count).Float64()
		if got, want := s.Log10(), math.Log10(exact); math.Abs(got-want) > 2e-9 {
			t.Errorf("case %d: log10: got %.12f, want %.12f", i, got, want)
		}
		if got := shift(s.total.weight.m, s.total.weight.e); math.Abs(got/weight-1) > 1e-12 {
			t.Errorf("case %d: weight: got %g, want %g", i, got, weight)
		}
	}
}

// two is a graph of two layers, two nodes each, with words of two symbols.
func two() *Graph {
	return &Graph{
		Nodes: []int{2, 2, 2},
		Words: [][]Symbol{{1, 2}, {3, 4}, {5}},
		Edges: [][]Edge{
			{{From: 0, To: 1, Word: 0, Weight: 1}, {From: 1, To: 0, Word: 1, Weight: 1}},
			{{From: 1, To: 1, Word: 0, Weight: 1}},
		},
	}
}

func TestDeadEnds(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(g *Graph) []Run
		layer  int
	}{
		{"no start", func(g *Graph) []Run { g.Starts = []int32{}; return nil }, 0},
		{"no node to start", func(g *Graph) []Run { g.Nodes[0], g.Edges[0] = 0, nil; return nil }, 0},
		{"first layer forbidden", func(g *Graph) []Run { return []Run{{0, []Symbol{1}}, {1, []Symbol{4}}} }, 0},
		{"start leads nowhere", func(g *Graph) []Run { g.Starts = []int32{1}; return nil }, 1},
		{"run over both layers", func(g *Graph) []Run { return []Run{{1, []Symbol{2, 1}}} }, 1},
		{"no end", func(g *Graph) []Run { g.Ends = []int32{0}; return nil }, 2},
		{"layer without edges", func(g *Graph) []Run { g.Edges[1] = nil; return nil }, 1},
	} {
		g := two()
		_, err := New(g, c.change(g))
		var dead *DeadEnd
		if !errors.As(err, &dead) || dead.Layer != c.layer {
			t.Errorf("%s: got %v, want a dead end at layer %d", c.name, err, c.layer)
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		want   string
		change func(g *Graph) []Run
	}{
		{"lattice: graph: 3 layers of nodes and 0 of edges; want at least one layer of edges, and one more of nodes",
			func(g *Graph) []Run { g.Edges = nil; return nil }},
		{"lattice: layer 1: -1 nodes", func(g *Graph) []Run { g.Nodes[1] = -1; return nil }},
		{"lattice: layer 0: edge 1: from node 2 of 2", func(g *Graph) []Run { g.Edges[0][1].From = 2; return nil }},
		{"lattice: layer 1: edge 0: to node -1 of 2", func(g *Graph) []Run { g.Edges[1][0].To = -1; return nil }},
		{"lattice: layer 0: edge 0: word 3 of 3", func(g *Graph) []Run { g.Edges[0][0].Word = 3; return nil }},
		{"lattice: layer 0: edge 0: weight 0, want 1e-100 to 1e+100", func(g *Graph) []Run { g.Edges[0][0].Weight = 0; return nil }},
		{"lattice: layer 0: edge 0: weight NaN, want 1e-100 to 1e+100", func(g *Graph) []Run { g.Edges[0][0].Weight = math.NaN(); return nil }},
		{"lattice: layer 0: edge 1: word 2 has 1 symbols, the words before it have 2", func(g *Graph) []Run { g.Edges[0][1].Word = 2; return nil }},
		{"lattice: start 0: node 2 of a layer of 2", func(g *Graph) []Run { g.Starts = []int32{2}; return nil }},
		{"lattice: end 1: node -1 of a layer of 2", func(g *Graph) []Run { g.Ends = []int32{0, -1}; return nil }},
		{"lattice: forbidden run 1: 0 symbols at 3; want at least one at 0 or later", func(g *Graph) []Run { return []Run{{0, []Symbol{9}}, {3, nil}} }},
		{"lattice: forbidden run 0: 1 symbols at -1; want at least one at 0 or later", func(g *Graph) []Run { return []Run{{-1, []Symbol{9}}} }},
	} {
		g := two()
		if _, err := New(g, c.change(g)); err == nil || err.Error() != c.want {
			t.Errorf("got  %v\nwant %s", err, c.want)
		}
	}
}

// TestNumber compares sums of numbers far apart with exact ones.
func TestNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var sum number
		want := new(big.Float).SetPrec(4000)
		for range rapid.IntRange(1, 20).Draw(t, "terms") {
			m := rapid.Float64Range(1, 1000).Draw(t, "m")
			e := rapid.Int32Range(-4, 4).Draw(t, "e")
			w := rapid.SampledFrom([]float64{1, 0.3, MinWeight, MaxWeight}).Draw(t, "w")
			sum.add(w, number{m, e}.normal())
			term := new(big.Float).SetPrec(4000).Mul(big.NewFloat(m), big.NewFloat(w))
			want.Add(want, new(big.Float).SetMantExp(term, int(e)*scaleBits))
		}
		sum = sum.normal()
		if sum.m < tooSmall || sum.m >= tooBig {
			t.Fatalf("%v is not normal", sum)
		}
		got := new(big.Float).SetMantExp(big.NewFloat(sum.m), int(sum.e)*scaleBits)
		ratio, _ := new(big.Float).Quo(got, want).Float64()
		if math.Abs(ratio-1) > 1e-14 {
			t.Fatalf("got %g, want %g", got, want)
		}
	})
}

// What is taken away counts at its own size, down to where it is too small to matter.
func TestNumberTakenAway(t *testing.T) {
	for _, c := range []struct {
		a, b number
		w    float64
	}{
		{number{8, 0}, number{3, 0}, 1}, {number{8, 2}, number{3, 2}, 0.5}, {number{3, 1}, number{4 * scaleUp, 0}, 0.25},
		{number{3, 0}, number{scaleUp, -1}, 2}, {number{5, 1}, number{7, 0}, 1}, {number{5, 4}, number{7, 0}, 1}, {number{5, -1}, number{5, -1}, 0.1},
	} {
		exact := func(n number) *big.Float {
			return new(big.Float).SetMantExp(big.NewFloat(n.m).SetPrec(4000), int(n.e)*scaleBits)
		}
		want := exact(c.b)
		want.Sub(exact(c.a), want.Mul(want, big.NewFloat(c.w)))
		got := c.a
		got.sub(c.w, c.b)
		if ratio, _ := new(big.Float).Quo(exact(got), want).Float64(); math.Abs(ratio-1) > 1e-14 {
			t.Errorf("%v less %g times %v: got %v, want %g", c.a, c.w, c.b, got, want)
		}
	}
}
