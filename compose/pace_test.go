package compose

import (
	"testing"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/styles"
	"onward/theory"
)

// Meeting the load, and keeping clear of the tunes that were learned from, costs little: a
// melody is rarely drawn twice.
func TestReadsAreDrawnOnceMostly(t *testing.T) {
	t.Parallel()
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("cornet")
	if err != nil {
		t.Fatal(err)
	}
	w := NewWorld(cat, l)
	draws, looked := 0, 0
	for seed := range 96 {
		s, err := styles.Shipped(styles.Names()[seed%2])
		if err != nil {
			t.Fatal(err)
		}
		_, n, err := compose(&w, Request{Style: s, Rung: 1 + seed/2%12, Instrument: in, Form: "snippet", Seed: uint64(seed)})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		draws, looked = draws+n, looked+1
	}
	t.Logf("%d draws for %d reads", draws, looked)
	if 10*draws > 15*looked {
		t.Errorf("%d draws for %d reads, want 1.5 a read at most", draws, looked)
	}
}
