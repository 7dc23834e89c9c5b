package lattice

import (
	"cmp"
	"slices"
)

// reach finds the states that walks from the starts may reach, and gives each a cell.
func (b *builder) reach() {
	b.index = make([]int32, 1, 1024)
	for i := range b.layers {
		b.localize(i)
		b.byWord(i)
		b.reachPlain(i)
		b.reachMatches(i)
	}
}

// nodesAt is the number of nodes of layer i.
func (b *builder) nodesAt(i int) int { return b.g.Nodes[i] }

// baseAt is the root cell of node 0 of layer i.
func (s *Sampler) baseAt(i int) int32 {
	if i == len(s.layers) {
		return s.endBase
	}
	return s.layers[i].base
}

// localize closes the list of matches reached where layer i begins, and makes their
// changes speak of the layer's own words.
func (b *builder) localize(i int) {
	l := &b.layers[i]
	lo := int32(0)
	if i > 0 {
		lo = b.layers[i-1].order.hi
	}
	l.order = span{lo, int32(len(b.order))}
	if l.order.lo == l.order.hi {
		return
	}
	for k, w := range l.words {
		b.local[b.wordNode[w]] = int32(k)
	}
	for _, m := range b.order[l.order.lo:] {
		c := b.changesOf(m)
		for k := range c {
			c[k].word = b.local[c[k].word]
		}
		slices.SortFunc(c, func(p, q change) int { return cmp.Compare(p.word, q.word) })
	}
}

// changesOf gives the changes of match m.
func (s *Sampler) changesOf(m int32) []change {
	c := s.matches[m].changes
	return s.changes[c.lo:c.hi]
}

// byWord sorts by word those edges of layer i whose word some match changes.
func (b *builder) byWord(i int) {
	l := &b.layers[i]
	if l.order.lo == l.order.hi {
		return
	}
	changed := make([]bool, len(l.words))
	for _, m := range b.order[l.order.lo:] {
		for _, c := range b.changesOf(m) {
			changed[c.word] = true
		}
	}
	l.wordRows = make([]int32, len(l.words)+2)
	for _, w := range l.word {
		if changed[w] {
			l.wordRows[w+2]++
		}
	}
	for w := range l.words {
		l.wordRows[w+2] += l.wordRows[w+1]
	}
	l.wordEdges = make([]int32, l.wordRows[len(l.words)+1])
	for j, w := range l.word {
		if changed[w] {
			l.wordEdges[l.wordRows[w+1]] = int32(j)
			l.wordRows[w+1]++
		}
	}
	l.wordRows = l.wordRows[:len(l.words)+1]
}

// edgesOf gives the edges with a word that some match changes.
func (l *layer) edgesOf(word int32) []int32 {
	return l.wordEdges[l.wordRows[word]:l.wordRows[word+1]]
}

// reachPlain follows the edges of layer i from nodes without a live match.
func (b *builder) reachPlain(i int) {
	l := &b.layers[i]
	nodes, next := b.nodesAt(i+1), b.baseAt(i+1)
	from, to := b.reached[l.base:], b.reached[next:]
	for j := range l.edges {
		e := &l.edges[j]
		m := l.plain[l.word[j]]
		if !from[e.From] || m == dead {
			continue
		}
		to[e.To] = true
		if m != 0 {
			b.enter(m, e.To, nodes)
		}
	}
}

// reachMatches follows the edges of layer i that a match changes. Where the others
// lead is reached without the match as well.
func (b *builder) reachMatches(i int) {
	l := &b.layers[i]
	nodes := b.nodesAt(i + 1)
	for _, m := range b.order[l.order.lo:l.order.hi] {
		row := b.matches[m].row
		for _, c := range b.changesOf(m) {
			if c.to <= 0 {
				continue
			}
			for _, j := range l.edgesOf(c.word) {
				e := &l.edges[j]
				if b.index[row+e.From] != 0 {
					b.enter(c.to, e.To, nodes)
				}
			}
		}
	}
}

// enter gives a cell to match m at node, one of so many of its layer.
func (b *builder) enter(m, node int32, nodes int) {
	row := b.matches[m].row
	if row < 0 {
		row = int32(len(b.index))
		b.matches[m].row = row
		b.index = slices.Grow(b.index, nodes)[:len(b.index)+nodes]
		clear(b.index[row:])
		b.order = append(b.order, m)
	}
	if b.index[row+node] == 0 {
		b.index[row+node] = b.cellsN
		b.cellsN++
	}
}
