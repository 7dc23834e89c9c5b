package lattice

import "slices"

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

// drawEdge gives the edge taken by a walk at a node with a match, and the match to
// which it leads; u is from 0 to below 1.
func (s *Sampler) drawEdge(l *layer, next, node, m int32, u float64) (edge, to int32) {
	var changes []change
	if m != 0 {
		changes = s.changesOf(m)
	}
	total := s.cellOf(l.base, m, node).weight
	left := u * total.m
	edge = -1
	for j := l.rows[node]; j < l.rows[node+1]; j++ {
		e := &l.edges[j]
		t := leads(changes, l.word[j], l.plain)
		c := s.cellOf(next, t, e.To).weight
		w := shift(float64(e.Weight*c.m), c.e-total.e)
		if w == 0 {
			continue
		}
		edge, to = j, t
		if left -= w; left < 0 {
			break
		}
	}
	return edge, to
}

// leads gives the match to which a word leads.
func leads(changes []change, word int32, plain []int32) int32 {
	if len(changes) > 0 {
		k, found := slices.BinarySearchFunc(changes, word, func(c change, w int32) int { return int(c.word - w) })
		if found {
			return changes[k].to
		}
	}
	return plain[word]
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
			var changes []change
			if s.match != 0 {
				changes = b.changesOf(s.match)
			}
			for j := l.rows[s.node]; j < l.rows[s.node+1]; j++ {
				if to := leads(changes, l.word[j], l.plain); to != dead {
					next[state{to, l.edges[j].To}] = true
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
