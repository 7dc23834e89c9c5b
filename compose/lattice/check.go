package lattice

import (
	"fmt"
	"math"
)

// A layer is one layer of edges, made ready.
type layer struct {
	nodes  int     // of the layer that the edges leave
	base   int32   // the cell of node 0 without a live match
	at     int     // symbols before the layer
	length int     // symbols that each of its edges appends
	edges  []Edge  // grouped by From
	rows   []int32 // node n's edges are rows[n] to rows[n+1]
	perm   []int32 // index in Graph.Edges of each edge; nil: the same
	word   []int32 // of each edge, in words
	words  []int32 // the different words, in Graph.Words
	plain  []int32 // of each word: the match that it leads to from no live match
	order  span    // in Sampler.order: the matches where the layer begins
	// The edges whose word some match treats differently, by word.
	wordRows, wordEdges []int32
}

// A span is a part of a slice.
type span struct{ lo, hi int32 }

// original gives the caller's index of edge j.
func (l *layer) original(j int32) int32 {
	if l.perm == nil {
		return j
	}
	return l.perm[j]
}

// A builder makes a Sampler.
type builder struct {
	Sampler
	g         *Graph
	length    int     // symbols of a whole walk
	rootCells int32   // cells of nodes without a live match, and the empty cell
	endable   []bool  // the nodes of the last layer
	layerAt   []int32 // the layer that appends the symbol at a position

	words    *trie
	wordNode []int32     // of Graph.Words; -1: not yet in the trie
	live     []uint64    // bits of the nodes of words that lie on a word of a layer, by layer
	stride   int         // uint64s of live for each layer
	seen     []localWord // of Graph.Words, in the layer at hand
	local    []localWord // the same of the nodes of words

	runs    *trie
	fail    []int32 // -1: not yet known
	bad     []bool  // a forbidden run ends here
	memo    []int32 // the match of a node of runs
	memoFor []int32 // 1 + the layer for which memo holds
	stack   []outcome
	table   []int32 // matches by hash of their changes
	cellsN  int32
	reached []bool // of root cells
}

// A localWord is the index of a word in layer.words.
type localWord struct {
	layer int32 // 1 + the layer where it holds
	local int32
}

// newBuilder checks g and sorts its edges and words.
func newBuilder(g *Graph) (*builder, error) {
	if len(g.Edges) == 0 || len(g.Nodes) != len(g.Edges)+1 {
		return nil, fmt.Errorf("lattice: graph: %d layers of nodes and %d of edges; want at least one layer of edges, and one more of nodes",
			len(g.Nodes), len(g.Edges))
	}
	b := &builder{g: g}
	b.layers = make([]layer, len(g.Edges))
	if err := b.checkNodes(); err != nil {
		return nil, err
	}
	symbols, edges := 0, 0
	for _, w := range g.Words {
		symbols += len(w)
	}
	for _, l := range g.Edges {
		edges += len(l)
	}
	b.words = newTrie(1, symbols)
	b.stride = (symbols + 64) / 64
	b.live = make([]uint64, b.stride*len(g.Edges))
	b.local = make([]localWord, symbols+1)
	b.seen = make([]localWord, len(g.Words))
	b.wordNode = make([]int32, len(g.Words))
	for i := range b.wordNode {
		b.wordNode[i] = -1
	}
	word := make([]int32, edges)
	for i := range b.layers {
		n := len(g.Edges[i])
		b.layers[i].word, word = word[:n:n], word[n:]
		if err := b.addLayer(i); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// checkNodes looks at the numbers of nodes, the starts and the ends.
func (b *builder) checkNodes() error {
	cells := 1
	for i, n := range b.g.Nodes {
		if n < 0 || cells+n > math.MaxInt32 {
			return fmt.Errorf("lattice: layer %d: %d nodes", i, n)
		}
		if i < len(b.layers) {
			b.layers[i].nodes, b.layers[i].base = n, int32(cells)
		} else {
			b.endBase, b.ends = int32(cells), int32(n)
		}
		cells += n
	}
	b.rootCells = int32(cells)
	b.cellsN = b.rootCells
	b.reached = make([]bool, cells)
	if err := mark(b.reached[1:1+b.g.Nodes[0]], b.g.Starts, "start"); err != nil {
		return err
	}
	for n := range b.g.Nodes[0] {
		if b.reached[1+n] {
			b.starts = append(b.starts, int32(1+n))
		}
	}
	b.endable = make([]bool, b.g.Nodes[len(b.layers)])
	return mark(b.endable, b.g.Ends, "end")
}

// mark sets the nodes listed, or all if the list is nil.
func mark(set []bool, nodes []int32, what string) error {
	if nodes == nil {
		for i := range set {
			set[i] = true
		}
	}
	for i, n := range nodes {
		if n < 0 || int(n) >= len(set) {
			return fmt.Errorf("lattice: %s %d: node %d of a layer of %d", what, i, n, len(set))
		}
		set[n] = true
	}
	return nil
}

// addLayer checks and groups the edges of layer i and notes their words.
func (b *builder) addLayer(i int) error {
	l := &b.layers[i]
	l.edges, l.at, l.length = b.g.Edges[i], b.length, -1
	from, to, words := uint32(l.nodes), uint32(b.g.Nodes[i+1]), uint32(len(b.g.Words))
	grouped, last := true, int32(0)
	for j := range l.edges {
		e := &l.edges[j]
		if uint32(e.From) >= from || uint32(e.To) >= to || uint32(e.Word) >= words ||
			!(e.Weight >= MinWeight && e.Weight <= MaxWeight) {
			return b.edgeError(i, j)
		}
		grouped = grouped && e.From >= last
		last = e.From
	}
	if grouped {
		l.group()
	} else {
		l.sort()
	}
	for j := range l.edges {
		w := l.edges[j].Word
		if b.seen[w].layer != int32(i+1) {
			if err := b.addWord(i, w); err != nil {
				return fmt.Errorf("lattice: layer %d: edge %d: %w", i, l.original(int32(j)), err)
			}
		}
		l.word[j] = b.seen[w].local
	}
	l.length = max(l.length, 0)
	b.mostWords = max(b.mostWords, len(l.words))
	b.length += l.length
	for range l.length {
		b.layerAt = append(b.layerAt, int32(i))
	}
	return nil
}

// edgeError says what is wrong with edge j of layer i.
func (b *builder) edgeError(i, j int) error {
	e := b.g.Edges[i][j]
	what := fmt.Sprintf("weight %g, want %g to %g", e.Weight, MinWeight, MaxWeight)
	switch {
	case uint(e.From) >= uint(b.g.Nodes[i]):
		what = fmt.Sprintf("from node %d of %d", e.From, b.g.Nodes[i])
	case uint(e.To) >= uint(b.g.Nodes[i+1]):
		what = fmt.Sprintf("to node %d of %d", e.To, b.g.Nodes[i+1])
	case uint(e.Word) >= uint(len(b.g.Words)):
		what = fmt.Sprintf("word %d of %d", e.Word, len(b.g.Words))
	}
	return fmt.Errorf("lattice: layer %d: edge %d: %s", i, j, what)
}

// group finds the rows of edges that are grouped already.
func (l *layer) group() {
	l.rows = make([]int32, l.nodes+1)
	n := 0
	for j := range l.edges {
		for ; n < int(l.edges[j].From); n++ {
			l.rows[n+1] = int32(j)
		}
	}
	for ; n < l.nodes; n++ {
		l.rows[n+1] = int32(len(l.edges))
	}
}

// sort makes a copy of the edges, grouped by From and otherwise in their order.
func (l *layer) sort() {
	l.rows = make([]int32, l.nodes+2)
	for j := range l.edges {
		l.rows[l.edges[j].From+2]++
	}
	for n := range l.nodes {
		l.rows[n+2] += l.rows[n+1]
	}
	sorted := make([]Edge, len(l.edges))
	l.perm = make([]int32, len(l.edges))
	for j, e := range l.edges {
		to := l.rows[e.From+1]
		l.rows[e.From+1]++
		sorted[to], l.perm[to] = e, int32(j)
	}
	l.edges, l.rows = sorted, l.rows[:l.nodes+1]
}

// addWord notes that layer i has word w.
func (b *builder) addWord(i int, w int32) error {
	l := &b.layers[i]
	word := b.g.Words[w]
	if l.length < 0 {
		l.length = len(word)
	}
	if len(word) != l.length {
		return fmt.Errorf("word %d has %d symbols, the words before it have %d", w, len(word), l.length)
	}
	u := b.wordNode[w]
	if u < 0 {
		u = 0
		for _, c := range word {
			u = b.words.add(u, c)
		}
		b.wordNode[w] = u
	}
	if b.local[u].layer != int32(i+1) { // else the same word has another index as well
		b.local[u] = localWord{int32(i + 1), int32(len(l.words))}
		l.words = append(l.words, w)
	}
	b.seen[w] = b.local[u]
	live := b.live[i*b.stride : (i+1)*b.stride]
	for v := u; live[v>>6]>>(v&63)&1 == 0; v = b.words.parent[v] {
		live[v>>6] |= 1 << (v & 63)
		if v == 0 {
			break
		}
	}
	return nil
}

// on reports whether node u of words lies on a word of layer i.
func (b *builder) on(i int, u int32) bool {
	return b.live[i*b.stride+int(u>>6)]>>(u&63)&1 != 0
}
