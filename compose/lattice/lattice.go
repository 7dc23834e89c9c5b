// Package lattice counts and draws the walks through a layered graph that spell no
// forbidden run of symbols.
//
// Every legal walk is drawn with exactly the probability that its weight gives it:
// nothing is rejected and nothing is tried again, and the number of legal walks is
// known. The package knows no music; what a node, an edge and a symbol stand for is
// the caller's affair.
//
// # How it works
//
// The state of a walk at a layer is its node and its match: the longest start of a
// forbidden run that the last symbols spell, at the position where that run is
// forbidden (an Aho-Corasick automaton whose tries are anchored to positions).
// Matches that the words of the layers ahead treat alike are one match. Two tables,
// filled from the last layer back, hold for each state the weight and the number of
// its legal completions; a draw goes forward through the first of them. A state with
// a live match differs from the state of the same node without one in a few edges
// only, so its entry is that of the other, corrected; where the correction would
// take more than half away, the entry is summed afresh, so that no precision is lost.
//
// # The same on every machine
//
// Floating-point sums are taken in a fixed order, and every product is rounded by an
// explicit conversion before it is added, which forbids the compiler to fuse the two
// (Go specification, "Floating-point operators"). Hence the same graph, runs and
// random source give the same walk everywhere.
package lattice

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
)

// A Symbol is what one step of a walk says; equal symbols are equal.
type Symbol int32

// An Edge leads from a node of layer i to a node of layer i+1.
type Edge struct {
	From, To int32
	Word     int32   // index into Graph.Words: the symbols that the edge appends to the walk's word
	Label    int32   // the caller's; not looked at
	Weight   float64 // MinWeight to MaxWeight; a walk's weight is the product of its edges'
}

// The least and the greatest weight of an edge.
const (
	MinWeight = 1e-100
	MaxWeight = 1e100
)

// A Graph is layered: Edges[i] lead from layer i to layer i+1. Two edges between the
// same nodes with the same word are two edges, and make two walks.
//
// Edges grouped by From, in ascending order, are handled faster; and words shared
// between edges and layers are looked at once only.
type Graph struct {
	Nodes  []int    // the number of nodes of each layer, len(Edges)+1 of them
	Edges  [][]Edge // at least one layer of them
	Words  [][]Symbol
	Starts []int32 // the nodes of layer 0 where walks may start; nil: all
	Ends   []int32 // the nodes of the last layer where walks may end; nil: all
}

// A Run is a forbidden word: no walk may have Symbols as the part of its word that
// starts with symbol At, counted from 0. All edges of one layer append the same number
// of symbols, so positions are the same for every walk. A Run that reaches beyond the
// end of the walks forbids nothing.
type Run struct {
	At      int
	Symbols []Symbol
}

// A DeadEnd is the error of New when no walk is legal.
type DeadEnd struct {
	Layer int // the furthest layer that a legal walk from a start reaches
}

// Error says how far walks get.
func (d *DeadEnd) Error() string {
	return fmt.Sprintf("lattice: no legal walk: none gets beyond layer %d", d.Layer)
}

// A Sampler draws walks. It may be used by several goroutines at once, each with its
// own random source.
type Sampler struct {
	layers  []layer
	matches []match  // 0 stands for "no live match"
	changes []change // of all matches
	index   []int32  // cell of a match and node, 0: not reached
	order   []int32  // the matches, by layer
	cells   []cell   // 0 stands for "no legal completion"
	starts  []int32  // cells
	endBase int32    // the cell of node 0 of the last layer of nodes
	ends    int32    // the number of its nodes
	total   cell

	mostWords int // of a layer
}

// New prepares the drawing of walks through g that spell none of the forbidden runs.
// The error is a *DeadEnd if there is no such walk, and another one if g or a run
// makes no sense. The Sampler keeps hold of g, which must not be changed any more.
func New(g *Graph, forbidden []Run) (*Sampler, error) {
	b, err := newBuilder(g)
	if err != nil {
		return nil, err
	}
	if err := b.addRuns(forbidden); err != nil {
		return nil, err
	}
	b.link()
	b.reach()
	b.fill()
	if b.total.weight.m == 0 {
		return nil, &DeadEnd{Layer: b.furthest()}
	}
	return &b.Sampler, nil
}

// Log10 reports the common logarithm of the number of legal walks, weights ignored,
// rounded to nine decimals, beyond which machines may disagree.
func (s *Sampler) Log10() float64 {
	n := s.total.count
	return math.Round((math.Log10(n.m)+float64(n.e)*scaleBits*math.Log10(2))*1e9) / 1e9
}

// States reports how many states, pairs of a node and a match, the tables hold that
// have a legal way to the end, over all layers.
func (s *Sampler) States() int {
	n := 0
	for i := range s.cells {
		if s.cells[i].weight.m > 0 {
			n++
		}
	}
	return n
}

// Sample draws a legal walk, with a probability proportional to its weight. It
// returns the index in Graph.Edges[i] of the edge taken in each layer i.
func (s *Sampler) Sample(rng *rand.Rand) []int32 {
	walk := make([]int32, len(s.layers))
	scratch := make([]int32, s.mostWords)
	node, match := s.drawStart(rng.Float64()), int32(0)
	for i := range s.layers {
		l := &s.layers[i]
		all := s.cellOf(l.base, match, node).weight
		to := s.leads(l, match, scratch)
		j := s.drawEdge(l, s.baseAt(i+1), node, to, all, rng.Float64())
		walk[i] = l.original(j)
		node, match = l.edges[j].To, to[l.word[j]]
	}
	return walk
}

// Count reports the exact number of legal walks, weights ignored.
func (s *Sampler) Count() *big.Int { return s.count() }
