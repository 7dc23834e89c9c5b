package lattice

import (
	"fmt"
	"slices"
)

// dead is the outcome of a word that spells a forbidden run.
const dead = -1

// A match is what is live, where a layer begins, of forbidden runs that the last
// symbols may turn out to start; it is known by what it changes in that layer.
type match struct {
	layer   int32
	changes span   // of Sampler.changes
	hash    uint32 // of layer and changes
	row     int    // in Sampler.index, a column for each node of the layer
}

// A change says that a word leads to another match than it does from no live match.
type change struct {
	word int32 // in layer.words; until the layer is reached, the node in the trie of words
	to   int32 // match, or dead
}

// An outcome is where a word leads from a node of the runs and from no live match.
type outcome struct{ word, node, plain int32 }

// addRuns builds the trie of those forbidden runs that the words of the layers may
// spell. Its roots are the positions.
func (b *builder) addRuns(forbidden []Run) error {
	symbols := 0
	spelled := make([]int32, 0, len(forbidden))
	for i := range forbidden {
		r := &forbidden[i]
		if r.At < 0 || len(r.Symbols) == 0 {
			return fmt.Errorf("lattice: forbidden run %d: %d symbols at %d; want at least one at 0 or later", i, len(r.Symbols), r.At)
		}
		if b.spelled(r) {
			spelled = append(spelled, int32(i))
			symbols += len(r.Symbols)
		}
	}
	b.runs = newTrie(b.length+1, symbols)
	b.bad = make([]bool, b.length+1+symbols)
	for _, i := range spelled {
		x := int32(forbidden[i].At)
		for _, c := range forbidden[i].Symbols {
			if b.bad[x] {
				break
			}
			x = b.runs.add(x, c)
		}
		b.bad[x] = true
	}
	size := b.runs.size()
	ints := make([]int32, 3*size)
	b.fail, b.memo, b.memoFor = ints[:size], ints[size:2*size], ints[2*size:]
	for x := range b.fail {
		b.fail[x] = -1
	}
	return nil
}

// spelled reports whether the words of the layers, taken one by one, allow r. It does
// not look at a layer in whose midst r starts.
func (b *builder) spelled(r *Run) bool {
	if len(r.Symbols) > b.length-r.At {
		return false
	}
	first := &b.layers[b.layerAt[r.At]]
	at, k := first.at, 0
	if r.At > at {
		at = first.at + first.length
		k = at - r.At
	}
	for k < len(r.Symbols) {
		i := int(b.layerAt[at])
		u := int32(0)
		for n := b.layers[i].length; n > 0 && k < len(r.Symbols); n-- {
			if u = b.words.child(u, r.Symbols[k]); u == 0 || !b.on(i, u) {
				return false
			}
			k++
		}
		at += b.layers[i].length
	}
	return true
}

// fallback gives the longest proper suffix of x that is live at its position: the
// failure link. It finds out as well whether a forbidden run ends at x.
func (b *builder) fallback(x int32) int32 {
	if f := b.fail[x]; f >= 0 {
		return f
	}
	f := int32(0)
	if p := b.runs.parent[x]; p < b.runs.roots {
		f = p + 1
	} else {
		f = b.step(b.fallback(p), b.runs.sym[x])
	}
	b.fail[x] = f
	if f >= b.runs.roots && b.spells(f) {
		b.bad[x] = true
	}
	return f
}

// spells reports whether a forbidden run ends at x.
func (b *builder) spells(x int32) bool {
	if x >= b.runs.roots && !b.bad[x] {
		b.fallback(x)
	}
	return b.bad[x]
}

// step gives the longest live match after x and one more symbol.
func (b *builder) step(x int32, c Symbol) int32 {
	for {
		if y := b.runs.child(x, c); y != 0 {
			return y
		}
		if x < b.runs.roots {
			return x + 1
		}
		x = b.fallback(x)
	}
}

// link finds the matches of all layers and where the words lead from no live match.
func (b *builder) link() {
	b.matches = make([]match, 1, 256)
	b.table = make([]int32, 256)
	for i := len(b.layers) - 1; i >= 0; i-- {
		l := &b.layers[i]
		l.plain = make([]int32, len(l.words))
		for k, w := range l.words {
			x := int32(l.at)
			for _, c := range b.g.Words[w] {
				if x = b.step(x, c); b.spells(x) {
					x = dead
					break
				}
			}
			l.plain[k] = b.match(i+1, x)
		}
	}
}

// match gives the match of a node of runs where layer i begins.
func (b *builder) match(i int, x int32) int32 {
	if x == dead || x < b.runs.roots || i == len(b.layers) {
		return min(x, 0)
	}
	if b.memoFor[x] == int32(i+1) {
		return b.memo[x]
	}
	bottom := len(b.stack)
	if b.on(i, 0) {
		b.compare(i, b.layers[i].length, 0, x, int32(b.layers[i].at))
	}
	m := b.intern(i, b.settle(i+1, bottom))
	b.stack = b.stack[:bottom]
	b.memo[x], b.memoFor[x] = m, int32(i+1)
	return m
}

// compare puts on the stack the words of layer i that may lead elsewhere from x than
// from plain. It stands at node u of words, with so many symbols left; plain is the
// longest suffix of x that is live without what came before the layer.
func (b *builder) compare(i, left int, u, x, plain int32) {
	if left == 0 {
		b.stack = append(b.stack, outcome{u, x, plain})
		return
	}
	for y := x; y != plain; y = b.fallback(y) {
		for z := b.runs.first[y]; z != 0; z = b.runs.next[z] {
			c := b.runs.sym[z]
			v := b.words.child(u, c)
			if v == 0 || !b.on(i, v) || y != x && b.step(x, c) != z {
				continue
			}
			p := b.step(plain, c)
			switch {
			case b.spells(p):
			case b.spells(z):
				b.kill(i, left-1, v, p)
			case p != z:
				b.compare(i, left-1, v, z, p)
			}
		}
	}
}

// kill puts on the stack, as dead, the words of layer i that go on from node u of
// words and live from plain.
func (b *builder) kill(i, left int, u, plain int32) {
	if left == 0 {
		b.stack = append(b.stack, outcome{u, dead, plain})
		return
	}
	for v := b.words.first[u]; v != 0; v = b.words.next[v] {
		if !b.on(i, v) {
			continue
		}
		if p := b.step(plain, b.words.sym[v]); !b.spells(p) {
			b.kill(i, left-1, v, p)
		}
	}
}

// settle turns the outcomes on the stack from bottom up into changes, by word; i is
// the layer where they lead.
func (b *builder) settle(i, bottom int) []outcome {
	top := len(b.stack)
	kept := bottom
	for k := bottom; k < top; k++ {
		o := b.stack[k]
		o.node, o.plain = b.match(i, o.node), b.match(i, o.plain)
		if o.node != o.plain {
			b.stack[kept] = o
			kept++
		}
	}
	changed := b.stack[bottom:kept]
	sortByWord(changed)
	return changed
}

// sortByWord sorts outcomes, which mostly are a few.
func sortByWord(o []outcome) {
	if len(o) > 24 {
		slices.SortFunc(o, func(p, q outcome) int { return int(p.word - q.word) })
		return
	}
	for k := 1; k < len(o); k++ {
		x, j := o[k], k
		for ; j > 0 && o[j-1].word > x.word; j-- {
			o[j] = o[j-1]
		}
		o[j] = x
	}
}

// intern gives the match of layer i with these changes.
func (b *builder) intern(i int, changed []outcome) int32 {
	if len(changed) == 0 {
		return 0
	}
	h := uint32(i) * 0x9E3779B1
	for _, o := range changed {
		h = (h ^ uint32(o.word)) * 0x85EBCA6B
		h = (h ^ h>>15 ^ uint32(o.node)) * 0xC2B2AE35
	}
	h ^= h >> 16
	if 2*len(b.matches) >= len(b.table) {
		b.grow()
	}
	k := b.find(i, h, changed)
	if b.table[k] == 0 {
		lo := int32(len(b.changes))
		for _, o := range changed {
			b.changes = append(b.changes, change{o.word, o.node})
		}
		b.table[k] = int32(len(b.matches))
		b.matches = append(b.matches, match{int32(i), span{lo, int32(len(b.changes))}, h, 0})
	}
	return b.table[k]
}

// find gives the place in the table where the match is or would be.
func (b *builder) find(i int, h uint32, changed []outcome) uint32 {
	mask := uint32(len(b.table) - 1)
	for k := h & mask; ; k = (k + 1) & mask {
		m := &b.matches[b.table[k]]
		if b.table[k] == 0 || m.hash == h && m.layer == int32(i) &&
			slices.EqualFunc(b.changes[m.changes.lo:m.changes.hi], changed, func(c change, o outcome) bool {
				return c.word == o.word && c.to == o.node
			}) {
			return k
		}
	}
}

// grow doubles the table.
func (b *builder) grow() {
	b.table = make([]int32, 2*len(b.table))
	mask := uint32(len(b.table) - 1)
	for m := 1; m < len(b.matches); m++ {
		k := b.matches[m].hash & mask
		for b.table[k] != 0 {
			k = (k + 1) & mask
		}
		b.table[k] = int32(m)
	}
}
