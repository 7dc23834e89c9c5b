package lattice

// fill fills the cells from the last layer back, and sums up the starts.
func (b *builder) fill() {
	b.cells = make([]cell, b.cellsN)
	one := number{m: 1}
	for n, end := range b.endable {
		if end && b.reached[b.endBase+int32(n)] {
			b.cells[b.endBase+int32(n)] = cell{one, one}
		}
	}
	for i := len(b.layers) - 1; i >= 0; i-- {
		b.fillPlain(i)
		b.fillMatches(i)
	}
	for _, c := range b.starts {
		b.total.add(1, &b.cells[c])
	}
	b.total = b.total.normal()
}

// add adds the completions c behind an edge of weight w.
func (a *cell) add(w float64, c *cell) {
	a.weight.add(w, c.weight)
	a.count.add(1, c.count)
}

// sub takes them away.
func (a *cell) sub(w float64, c *cell) {
	a.weight.sub(w, c.weight)
	a.count.sub(1, c.count)
}

func (a cell) normal() cell { return cell{a.weight.normal(), a.count.normal()} }

// cellAt gives the cell of a match and a node; base is the root cell of node 0 of
// their layer.
func (s *Sampler) cellAt(base, match, node int32) int32 {
	switch {
	case match == 0:
		return base + node
	case match < 0:
		return 0
	}
	return s.index[s.matches[match].row+int(node)]
}

// cellOf is the cell itself.
func (s *Sampler) cellOf(base, match, node int32) *cell {
	return &s.cells[s.cellAt(base, match, node)]
}

// fillPlain fills the cells of the nodes of layer i without a live match.
func (b *builder) fillPlain(i int) {
	l := &b.layers[i]
	for n := range l.nodes {
		if b.reached[l.base+int32(n)] {
			b.cells[l.base+int32(n)] = b.sum(l, b.baseAt(i+1), n, l.plain)
		}
	}
}

// sum adds up the edges from node n; to gives the match to which each word leads, and
// next is the root cell of node 0 of the layer after.
func (b *builder) sum(l *layer, next int32, n int, to []int32) cell {
	var a cell
	for j := l.rows[n]; j < l.rows[n+1]; j++ {
		e := &l.edges[j]
		a.add(e.Weight, b.cellOf(next, to[l.word[j]], e.To))
	}
	return a.normal()
}

// fillMatches fills the cells of the matches where layer i begins.
func (b *builder) fillMatches(i int) {
	l := &b.layers[i]
	next := b.baseAt(i + 1)
	to := make([]int32, len(l.plain))
	copy(to, l.plain)
	for _, m := range b.matchesAt(l) {
		row := b.rowOf(m, l)
		b.correct(l, next, m, row)
		for _, c := range b.changesOf(m) {
			to[c.word] = c.to
		}
		for n, at := range row {
			if at == 0 {
				continue
			}
			plain, c := &b.cells[l.base+int32(n)], b.cells[at]
			if c.weight.atLeastHalf(plain.weight) && c.count.atLeastHalf(plain.count) {
				b.cells[at] = c.normal()
			} else {
				b.cells[at] = b.sum(l, next, n, to)
			}
		}
		for _, c := range b.changesOf(m) {
			to[c.word] = l.plain[c.word]
		}
	}
}

// correct fills the cells of a match with those of the same nodes without it, less
// what its changes take away.
func (b *builder) correct(l *layer, next, m int32, row []int32) {
	for n, at := range row {
		if at != 0 {
			b.cells[at] = b.cells[l.base+int32(n)]
		}
	}
	for _, c := range b.changesOf(m) {
		plain := l.plain[c.word]
		for _, j := range l.edgesOf(c.word) {
			e := &l.edges[j]
			at := row[e.From]
			if at == 0 {
				continue
			}
			b.cells[at].sub(e.Weight, b.cellOf(next, plain, e.To))
			if c.to != dead {
				b.cells[at].add(e.Weight, b.cellOf(next, c.to, e.To))
			}
		}
	}
}

// atLeastHalf reports whether a is at least half of b, of which it is a part.
func (a number) atLeastHalf(b number) bool { return a.e == b.e && 2*a.m >= b.m }
