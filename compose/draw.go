package compose

import (
	"math/rand/v2"

	"onward/compose/lattice"
	"onward/theory"
)

// drawPassage draws the picks of a passage's slots, each legal melody with exactly the
// probability its weight says given the picks that stand, and reports the common
// logarithm of how many there were.
func (p *piece) drawPassage(rng *rand.Rand, m *memory, s *section, pas *passage) (float64, error) {
	at := p.starts64(s, pas)
	var b *graphBuilder
	for {
		forbidden := m.forbidden(at)
		if b == nil || !b.spelled && len(forbidden) > 0 {
			b = p.buildGraph(pas, len(forbidden) > 0)
		}
		sampler, err := lattice.New(&b.graph, forbidden)
		if err != nil {
			return 0, err
		}
		walk := sampler.Sample(rng)
		picks := b.picks(walk)
		again, err := m.met(b.line(at, picks))
		if err != nil {
			return 0, err
		}
		if again {
			continue
		}
		for i, sl := range pas.slots {
			sl.pick = picks[i]
		}
		return sampler.Log10(), nil
	}
}

// starts64 lists when every note of the passage starts, fixed ones included, from the
// start of the piece on the page.
func (p *piece) starts64(s *section, pas *passage) []int64 {
	index := map[*bar]int64{}
	for i, b := range s.bars {
		index[b] = s.start + int64(i)*int64(p.meter.Measure())
	}
	if s.lead != nil {
		index[s.lead] = s.start - int64(p.meter.Measure())
	}
	if s.ending != nil {
		index[s.ending] = s.start + int64(len(s.bars)-1)*int64(p.meter.Measure())
	}
	var at []int64
	for _, n := range pas.before {
		at = append(at, n.at)
	}
	for _, sl := range pas.slots {
		for _, o := range sl.onsets {
			at = append(at, index[sl.bar]+int64(o))
		}
	}
	for _, n := range pas.after {
		at = append(at, n.at)
	}
	return at
}

// A graphBuilder makes the lattice of a passage: a layer for what stands before, one
// for each slot, one for what stands after. A node is a pitch and a demand.
type graphBuilder struct {
	p     *piece
	pas   *passage
	graph lattice.Graph
	insts [][]instance // by slot
	nodes []node       // of the layer reached
	ids   []int32      // node number in the layer being made, by nodeKey; -1 for none
	inner map[string]int32
	words [][wordJoints]int32 // by inner intervals and joint: index into the graph's words, less one
	// spelled says that edges carry their intervals; where nothing is forbidden they need
	// not, and all words of a layer are one.
	spelled bool
	symbols []lattice.Symbol // of which words are cut
}

// wordJoints is how many joints there are: an octave and a half either way, and none.
const (
	wordJoints  = 2*widestJoint + 2
	widestJoint = 18
)

// A node is where a line stands between two slots.
type node struct {
	pitch  theory.Pitch
	demand demand
	start  bool // nothing before it
}

func (p *piece) buildGraph(pas *passage, spelled bool) *graphBuilder {
	b := &graphBuilder{p: p, pas: pas, inner: map[string]int32{}, spelled: spelled}
	b.enter()
	prev := pas.prev
	for _, sl := range pas.slots {
		b.layer(prev, sl)
		prev = sl
	}
	b.leave()
	return b
}

// enter makes the layer of what stands before.
func (b *graphBuilder) enter() {
	n := node{start: true}
	var symbols []lattice.Symbol
	before := b.pas.before
	for i := range before {
		if i > 0 {
			symbols = append(symbols, lattice.Symbol(before[i].pitch.MIDI()-before[i-1].pitch.MIDI()))
		}
	}
	if k := len(before); k > 0 {
		n = node{pitch: before[k-1].pitch}
		if k > 1 {
			n.demand = after(before[k-1].pitch.MIDI() - before[k-2].pitch.MIDI())
		}
	}
	b.graph.Words = append(b.graph.Words, symbols)
	b.graph.Nodes = []int{1, 1}
	b.graph.Edges = [][]lattice.Edge{{{Weight: 1}}}
	b.nodes = []node{n}
}

// nodeKey numbers pitch and demand densely.
func (b *graphBuilder) nodeKey(q theory.Pitch, d demand) int {
	return ((q.Step()-b.p.low.Step())*5+q.Alter+2)*demands + int(d)
}

// layer adds the edges of one slot.
func (b *graphBuilder) layer(prev, sl *slot) {
	insts := b.p.instances(sl)
	b.p.wearOff(sl, insts)
	b.insts = append(b.insts, insts)
	b.newIDs()
	plain := int32(len(b.graph.Words))
	if b.spelled {
		for i := range insts {
			insts[i].word = b.innerWord(insts[i].text)
		}
	} else {
		b.graph.Words = append(b.graph.Words, make([]lattice.Symbol, b.length(sl)))
	}
	var next []node
	edges := make([]lattice.Edge, 0, len(b.nodes)*len(insts)/3)
	joints := newJoints(b.p, prev, sl, insts)
	for from, n := range b.nodes {
		weights := joints.from(n)
		for i := range insts {
			in := &insts[i]
			w := weights[in.first] * in.weight
			if w < leastWeight*leastWeight || len(in.inner) > 0 && !n.start && !joints.answers(n, in) {
				continue
			}
			if b.p.world.Blind {
				w = 1
			}
			e := lattice.Edge{From: int32(from), Word: plain, Label: int32(i), Weight: w}
			if b.spelled {
				e.Word = b.word(n, in)
			}
			e.To, next = b.reach(n, in, next)
			edges = append(edges, e)
		}
	}
	b.nodes = next
	b.graph.Nodes = append(b.graph.Nodes, len(next))
	b.graph.Edges = append(b.graph.Edges, edges)
	if b.p.aim != nil {
		b.p.aim.work += len(edges)
	}
}

// newIDs forgets the nodes of the layer before.
func (b *graphBuilder) newIDs() {
	size := (b.p.high.Step() - b.p.low.Step() + 1) * 5 * demands
	if len(b.ids) < size {
		b.ids = make([]int32, size)
	}
	for i := range b.ids {
		b.ids[i] = -1
	}
}

// reach reports the number of the node that an instance leads to from n, adding it to
// next if it is new.
func (b *graphBuilder) reach(n node, in *instance, next []node) (int32, []node) {
	last := in.pitches[len(in.pitches)-1]
	d := in.demand
	if len(in.inner) == 0 && !n.start {
		d = after(last.MIDI() - n.pitch.MIDI())
	}
	id := &b.ids[b.nodeKey(last, d)]
	if *id < 0 {
		*id = int32(len(next))
		next = append(next, node{pitch: last, demand: d})
	}
	return *id, next
}

// length reports how many symbols the edges of a slot's layer have.
func (b *graphBuilder) length(sl *slot) int {
	n := len(sl.onsets)
	if len(b.nodes) > 0 && b.nodes[0].start {
		n--
	}
	return n
}

// innerWord numbers the inner intervals of an instance.
func (b *graphBuilder) innerWord(text string) int32 {
	id, ok := b.inner[text]
	if !ok {
		id = int32(len(b.words))
		b.inner[text] = id
		b.words = append(b.words, [wordJoints]int32{})
	}
	return id
}

// word reports the number of an edge's symbols, how far from the last note and the
// instance's inner intervals, adding them if they are new.
func (b *graphBuilder) word(n node, in *instance) int32 {
	joint := wordJoints - 1
	if !n.start {
		joint = in.pitches[0].MIDI() - n.pitch.MIDI() + widestJoint
	}
	known := &b.words[in.word][joint]
	if *known != 0 {
		return *known - 1
	}
	begin := len(b.symbols)
	if !n.start {
		b.symbols = append(b.symbols, lattice.Symbol(joint-widestJoint))
	}
	for _, s := range in.inner {
		b.symbols = append(b.symbols, lattice.Symbol(s))
	}
	b.graph.Words = append(b.graph.Words, b.symbols[begin:len(b.symbols):len(b.symbols)])
	*known = int32(len(b.graph.Words))
	return *known - 1
}

// seamWeight is the least weight of an interval from one section to the next.
const seamWeight = 0.02

// leave makes the layer of what stands after, if anything does: the last note must
// lead to it.
func (b *graphBuilder) leave() {
	if len(b.pas.after) == 0 {
		return
	}
	to := b.pas.after[0].pitch
	var rest []lattice.Symbol
	for i := 1; i < len(b.pas.after); i++ {
		rest = append(rest, lattice.Symbol(b.pas.after[i].pitch.MIDI()-b.pas.after[i-1].pitch.MIDI()))
	}
	var edges []lattice.Edge
	for from, n := range b.nodes {
		i := theory.Between(n.pitch, to)
		w := 0.0
		if n.demand.answers(i.Semitones) && !awkward(i) {
			w = b.p.stepWeight(n.pitch, to) * b.p.leapWeight(i.Steps)
		}
		if b.pas.seam {
			w = max(w, seamWeight)
		}
		if w == 0 {
			continue
		}
		b.graph.Words = append(b.graph.Words, append([]lattice.Symbol{lattice.Symbol(i.Semitones)}, rest...))
		edges = append(edges, lattice.Edge{From: int32(from), Word: int32(len(b.graph.Words) - 1), Weight: w})
	}
	b.graph.Nodes = append(b.graph.Nodes, 1)
	b.graph.Edges = append(b.graph.Edges, edges)
}

// picks reports what a walk chose for each slot.
func (b *graphBuilder) picks(walk []int32) []*pick {
	out := make([]*pick, len(b.insts))
	for i := range out {
		out[i] = &b.insts[i][b.graph.Edges[i+1][walk[i+1]].Label].pick
	}
	return out
}

// line reports the passage with its fixed notes as a line to compare.
func (b *graphBuilder) line(at []int64, picks []*pick) Line {
	l := Line{At: at}
	for _, n := range b.pas.before {
		l.MIDI = append(l.MIDI, n.pitch.MIDI())
	}
	for _, pk := range picks {
		for _, q := range pk.pitches {
			l.MIDI = append(l.MIDI, q.MIDI())
		}
	}
	for _, n := range b.pas.after {
		l.MIDI = append(l.MIDI, n.pitch.MIDI())
	}
	return l
}

// joints weighs the ways from a node into a slot, once for each first pitch.
type joints struct {
	p        *piece
	prev, sl *slot
	firsts   []theory.Pitch
	weights  []float64
}

func newJoints(p *piece, prev, sl *slot, insts []instance) *joints {
	j := &joints{p: p, prev: prev, sl: sl}
	index := map[theory.Pitch]int16{}
	for i := range insts {
		q := insts[i].pitches[0]
		id, ok := index[q]
		if !ok {
			id = int16(len(j.firsts))
			index[q] = id
			j.firsts = append(j.firsts, q)
		}
		insts[i].first = id
	}
	j.weights = make([]float64, len(j.firsts))
	return j
}

// from weighs the ways from the node, by first pitch.
func (j *joints) from(n node) []float64 {
	for i, q := range j.firsts {
		if n.start {
			j.weights[i] = 1
			if !j.sl.chords[0].Has(q.Class()) {
				j.weights[i] = leapOffChord
			}
			continue
		}
		j.weights[i] = even(j.p.joint(j.prev, n.pitch, n.demand, j.sl, q))
	}
	return j.weights
}

// answers reports whether the instance's first move answers the leap into it.
func (j *joints) answers(n node, in *instance) bool {
	return after(in.pitches[0].MIDI() - n.pitch.MIDI()).answers(int(in.turn))
}
