package lattice

import (
	"errors"
	"math/big"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// A world is a small graph with forbidden runs.
type world struct {
	g    Graph
	runs []Run
}

// drawWorld makes a tiny world: up to five layers of up to three nodes, words of up
// to three of up to three symbols, edges grouped or not.
func drawWorld(t *rapid.T) world {
	var w world
	layers := rapid.IntRange(1, 5).Draw(t, "layers")
	symbols := rapid.IntRange(1, 3).Draw(t, "symbols")
	for i := range layers + 1 {
		_ = i
		w.g.Nodes = append(w.g.Nodes, rapid.IntRange(1, 3).Draw(t, "nodes"))
	}
	length := 0
	for i := range layers {
		n := rapid.IntRange(0, 3).Draw(t, "length")
		length += n
		lo := len(w.g.Words)
		for range rapid.IntRange(1, 4).Draw(t, "words") {
			w.g.Words = append(w.g.Words, drawWord(t, n, symbols))
		}
		w.g.Edges = append(w.g.Edges, drawEdges(t, w.g.Nodes[i], w.g.Nodes[i+1], lo, len(w.g.Words)))
	}
	for range rapid.IntRange(0, 12).Draw(t, "runs") {
		w.runs = append(w.runs, Run{
			At:      rapid.IntRange(0, length).Draw(t, "at"),
			Symbols: drawWord(t, rapid.IntRange(1, 6).Draw(t, "run"), symbols),
		})
	}
	w.g.Starts = drawNodes(t, w.g.Nodes[0])
	w.g.Ends = drawNodes(t, w.g.Nodes[layers])
	return w
}

func drawWord(t *rapid.T, n, symbols int) []Symbol {
	word := make([]Symbol, n)
	for i := range word {
		word[i] = Symbol(rapid.IntRange(0, symbols-1).Draw(t, "symbol")) - 1
	}
	return word
}

func drawEdges(t *rapid.T, from, to, loWord, hiWord int) []Edge {
	var edges []Edge
	for range rapid.IntRange(0, 9).Draw(t, "edges") {
		edges = append(edges, Edge{
			From:   int32(rapid.IntRange(0, from-1).Draw(t, "from")),
			To:     int32(rapid.IntRange(0, to-1).Draw(t, "to")),
			Word:   int32(rapid.IntRange(loWord, hiWord-1).Draw(t, "word")),
			Weight: rapid.SampledFrom([]float64{1, 2, 0.5, 3, 0.1, 1e90, 1e-90}).Draw(t, "weight"),
		})
	}
	return edges
}

func drawNodes(t *rapid.T, n int) []int32 {
	if rapid.Bool().Draw(t, "all") {
		return nil
	}
	nodes := []int32{}
	for i := range n {
		if rapid.Bool().Draw(t, "node") {
			nodes = append(nodes, int32(i))
		}
	}
	return nodes
}

// walks lists all legal walks of w by trying all walks, and the furthest layer that
// a legal one reaches.
func (w *world) walks() (walks [][]int32, furthest int) {
	var try func(node int32, walk []int32, word []Symbol)
	try = func(node int32, walk []int32, word []Symbol) {
		if !w.legal(word) {
			return
		}
		furthest = max(furthest, len(walk))
		if len(walk) == len(w.g.Edges) {
			if allowed(w.g.Ends, node) {
				walks = append(walks, append([]int32(nil), walk...))
			}
			return
		}
		for j, e := range w.g.Edges[len(walk)] {
			if e.From == node {
				try(e.To, append(walk, int32(j)), append(word[:len(word):len(word)], w.g.Words[e.Word]...))
			}
		}
	}
	for n := range w.g.Nodes[0] {
		if allowed(w.g.Starts, int32(n)) {
			try(int32(n), nil, nil)
		}
	}
	return walks, furthest
}

// legal reports whether no forbidden run is in the word.
func (w *world) legal(word []Symbol) bool {
	for _, r := range w.runs {
		if r.At+len(r.Symbols) <= len(word) && string32(word[r.At:r.At+len(r.Symbols)]) == string32(r.Symbols) {
			return false
		}
	}
	return true
}

func string32(word []Symbol) string {
	s := make([]rune, len(word))
	for i, c := range word {
		s[i] = rune(c + 100)
	}
	return string(s)
}

func allowed(nodes []int32, n int32) bool {
	if nodes == nil {
		return true
	}
	for _, m := range nodes {
		if m == n {
			return true
		}
	}
	return false
}

// key makes a walk comparable.
func key(walk []int32) string {
	s := make([]rune, len(walk))
	for i, j := range walk {
		s[i] = rune(j)
	}
	return string(s)
}

func TestCountEqualsEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		walks, furthest := w.walks()
		s, err := New(&w.g, w.runs)
		if len(walks) == 0 {
			var dead *DeadEnd
			if !errors.As(err, &dead) {
				t.Fatalf("no legal walk: got error %v, want a DeadEnd", err)
			}
			if dead.Layer != furthest {
				t.Fatalf("dead end: got layer %d, want %d", dead.Layer, furthest)
			}
			return
		}
		if err != nil {
			t.Fatalf("%d legal walks: %v", len(walks), err)
		}
		if got := s.Count(); got.Cmp(big.NewInt(int64(len(walks)))) != 0 {
			t.Fatalf("count: got %v, want %d", got, len(walks))
		}
		legal := map[string]bool{}
		for _, walk := range walks {
			legal[key(walk)] = true
		}
		rng := rand.New(rand.NewPCG(1, 2))
		for range 20 {
			if walk := s.Sample(rng); !legal[key(walk)] {
				t.Fatalf("sample: %v is not legal", walk)
			}
		}
	})
}
