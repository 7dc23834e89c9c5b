package lattice

// drawStart gives the node where the walk starts; u is from 0 to below 1.
func (s *Sampler) drawStart(u float64) int32 {
	left := u * s.total.weight.m
	last := int32(-1)
	for _, c := range s.starts {
		w := s.cells[c].weight
		if w.m == 0 {
			continue
		}
		last = c
		if left -= shift(w.m, w.e-s.total.weight.e); left < 0 {
			break
		}
	}
	return last - s.layers[0].base
}

// leads gives the matches to which the words of a layer lead from a match; it writes
// them into scratch unless the layer has the answer.
func (s *Sampler) leads(l *layer, m int32, scratch []int32) []int32 {
	if m == 0 {
		return l.plain
	}
	to := scratch[:copy(scratch, l.plain)]
	for _, c := range s.changesOf(m) {
		to[c.word] = c.to
	}
	return to
}

// drawEdge gives the edge taken from a node whose completions have this weight in
// all; the words lead to the matches in to, next is the root cell of node 0 of the
// layer after, and u is from 0 to below 1.
func (s *Sampler) drawEdge(l *layer, next, node int32, to []int32, all number, u float64) int32 {
	left := u * all.m
	edge := int32(-1)
	for j := l.rows[node]; j < l.rows[node+1]; j++ {
		e := &l.edges[j]
		c := s.cellOf(next, to[l.word[j]], e.To).weight
		w := shift(float64(e.Weight*c.m), c.e-all.e)
		if w == 0 {
			continue
		}
		edge = j
		if left -= w; left < 0 {
			break
		}
	}
	return edge
}

// furthest gives the last layer that a legal walk reaches; for want of any, 0.
func (b *builder) furthest() int {
	type state struct{ match, node int32 }
	at := map[state]bool{}
	for _, c := range b.starts {
		at[state{0, c - b.layers[0].base}] = true
	}
	for i := range b.layers {
		l := &b.layers[i]
		next := map[state]bool{}
		for s := range at {
			to := b.leads(l, s.match, make([]int32, len(l.words)))
			for j := l.rows[s.node]; j < l.rows[s.node+1]; j++ {
				if m := to[l.word[j]]; m != dead {
					next[state{m, l.edges[j].To}] = true
				}
			}
		}
		if len(next) == 0 {
			return i
		}
		at = next
	}
	return len(b.layers)
}
