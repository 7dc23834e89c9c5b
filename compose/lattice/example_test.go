package lattice_test

import (
	"fmt"

	"onward/compose/lattice"
)

// A line of three moves, each a step up (+1) or down (-1) within four places, may not
// go up twice from its start on, nor down twice after its first move.
func Example() {
	g := &lattice.Graph{Nodes: []int{4, 4, 4, 4}, Words: [][]lattice.Symbol{{+1}, {-1}}, Starts: []int32{1}}
	var moves []lattice.Edge
	for from := range int32(4) {
		if from < 3 {
			moves = append(moves, lattice.Edge{From: from, To: from + 1, Word: 0, Weight: 1})
		}
		if from > 0 {
			moves = append(moves, lattice.Edge{From: from, To: from - 1, Word: 1, Weight: 1})
		}
	}
	g.Edges = [][]lattice.Edge{moves, moves, moves}
	s, err := lattice.New(g, []lattice.Run{
		{At: 0, Symbols: []lattice.Symbol{+1, +1}},
		{At: 1, Symbols: []lattice.Symbol{-1, -1}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	// Left are up down up, and down up with either after it.
	fmt.Println(s.Count())
	// Output: 3
}
