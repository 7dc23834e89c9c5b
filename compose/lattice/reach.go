package lattice

// reach finds the states that walks from the starts may reach, and gives each a cell.
func (b *builder) reach() {
	b.layOut()
	for i := range b.layers {
		b.localize(i)
		b.byWord(i)
		b.reachPlain(i)
		b.reachMatches(i)
	}
}

// layOut lists the matches by layer and gives each its row.
func (b *builder) layOut() {
	for m := 1; m < len(b.matches); m++ {
		b.layers[b.matches[m].layer].order.hi++
	}
	n := int32(0)
	for i := range b.layers {
		o := &b.layers[i].order
		n += o.hi
		o.lo, o.hi = n-o.hi, n-o.hi
	}
	b.order = make([]int32, n)
	size := 0
	for m := 1; m < len(b.matches); m++ {
		l := &b.layers[b.matches[m].layer]
		b.order[l.order.hi] = int32(m)
		l.order.hi++
		b.matches[m].row = size
		size += l.nodes
	}
	b.index = make([]int32, size)
}

// baseAt is the root cell of node 0 of layer i.
func (s *Sampler) baseAt(i int) int32 {
	if i == len(s.layers) {
		return s.endBase
	}
	return s.layers[i].base
}

// matchesAt gives the matches where layer l begins.
func (s *Sampler) matchesAt(l *layer) []int32 { return s.order[l.order.lo:l.order.hi] }

// rowOf gives the cells of a match at the nodes of its layer.
func (s *Sampler) rowOf(m int32, l *layer) []int32 {
	return s.index[s.matches[m].row:][:l.nodes]
}

// localize makes the changes of layer i speak of the layer's own words.
func (b *builder) localize(i int) {
	l := &b.layers[i]
	if l.order.lo == l.order.hi {
		return
	}
	for k, w := range l.words {
		b.local[b.wordNode[w]].local = int32(k)
	}
	for _, m := range b.matchesAt(l) {
		c := b.changesOf(m)
		for k := range c {
			c[k].word = b.local[c[k].word].local
		}
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
	for _, m := range b.matchesAt(l) {
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
	from, to := b.reached[l.base:], b.reached[b.baseAt(i+1):]
	for j := range l.edges {
		e := &l.edges[j]
		m := l.plain[l.word[j]]
		if !from[e.From] || m == dead {
			continue
		}
		to[e.To] = true
		if m != 0 {
			b.enter(m, e.To)
		}
	}
}

// reachMatches follows the edges of layer i that a match changes. Where the others
// lead is reached without the match as well.
func (b *builder) reachMatches(i int) {
	l := &b.layers[i]
	for _, m := range b.matchesAt(l) {
		row := b.rowOf(m, l)
		for _, c := range b.changesOf(m) {
			if c.to <= 0 {
				continue
			}
			for _, j := range l.edgesOf(c.word) {
				if e := &l.edges[j]; row[e.From] != 0 {
					b.enter(c.to, e.To)
				}
			}
		}
	}
}

// enter gives a cell to match m at a node.
func (b *builder) enter(m, node int32) {
	if at := &b.index[b.matches[m].row+int(node)]; *at == 0 {
		*at = b.cellsN
		b.cellsN++
	}
}
