package compose_test

import (
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/styles"
	"onward/theory"
)

func world(t testing.TB) *compose.World {
	t.Helper()
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	return &compose.World{Catalogue: cat, Ladder: l}
}

func TestEveryRungAndStyle(t *testing.T) {
	w := world(t)
	for _, style := range styles.Names() {
		sheet, err := styles.Shipped(style)
		if err != nil {
			t.Fatal(err)
		}
		for rung := 1; rung <= 12; rung++ {
			for _, in := range theory.Instruments() {
				r, err := compose.Compose(w, compose.Request{Style: sheet, Rung: rung, Instrument: in, Seed: uint64(rung)})
				if err != nil {
					t.Errorf("%s rung %d %s: %v", style, rung, in.ID, err)
					continue
				}
				if in.ID == "euphonium-tc" {
					t.Logf("%s rung %d %v legal 10^%.1f %v\n%s", style, rung, r.Key, r.LegalLog10, r.Loosened, score.Text(r.Score.Parts[0]))
				}
			}
		}
	}
}
