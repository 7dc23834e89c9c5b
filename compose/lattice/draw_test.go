package lattice

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
)

// tooUnlikely is the probability below which a deviation counts as a fault. The seeds
// are fixed, so a test that has passed once passes always.
const tooUnlikely = 1e-4

// chiSquare gives the probability that draws with these probabilities deviate at least
// as far from what is expected as the observed numbers do (Pearson's test).
func chiSquare(observed []int, probability []float64) float64 {
	n := 0
	for _, o := range observed {
		n += o
	}
	x, cells := 0.0, 0
	for i, o := range observed {
		if probability[i] == 0 {
			if o > 0 {
				return 0
			}
			continue
		}
		want := float64(n) * probability[i]
		x += (float64(o) - want) * (float64(o) - want) / want
		cells++
	}
	return 1 - gammaP(float64(cells-1)/2, x/2)
}

// gammaP is the regularized lower incomplete gamma function by its power series
// (Abramowitz and Stegun, Handbook of Mathematical Functions, 6.5.29).
func gammaP(a, x float64) float64 {
	switch {
	case x == 0:
		return 0
	case x > 10*a+500: // beyond it by less than a float64 can tell
		return 1
	}
	term := 1 / a
	sum := term
	for n := 1.0; term > sum*1e-16; n++ {
		term *= x / (a + n)
		sum += term
	}
	log, _ := math.Lgamma(a)
	return min(1, sum*math.Exp(a*math.Log(x)-x-log))
}

func TestChiSquare(t *testing.T) {
	// Abramowitz and Stegun, table 26.8: the value that is exceeded with probability q.
	for _, c := range []struct {
		freedom  int
		value, q float64
	}{{1, 3.84146, 0.05}, {10, 18.3070, 0.05}, {30, 50.8922, 0.01}, {100, 140.169, 0.005}} {
		if got := 1 - gammaP(float64(c.freedom)/2, c.value/2); math.Abs(got-c.q) > 1e-5 {
			t.Errorf("%d degrees of freedom: %g is exceeded with probability %.6f, want %g", c.freedom, c.value, got, c.q)
		}
	}
}

// weighted is a world with 90 legal walks or so, of unequal weight.
func weighted(seed uint64) world {
	rng := rand.New(rand.NewPCG(seed, 1))
	w := world{g: Graph{Nodes: []int{2, 3, 2, 3, 2}}}
	for by := range 3 {
		w.g.Words = append(w.g.Words, []Symbol{Symbol(by), Symbol(by * by % 2)})
	}
	for i := range 4 {
		var edges []Edge
		for range 9 {
			edges = append(edges, Edge{From: int32(rng.IntN(w.g.Nodes[i])), To: int32(rng.IntN(w.g.Nodes[i+1])),
				Word: int32(rng.IntN(3)), Weight: 0.2 + rng.Float64()})
		}
		w.g.Edges = append(w.g.Edges, edges)
	}
	for range 4 {
		word := []Symbol{Symbol(rng.IntN(3)), Symbol(rng.IntN(2)), Symbol(rng.IntN(3)), Symbol(rng.IntN(2))}
		w.runs = append(w.runs, Run{rng.IntN(5), word[:2+rng.IntN(3)]})
	}
	return w
}

func (w *world) weight(walk []int32) float64 {
	weight := 1.0
	for i, j := range walk {
		weight *= w.g.Edges[i][j].Weight
	}
	return weight
}

func TestDrawsFollowTheWeights(t *testing.T) {
	for seed := range uint64(10) {
		w := weighted(seed)
		walks, _ := w.walks()
		place := map[string]int{}
		exact, even, all := make([]float64, len(walks)), make([]float64, len(walks)), 0.0
		for i, walk := range walks {
			place[key(walk)] = i
			exact[i] = w.weight(walk)
			even[i] = 1 / float64(len(walks))
			all += exact[i]
		}
		for i := range exact {
			exact[i] /= all
		}
		s := mustNew(t, &w.g, w.runs)
		rng := rand.New(rand.NewPCG(seed, 2))
		observed := make([]int, len(walks))
		for range 50_000 {
			observed[place[key(s.Sample(rng))]]++
		}
		if p := chiSquare(observed, exact); len(walks) < 20 || p < tooUnlikely {
			t.Errorf("seed %d: %d walks: deviation has probability %g, want at least %g", seed, len(walks), p, tooUnlikely)
		}
		if p := chiSquare(observed, even); p > tooUnlikely {
			t.Errorf("seed %d: draws pass for even ones (%g), so the test shows nothing", seed, p)
		}
	}
}

// TestMarginals draws from a large graph and compares the nodes passed in the middle
// with the weight of the graphs that allow one node there only.
func TestMarginals(t *testing.T) {
	const layers, middle, draws = 10, 5, 20_000
	g := measures(layers, source())
	runs := drawRuns(g, 400, 8, source())
	s := mustNew(t, g, runs)
	probability := make([]float64, g.Nodes[middle])
	for n := range probability {
		part := *g
		part.Edges = slices.Clone(g.Edges)
		part.Edges[middle-1] = slices.DeleteFunc(slices.Clone(g.Edges[middle-1]), func(e Edge) bool { return int(e.To) != n })
		if one, err := New(&part, runs); err == nil {
			probability[n] = one.total.weight.m / s.total.weight.m * shift(1, one.total.weight.e-s.total.weight.e)
		}
	}
	set := everyRun(runs)
	observed := make([]int, len(probability))
	rng := source()
	for range draws {
		walk := s.Sample(rng)
		observed[g.Edges[middle][walk[middle]].From]++
		if r, ok := set.in(spell(g, walk)); ok {
			t.Fatalf("walk %v has the forbidden run %v", walk, r)
		}
	}
	if p := chiSquare(observed, probability); p < tooUnlikely {
		t.Errorf("deviation has probability %g, want at least %g", p, tooUnlikely)
	}
}

// A runSet finds runs of length 8.
type runSet map[string]bool

func everyRun(runs []Run) runSet {
	set := runSet{}
	for _, r := range runs {
		set[fmt.Sprint(r)] = true
	}
	return set
}

func (s runSet) in(word []Symbol) (Run, bool) {
	for at := 0; at+8 <= len(word); at++ {
		if r := (Run{at, word[at : at+8]}); s[fmt.Sprint(r)] {
			return r, true
		}
	}
	return Run{}, false
}

// TestSameEverywhere holds walks fast that every machine must draw.
func TestSameEverywhere(t *testing.T) {
	g := measures(12, source())
	s := mustNew(t, g, drawRuns(g, 500, 8, source()))
	rng := rand.New(rand.NewPCG(11, 12))
	h := fnv.New64a()
	first := fmt.Sprint(s.Sample(rng))
	for range 500 {
		fmt.Fprintln(h, s.Sample(rng))
	}
	const wantFirst, wantHash = "[841 283 323 2748 406 2748 1091 1942 2033 3095 825 3422]", 0x201cc6a3cc766ac3
	if first != wantFirst || h.Sum64() != wantHash {
		t.Errorf("got  %q, %#x\nwant %q, %#x", first, h.Sum64(), wantFirst, uint64(wantHash))
	}
}

func TestTogether(t *testing.T) {
	g := measures(6, source())
	s := mustNew(t, g, drawRuns(g, 200, 8, source()))
	draw := func() string {
		rng := rand.New(rand.NewPCG(1, 1))
		walks := make([][]int32, 50)
		for k := range walks {
			walks[k] = s.Sample(rng)
		}
		return fmt.Sprint(walks, s.Count())
	}
	want := draw()
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			if got := draw(); got != want {
				t.Errorf("together: got %s, alone %s", got, want)
			}
		})
	}
	wait.Wait()
}

func TestLongWalks(t *testing.T) {
	for _, weight := range []float64{MinWeight, 1, MaxWeight} {
		g := &Graph{Nodes: []int{1}, Words: [][]Symbol{{0}, {1}}}
		for range 3000 {
			g.Nodes = append(g.Nodes, 1)
			g.Edges = append(g.Edges, []Edge{{Word: 0, Weight: weight}, {Word: 1, Weight: weight}})
		}
		s := mustNew(t, g, []Run{{At: 1000, Symbols: []Symbol{1}}})
		if got, want := s.Count(), new(big.Int).Lsh(big.NewInt(1), 2999); got.Cmp(want) != 0 {
			t.Errorf("weight %g: count: got %v, want 2^2999", weight, got)
		}
		if got, want := s.Log10(), 2999*math.Log10(2); math.Abs(got-want) > 1e-8 {
			t.Errorf("weight %g: log10: got %v, want %v", weight, got, want)
		}
		if walk := s.Sample(source()); walk[1000] != 0 {
			t.Errorf("weight %g: the forbidden symbol was drawn", weight)
		}
	}
}

// TestFarApart lets a heavy half that is hardly ever reached stand beside a light one.
func TestFarApart(t *testing.T) {
	g := &Graph{Nodes: []int{1, 2}, Words: [][]Symbol{{}}, Ends: []int32{0}}
	heavy, light := 1e-100, 1e100
	g.Edges = [][]Edge{{{To: 0, Weight: heavy}, {To: 1, Weight: light}}}
	for _, w := range [][2]float64{{1e-100, 1e100}, {1e-100, 1e100}, {1e100, 1e-100}, {1e100, 1e-100}, {1e100, 1e-100}} {
		g.Nodes = append(g.Nodes, 2)
		g.Edges = append(g.Edges, []Edge{{From: 0, To: 0, Weight: w[0]}, {From: 1, To: 1, Weight: w[1]}})
	}
	g.Nodes = append(g.Nodes, 1)
	g.Edges = append(g.Edges, []Edge{{From: 0, Weight: 3}, {From: 1, Weight: 1}})
	s := mustNew(t, g, nil)
	rng, zero := source(), 0
	for range 10_000 {
		if s.Sample(rng)[0] == 0 {
			zero++
		}
	}
	if p := chiSquare([]int{zero, 10_000 - zero}, []float64{0.75, 0.25}); p < tooUnlikely {
		t.Errorf("%d of 10000 walks take the way of weight 3 against 1: probability %g", zero, p)
	}
}
