package compose

import (
	"math"
	"math/rand/v2"
	"testing"

	"onward/compose/figure"
	"onward/compose/idiom"
	"onward/compose/ladder"
	"onward/compose/lattice"
	"onward/styles"
	"onward/theory"
)

// tinyPiece is a piece with a passage of a few slots: small enough to write out all its
// melodies.
func tinyPiece(t *testing.T, style string, rung int, seed uint64, slots int) (*piece, *passage) {
	t.Helper()
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("trumpet")
	if err != nil {
		t.Fatal(err)
	}
	w := NewWorld(cat, l)
	p, err := settle(&w, Request{Style: sheet, Rung: rung, Instrument: in, Seed: seed})
	if err != nil {
		t.Fatal(err)
	}
	for _, stage := range []func() error{p.form, p.rhythms} {
		if err := stage(); err != nil {
			t.Fatal(err)
		}
	}
	s := p.sections[0]
	p.slots(s)
	pas := &passage{section: s}
	for _, b := range s.bars {
		pas.slots = append(pas.slots, b.slots...)
	}
	pas.slots = pas.slots[:slots]
	for _, sl := range pas.slots {
		sl.same, sl.like = nil, nil
	}
	return p, pas
}

// allMelodies writes out every legal melody of a passage with its weight, note by note,
// without the lattice, and keeps those with no forbidden run.
func allMelodies(p *piece, pas *passage, forbidden []lattice.Run) (melodies [][]*pick, weights []float64) {
	insts := make([][]instance, len(pas.slots))
	for i, sl := range pas.slots {
		insts[i] = p.instances(sl)
	}
	var walk func(i int, line []theory.Pitch, chord theory.Chord, strong bool, picks []*pick, w float64)
	walk = func(i int, line []theory.Pitch, chord theory.Chord, strong bool, picks []*pick, w float64) {
		if i == len(pas.slots) {
			if !breaks(line, forbidden) {
				melodies, weights = append(melodies, append([]*pick(nil), picks...)), append(weights, w)
			}
			return
		}
		sl := pas.slots[i]
		for k := range insts[i] {
			in := &insts[i][k]
			w, line, chord, strong := w*in.weight, line[:len(line):len(line)], chord, strong
			for j, q := range in.pitches {
				w *= p.newStep(pas.section, sl, j, chord, strong, len(line)).from(standing(line), q)
				line, chord, strong = append(line, q), sl.chords[j], sl.strong[j]
			}
			if w > 0 {
				walk(i+1, line, chord, strong, append(picks, &in.pick), w)
			}
		}
	}
	walk(0, nil, theory.Chord{}, false, nil, 1)
	return melodies, weights
}

// standing reports where a line stands: its last note and the two intervals before it.
func standing(line []theory.Pitch) *node {
	n := &node{start: len(line) == 0}
	for i, q := range line {
		n.pitch = q
		if i > 0 {
			steps := q.Step() - line[i-1].Step()
			n.turn = int8(sign(int(n.last)))
			n.last = int8(max(-idiom.Memory, min(idiom.Memory, steps)))
		}
	}
	return n
}

// breaks reports whether the line has a forbidden run where it is forbidden.
func breaks(line []theory.Pitch, forbidden []lattice.Run) bool {
	for _, r := range forbidden {
		hit := r.At+len(r.Symbols) < len(line)
		for j := 0; hit && j < len(r.Symbols); j++ {
			hit = int(r.Symbols[j]) == line[r.At+j+1].MIDI()-line[r.At+j].MIDI()
		}
		if hit {
			return true
		}
	}
	return false
}

// In worlds small enough to write out, the composer's lattice counts every legal melody
// and no other, with and without forbidden runs, and draws each as often as its weight
// says: chi-square over 40,000 draws, critical value at p = 0.001 by Wilson and
// Hilferty's approximation.
func TestMelodiesAreCountedAndDrawnExactly(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		style       string
		rung, slots int
		seed        uint64
	}{{"march", 1, 4, 3}, {"lyrical", 2, 3, 5}, {"march", 5, 2, 7}, {"lyrical", 8, 2, 9}} {
		p, pas := tinyPiece(t, c.style, c.rung, c.seed, c.slots)
		b := p.buildGraph(pas)
		free, err := lattice.New(&b.graph, nil)
		if err != nil {
			t.Fatal(err)
		}
		all, _ := allMelodies(p, pas, nil)
		if got := free.Count().Int64(); got != int64(len(all)) || got == 0 {
			t.Fatalf("%v: %d melodies counted, %d written out", c, got, len(all))
		}
		var runs []lattice.Run
		for i := 0; i < len(all); i += 1 + len(all)/20 { // forbid what twenty melodies begin with
			runs = append(runs, beginning(all[i], 3))
		}
		sampler, err := lattice.New(&b.graph, runs)
		if err != nil {
			t.Fatal(err)
		}
		melodies, weights := allMelodies(p, pas, runs)
		if got := sampler.Count().Int64(); got != int64(len(melodies)) || len(melodies) == len(all) {
			t.Fatalf("%v: %d melodies counted with runs forbidden, %d written out of %d", c, got, len(melodies), len(all))
		}
		checkDraws(t, b, sampler, melodies, weights)
	}
}

// beginning is the run of the first intervals of a melody.
func beginning(picks []*pick, intervals int) lattice.Run {
	var line []theory.Pitch
	for _, pk := range picks {
		line = append(line, pk.pitches...)
	}
	r := lattice.Run{}
	for i := 1; i < len(line) && i <= intervals; i++ {
		r.Symbols = append(r.Symbols, lattice.Symbol(line[i].MIDI()-line[i-1].MIDI()))
	}
	return r
}

func checkDraws(t *testing.T, b *graphBuilder, sampler *lattice.Sampler, melodies [][]*pick, weights []float64) {
	t.Helper()
	const draws = 40_000
	name := func(picks []*pick) string {
		s := ""
		for _, pk := range picks {
			s += pk.shape.Name
			for _, q := range pk.pitches {
				s += q.String()
			}
		}
		return s
	}
	total := 0.0
	for _, w := range weights {
		total += w
	}
	counts := map[string]int{}
	rng := rand.New(rand.NewPCG(11, 12))
	for range draws {
		counts[name(b.picks(sampler.Sample(rng)))]++
	}
	chi, cells, rest, seenRest := 0.0, 0, 0.0, draws
	for i, m := range melodies {
		want := draws * weights[i] / total
		if want < 10 { // the rare ones together
			rest += want
			continue
		}
		n := counts[name(m)]
		seenRest -= n
		chi += (float64(n) - want) * (float64(n) - want) / want
		cells++
	}
	if rest > 10 {
		chi += (float64(seenRest) - rest) * (float64(seenRest) - rest) / rest
		cells++
	}
	df := float64(cells - 1)
	limit := df * math.Pow(1-2/(9*df)+3.09*math.Sqrt(2/(9*df)), 3)
	if cells < 3 || chi > limit {
		t.Errorf("chi-square %.1f over %d cells, want at most %.1f", chi, cells, limit)
	}
}
