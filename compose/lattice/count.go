package lattice

import (
	"math"
	"math/big"
	"math/bits"
)

// count fills a table of whole numbers in the manner of fill, all of them with as many
// 64-bit limbs as the greatest needs.
func (s *Sampler) count() *big.Int {
	size := s.limbs()
	t := tally{s, size, make([]uint64, size*len(s.cells))}
	for c := s.endBase; c < s.endBase+s.ends; c++ {
		if s.cells[c].count.m != 0 {
			t.of(c)[0] = 1
		}
	}
	for i := len(s.layers) - 1; i >= 0; i-- {
		t.plain(i)
		t.matches(i)
	}
	sum := new(big.Int)
	for _, c := range s.starts {
		sum.Add(sum, whole(t.of(c)))
	}
	return sum
}

// limbs is enough for any count of the tables, to be on the safe side by four bits.
func (s *Sampler) limbs() int {
	most := 1
	for i := range s.cells {
		if n := s.cells[i].count; n.m != 0 {
			_, e := math.Frexp(n.m)
			most = max(most, int(n.e)*scaleBits+e)
		}
	}
	return (most + 4 + 63) / 64
}

// A tally holds the exact count of each cell.
type tally struct {
	*Sampler
	size  int
	limbs []uint64
}

// of gives the limbs of a cell, the lowest first.
func (t *tally) of(c int32) []uint64 { return t.limbs[int(c)*t.size:][:t.size] }

// plain counts for the nodes of layer i without a live match.
func (t *tally) plain(i int) {
	l, next := &t.layers[i], t.baseAt(i+1)
	for n := range l.nodes {
		at := l.base + int32(n)
		if t.cells[at].count.m == 0 {
			continue
		}
		for j := l.rows[n]; j < l.rows[n+1]; j++ {
			add(t.of(at), t.of(t.cellAt(next, l.plain[l.word[j]], l.edges[j].To)))
		}
	}
}

// matches counts for the matches where layer i begins.
func (t *tally) matches(i int) {
	l, next := &t.layers[i], t.baseAt(i+1)
	for _, m := range t.matchesAt(l) {
		row := t.rowOf(m, l)
		for n, at := range row {
			if at != 0 {
				copy(t.of(at), t.of(l.base+int32(n)))
			}
		}
		for _, c := range t.changesOf(m) {
			for _, j := range l.edgesOf(c.word) {
				e := &l.edges[j]
				at := row[e.From]
				if at == 0 {
					continue
				}
				subtract(t.of(at), t.of(t.cellAt(next, l.plain[c.word], e.To)))
				add(t.of(at), t.of(t.cellAt(next, c.to, e.To)))
			}
		}
	}
}

// add adds b to a.
func add(a, b []uint64) {
	var carry uint64
	for k := range a {
		a[k], carry = bits.Add64(a[k], b[k], carry)
	}
}

// subtract takes b from a.
func subtract(a, b []uint64) {
	var borrow uint64
	for k := range a {
		a[k], borrow = bits.Sub64(a[k], b[k], borrow)
	}
}

// whole is the number that the limbs make.
func whole(limbs []uint64) *big.Int {
	n := new(big.Int)
	for k := len(limbs) - 1; k >= 0; k-- {
		n.Lsh(n, 64).Or(n, new(big.Int).SetUint64(limbs[k]))
	}
	return n
}
