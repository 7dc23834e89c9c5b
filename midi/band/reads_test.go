package band_test

import (
	"fmt"
	"os"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
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

// A played read, and what it was asked as.
type played struct {
	name string
	r    *compose.Read
	t    *timeline.Timeline
}

// players are instruments that read high, in the middle and low.
var players = []string{"euphonium-tc", "trumpet", "trombone", "tuba-bb", "flute", "horn", "clarinet", "baritone-sax"}

// forms are what is asked for, in turn.
var forms = map[string][]string{
	"march":   {"snippet", "strain", "march"},
	"lyrical": {"snippet", "strain", "song"},
}

// everyRead makes a band for reads of every style, rung and instrument, in the meters
// and forms that they draw; with ONWARD_LONG ten times as many.
func everyRead(t testing.TB, opts band.Options) []played {
	t.Helper()
	w := world(t)
	seeds := 1
	if os.Getenv("ONWARD_LONG") != "" {
		seeds = 10
	}
	var all []played
	turn := 0
	for _, name := range styles.Names() {
		sheet, err := styles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		for rung := 1; rung <= 12; rung++ {
			for _, id := range players {
				for seed := range seeds {
					turn++
					in, err := theory.InstrumentByID(id)
					if err != nil {
						t.Fatal(err)
					}
					req := compose.Request{Style: sheet, Rung: rung, Instrument: in, Seed: uint64(100*rung + seed), Form: forms[name][turn%3]}
					if turn%4 == 0 {
						m, err := rhythm.ParseMeter(sheet.Meters[(turn/4)%len(sheet.Meters)].Name)
						if err != nil {
							t.Fatal(err)
						}
						req.Meter = &m
					}
					r, err := compose.Compose(w, req)
					if err != nil { // the rung has no such meter or form
						req.Meter, req.Form = nil, ""
						if r, err = compose.Compose(w, req); err != nil {
							t.Logf("%s rung %d %s: %v", name, rung, id, err)
							continue
						}
					}
					line, err := band.Arrange(r, opts)
					if err != nil {
						t.Fatalf("%s rung %d %s seed %d: %v", name, rung, id, req.Seed, err)
					}
					all = append(all, played{fmt.Sprintf("%s rung %d %s seed %d %s %q", name, rung, id, req.Seed, r.Meter, req.Form), r, line})
				}
			}
		}
	}
	if len(all) < 150*seeds {
		t.Fatalf("only %d reads", len(all))
	}
	return all
}
