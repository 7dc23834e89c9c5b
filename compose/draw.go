package compose

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"onward/compose/idiom"
	"onward/compose/lattice"
	"onward/theory"
)

// drawPassage draws the picks of a passage's slots, each legal melody with exactly the
// probability its weight says given the picks that stand, and reports the common
// logarithm of how many there were.
func (p *piece) drawPassage(rng *rand.Rand, m *memory, s *section, pas *passage) (log float64, err error) {
	err = p.drawSeveral(rng, m, s, pas, 1, func(l float64) { log = l })
	return log, err
}

// drawSeveral draws picks as drawPassage does, so many times or less, each for itself, and
// calls each when they stand. After the first it leaves out what was heard before.
func (p *piece) drawSeveral(rng *rand.Rand, m *memory, s *section, pas *passage, times int, each func(log float64)) error {
	at := p.starts64(s, pas)
	b := p.buildGraph(pas)
	for tries := learnedTries; ; {
		sampler, err := lattice.New(&b.graph, append(m.forbidden(at), pas.learned...))
		var dead *lattice.DeadEnd
		if errors.As(err, &dead) && len(pas.learned) > 0 { // one of them is in what stands
			tries = 0
			sampler, err = lattice.New(&b.graph, m.forbidden(at))
		}
		if err != nil {
			return err
		}
		picks := b.picks(sampler.Sample(rng))
		line := b.line(at, picks)
		again, err := m.met(line)
		if err != nil {
			return err
		}
		if again {
			continue
		}
		if runs := line.learnedRuns(); len(runs) > 0 && tries > 0 {
			for _, i := range runs {
				pas.learned = append(pas.learned, line.forbid(i, idiom.RunLength))
			}
			tries--
			continue
		}
		pas.take(picks)
		each(sampler.Log10())
		for range times - 1 {
			picks := b.picks(sampler.Sample(rng))
			heard, err := m.heard(b.line(at, picks))
			if err != nil {
				return err
			}
			if !heard {
				pas.take(picks)
				each(sampler.Log10())
			}
		}
		return nil
	}
}

// take lets the slots have picks.
func (pas *passage) take(picks []*pick) {
	for i, sl := range pas.slots {
		sl.pick = picks[i]
	}
}

// learnedTries is how often a passage is drawn at most until it has no run of a tune that was
// learned from. What came up is forbidden; their tunes are not there to say what else is.
const learnedTries = 6

// forbid reports the run of so many notes from note i on as one that a passage must not make.
func (l Line) forbid(i, notes int) lattice.Run {
	r := lattice.Run{At: i}
	for k := i + 1; k < i+notes; k++ {
		r.Symbols = append(r.Symbols, lattice.Symbol(l.MIDI[k]-l.MIDI[k-1]))
	}
	return r
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
	insts [][]instance            // by slot
	nodes []node                  // of the layer reached
	spare []node                  // of the layer before, to be written over
	words [2*noInterval + 1]int32 // by interval in semitones, from -noInterval: index into the graph's words, 0 for none yet
	chord theory.Chord            // in force at the note before
	leans bool                    // the note before must belong to the chord, or go on by step
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
	b := &graphBuilder{p: p, pas: pas}
	b.enter()
	for _, sl := range pas.slots {
		c := p.choice(sl)
		if len(p.worn) > 0 {
			c.list = slices.Clone(c.list)
			p.wearOff(sl, c.list)
		}
		b.insts = append(b.insts, c.list)
		for k := range sl.onsets {
			b.layer(sl, k, c.tree)
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

// layer adds the edges to note k of a slot.
func (b *graphBuilder) layer(sl *slot, k int, t tree) {
	weigh := b.p.newStep(b.pas.section, sl, k, b.chord, b.leans, len(b.pas.before)+len(b.graph.Nodes)-2)
	ends := b.insts[len(b.insts)-1]
	if k < len(sl.onsets)-1 {
		ends = nil
	}
	ids, next, edges := &b.p.ids, b.spare[:0], b.p.edges[:0]
	ids.restart(max(len(t), b.p.sungs()))
	for from := range b.nodes {
		n := &b.nodes[from]
		way := weigh.leaving(n)
		for _, c := range t[n.twig].next {
			q := &t[c].sung
			e := lattice.Edge{From: int32(from), Label: c, Weight: way.to(q)}
			to, key := node{pitch: q.pitch, twig: c}, c
			if ends != nil {
				e.Label, to.twig, key = t[c].leaf, 0, q.number
				e.Weight *= ends[e.Label].weight
			}
			if e.Weight < lattice.MinWeight {
				continue
			}
			if b.p.world.Blind {
				e.Weight = 1
			}
			e.Word = b.word(&way, q)
			if !n.start {
				to.last, to.turn = int8(clip(int(q.step-way.step))), int8(sign(int(n.last)))
			}
			id, isNew := ids.of(int(key), idiom.MemoryOf(int(to.last), int(to.turn)))
			if isNew {
				next = append(next, to)
			}
			e.To = id
			edges = append(edges, e)
		}
	}
	b.p.edges = edges
	b.nodes, b.spare, b.chord, b.leans = next, b.nodes, sl.chords[k], sl.strong[k]
	b.graph.Nodes = append(b.graph.Nodes, len(next))
	b.graph.Edges = append(b.graph.Edges, slices.Clone(edges))
	if b.p.aim != nil {
		b.p.aim.work += len(edges)
	}
}

// A numbering numbers the nodes of a layer.
type numbering struct {
	ids  [][idiom.Memories]int32 // by twig or pitch, and by memory; less than base for none
	base int32                   // the number of the layer's first node
	n    int32                   // nodes in the layer
}

// restart begins a layer of so many twigs or pitches.
func (m *numbering) restart(size int) {
	m.base, m.n = m.base+m.n, 0
	if m.base == 0 || m.base > math.MaxInt32/2 {
		clear(m.ids)
		m.base = 1
	}
	if size > len(m.ids) {
		m.ids = append(m.ids, make([][idiom.Memories]int32, size-len(m.ids))...)
	}
}

// of reports the number of a node, from 0, and whether it is new.
func (m *numbering) of(key, memory int) (id int32, isNew bool) {
	at := &m.ids[key][memory]
	if *at >= m.base {
		return *at - m.base, false
	}
	*at = m.base + m.n
	m.n++
	return *at - m.base, true
}

// word reports the number of the word that an edge appends: its interval in semitones.
func (b *graphBuilder) word(from *way, q *sung) int32 {
	semis := int32(noInterval)
	if from.leaves != nil {
		semis = q.midi - from.midi
	}
	id := &b.words[semis+noInterval]
	if *id == 0 {
		*id = int32(len(b.graph.Words))
		var symbols []lattice.Symbol
		if from.leaves != nil {
			symbols = []lattice.Symbol{lattice.Symbol(semis)}
		}
		b.graph.Words = append(b.graph.Words, symbols)
	}
	return *id
}

// noInterval stands for the way to a first note, which has no interval; all intervals are
// smaller, in semitones.
const noInterval = 200

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
	c := b.p.chances(b.pas.section, ctx)
	var edges []lattice.Edge
	for from := range b.nodes {
		n := &b.nodes[from]
		w := b.p.step(n.pitch, to) * c.of(n.pitch.Step())[idiom.MemoryOf(int(n.last), int(n.turn))].at(to.Step()-n.pitch.Step())
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
