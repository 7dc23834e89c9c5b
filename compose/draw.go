package compose

import (
	"math/rand/v2"
	"slices"

	"onward/compose/idiom"
	"onward/compose/lattice"
	"onward/theory"
)

// drawPassage draws the picks of a passage's slots, each legal melody with exactly the
// probability its weight says given the picks that stand, and reports the common
// logarithm of how many there were.
func (p *piece) drawPassage(rng *rand.Rand, m *memory, s *section, pas *passage) (float64, error) {
	at := p.starts64(s, pas)
	b := p.buildGraph(pas)
	for {
		sampler, err := lattice.New(&b.graph, m.forbidden(at))
		if err != nil {
			return 0, err
		}
		picks := b.picks(sampler.Sample(rng))
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

// A graphBuilder makes the lattice of a passage: a layer for what stands before, one for
// each note, one for what stands after.
type graphBuilder struct {
	p     *piece
	pas   *passage
	graph lattice.Graph
	insts [][]instance // by slot
	nodes []node       // of the layer reached
	ids   map[node]int32
	words map[int]int32 // by interval in semitones: index into the graph's words
	chord theory.Chord  // in force at the note before
	leans bool          // the note before must belong to the chord, or go on by step
}

// A node is a note of the line with what the next one depends on.
type node struct {
	pitch theory.Pitch
	last  int8  // the interval to it, -idiom.Memory to idiom.Memory
	turn  int8  // the direction of the interval before that
	twig  int32 // in the tree of its slot's instances; 0 between slots
	start bool  // nothing before it
}

func (p *piece) buildGraph(pas *passage) *graphBuilder {
	b := &graphBuilder{p: p, pas: pas, words: map[int]int32{}}
	b.enter()
	for _, sl := range pas.slots {
		insts := p.instances(sl)
		if len(p.worn) > 0 {
			insts = slices.Clone(insts)
			p.wearOff(sl, insts)
		}
		b.insts = append(b.insts, insts)
		t := newTree(insts)
		for k := range sl.onsets {
			b.layer(sl, k, t)
		}
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
		if i == 0 {
			continue
		}
		symbols = append(symbols, lattice.Symbol(before[i].pitch.MIDI()-before[i-1].pitch.MIDI()))
		n.turn = int8(sign(int(n.last)))
		n.last = int8(clip(before[i].pitch.Step() - before[i-1].pitch.Step()))
	}
	if k := len(before); k > 0 {
		n.pitch, n.start = before[k-1].pitch, false
		b.chord = before[k-1].chord
	}
	b.graph.Words = append(b.graph.Words, symbols)
	b.graph.Nodes = []int{1, 1}
	b.graph.Edges = [][]lattice.Edge{{{Weight: 1}}}
	b.nodes = []node{n}
}

// A tree holds a slot's instances by their first notes; twig 0 is its root.
type tree []twig

type twig struct {
	pitch theory.Pitch
	next  []int32
	leaf  int32 // index of the instance that ends here, -1 for none
}

func newTree(insts []instance) tree {
	t := tree{{leaf: -1}}
	for i := range insts {
		at := int32(0)
		for _, q := range insts[i].pitches {
			to := int32(-1)
			for _, c := range t[at].next {
				if t[c].pitch == q {
					to = c
					break
				}
			}
			if to < 0 {
				to = int32(len(t))
				t = append(t, twig{pitch: q, leaf: -1})
				t[at].next = append(t[at].next, to)
			}
			at = to
		}
		t[at].leaf = int32(i)
	}
	return t
}

// layer adds the edges to note k of a slot.
func (b *graphBuilder) layer(sl *slot, k int, t tree) {
	last := k == len(sl.onsets)-1
	insts := b.insts[len(b.insts)-1]
	weigh := b.p.newStep(b.pas.section, sl, k, b.chord, b.leans)
	b.ids = make(map[node]int32, 64)
	var next []node
	edges := make([]lattice.Edge, 0, 4*len(b.nodes))
	for from := range b.nodes {
		n := &b.nodes[from]
		for _, c := range t[n.twig].next {
			w := weigh.from(n, t[c].pitch)
			e := lattice.Edge{From: int32(from), Label: c, Weight: w}
			to := node{pitch: t[c].pitch, twig: c}
			if last {
				e.Label, to.twig = t[c].leaf, 0
				e.Weight *= insts[e.Label].weight
			}
			if e.Weight < lattice.MinWeight {
				continue
			}
			if b.p.world.Blind {
				e.Weight = 1
			}
			e.Word = b.word(n, t[c].pitch)
			if !n.start {
				to.last, to.turn = int8(clip(t[c].pitch.Step()-n.pitch.Step())), int8(sign(int(n.last)))
			}
			e.To, next = b.reach(to, next)
			edges = append(edges, e)
		}
	}
	b.nodes, b.chord, b.leans = next, sl.chords[k], sl.strong[k]
	b.graph.Nodes = append(b.graph.Nodes, len(next))
	b.graph.Edges = append(b.graph.Edges, edges)
	if b.p.aim != nil {
		b.p.aim.work += len(edges)
	}
}

// reach reports the number of a node of the next layer, adding it if it is new.
func (b *graphBuilder) reach(n node, next []node) (int32, []node) {
	id, ok := b.ids[n]
	if !ok {
		id = int32(len(next))
		b.ids[n] = id
		next = append(next, n)
	}
	return id, next
}

// word reports the number of the word that an edge appends: its interval in semitones.
func (b *graphBuilder) word(n *node, q theory.Pitch) int32 {
	semis := noInterval
	if !n.start {
		semis = q.MIDI() - n.pitch.MIDI()
	}
	id, ok := b.words[semis]
	if !ok {
		id = int32(len(b.graph.Words))
		b.words[semis] = id
		var symbols []lattice.Symbol
		if !n.start {
			symbols = []lattice.Symbol{lattice.Symbol(semis)}
		}
		b.graph.Words = append(b.graph.Words, symbols)
	}
	return id
}

// noInterval stands for the way to a first note, which has no interval.
const noInterval = 1000

// A stepper weighs the ways to one note of a slot.
type stepper struct {
	p       *piece
	section *section
	slot    *slot
	k       int
	chances *chances
	chord   theory.Chord // in force at the note before
	leans   bool         // that note must belong to it, or go on by step
	costs   map[[2]theory.Pitch]float64
}

func (p *piece) newStep(s *section, sl *slot, k int, chord theory.Chord, leans bool) *stepper {
	return &stepper{p: p, section: s, slot: sl, k: k, chord: chord, leans: leans, costs: p.costs, chances: p.chances(sl.ctx[k])}
}

// from weighs the way from a node to a pitch, 0 for none.
func (w *stepper) from(n *node, q theory.Pitch) float64 {
	ctx, p := w.slot.ctx[w.k], w.p
	weight := w.section.compass(q)
	if w.k == 0 && w.slot.begin != idiom.None {
		if degree, _ := w.slot.key.DegreeOf(q.Class()); degree-1 != w.slot.begin {
			weight *= otherOpening
		}
	}
	if n.start {
		degree, altered := w.slot.key.DegreeOf(q.Class())
		if altered != 0 {
			return 0
		}
		first := p.learned.FirstChances(ctx.Chord)
		return weight * even(first[degree-1]+leastChance)
	}
	pair := [2]theory.Pitch{n.pitch, q}
	cost, ok := w.costs[pair]
	if !ok {
		cost = p.step(n.pitch, q)
		w.costs[pair] = cost
	}
	steps := q.Step() - n.pitch.Step()
	_, altered := w.slot.key.DegreeOf(n.pitch.Class())
	if semis := q.MIDI() - n.pitch.MIDI(); cost == 0 || altered != 0 && !w.chord.Has(n.pitch.Class()) && (semis == 0 || semis < -2 || semis > 2) {
		return 0 // a chromatic note goes on by step
	}
	if w.leans && (steps < -1 || steps > 1 || steps == 0) && !w.chord.Has(n.pitch.Class()) {
		return 0 // so does one that leans
	}
	ctx.Step, ctx.Last, ctx.Turn = n.pitch.Step()-w.section.base, int(n.last), int(n.turn)
	chance := leastChance
	if steps >= -idiom.Span && steps <= idiom.Span {
		chance = w.chances.at(p.learned.Meter, ctx)[steps+idiom.Span]
	}
	return weight * cost * chance * p.alteration(w.slot.key, n.pitch, int(n.last), steps)
}

// seamWeight is the least weight of an interval from one section to the next. Set by hand.
const seamWeight = 0.0002

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
	last := b.pas.slots[len(b.pas.slots)-1]
	ctx := last.ctx[len(last.ctx)-1]
	ctx.Onset, ctx.Place, ctx.Chord = 0, 0, idiom.I
	c := b.p.chances(ctx)
	var edges []lattice.Edge
	for from := range b.nodes {
		n := &b.nodes[from]
		steps := to.Step() - n.pitch.Step()
		w := b.p.step(n.pitch, to)
		if steps >= -idiom.Span && steps <= idiom.Span {
			ctx.Step, ctx.Last, ctx.Turn = n.pitch.Step()-b.pas.section.base, int(n.last), int(n.turn)
			w *= c.at(b.p.learned.Meter, ctx)[steps+idiom.Span]
		} else {
			w *= leastChance
		}
		if b.pas.seam {
			w = max(w, seamWeight)
		}
		if w == 0 {
			continue
		}
		b.graph.Words = append(b.graph.Words, append([]lattice.Symbol{lattice.Symbol(to.MIDI() - n.pitch.MIDI())}, rest...))
		edges = append(edges, lattice.Edge{From: int32(from), Word: int32(len(b.graph.Words) - 1), Weight: w})
	}
	b.graph.Nodes = append(b.graph.Nodes, 1)
	b.graph.Edges = append(b.graph.Edges, edges)
}

// picks reports what a walk chose for each slot.
func (b *graphBuilder) picks(walk []int32) []*pick {
	out := make([]*pick, len(b.insts))
	layer := 0
	for i, sl := range b.pas.slots {
		layer += len(sl.onsets)
		out[i] = &b.insts[i][b.graph.Edges[layer][walk[layer]].Label].pick
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
