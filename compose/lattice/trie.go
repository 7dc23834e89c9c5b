package lattice

// A trie is a forest of symbols with one or more roots, numbered from 0. Children are
// found by hashing, and each node's children are chained in the order of insertion.
type trie struct {
	roots  int32
	parent []int32
	sym    []Symbol
	first  []int32  // the first child; 0: none (no root is a child)
	next   []int32  // the next child of the same parent; 0: none
	some   []uint64 // bits of the symbols of the children, hashed to 0..63
	slots  []slot   // open addressing; a power of two, at most half full
	shift  uint
}

// A slot of the hash table; child 0 marks an empty one.
type slot struct {
	parent, child int32
	sym           Symbol
}

// newTrie makes a forest of roots, with space for n more nodes.
func newTrie(roots, n int) *trie {
	t := &trie{roots: int32(roots)}
	size, bits := 16, uint(4)
	for size < 2*n {
		size, bits = size*2, bits+1
	}
	t.slots, t.shift = make([]slot, size), 64-bits
	all := roots + n
	nodes := make([]int32, 3*all)
	t.parent = nodes[:roots:all]
	t.first = nodes[all : all+roots : 2*all]
	t.next = nodes[2*all : 2*all+roots]
	t.sym = make([]Symbol, roots, all)
	t.some = make([]uint64, roots, all)
	return t
}

// size is the number of nodes.
func (t *trie) size() int { return len(t.parent) }

// find gives the slot where the child of node by sym is or would be.
func (t *trie) find(node int32, sym Symbol) *slot {
	key := uint64(uint32(node))<<32 | uint64(uint32(sym))
	mask := uint64(len(t.slots) - 1)
	for i := (key * 0x9E3779B97F4A7C15) >> t.shift; ; i = (i + 1) & mask {
		s := &t.slots[i]
		if s.child == 0 || s.parent == node && s.sym == sym {
			return s
		}
	}
}

// child gives the child of node by sym; 0: none.
func (t *trie) child(node int32, sym Symbol) int32 {
	if t.some[node]>>bit(sym)&1 == 0 {
		return 0
	}
	return t.find(node, sym).child
}

// add gives the child of node by sym, which it makes if there is none.
func (t *trie) add(node int32, sym Symbol) int32 {
	s := t.find(node, sym)
	if s.child != 0 {
		return s.child
	}
	c := int32(len(t.parent))
	*s = slot{node, c, sym}
	t.parent = append(t.parent, node)
	t.sym = append(t.sym, sym)
	t.next = append(t.next, t.first[node])
	t.first = append(t.first, 0)
	t.first[node] = c
	t.some = append(t.some, 0)
	t.some[node] |= 1 << bit(sym)
	return c
}

// bit hashes a symbol to 0..63; neighbours fall apart.
func bit(sym Symbol) uint { return uint(sym) & 63 }
