package compose_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
)

// aimedAt are aims as players ask for them: one by one, and all together; few of them, or
// all.
func aimedAt(all bool) []compose.Aims {
	if !all {
		return []compose.Aims{{Coverage: to(0.8)}, {New: to(2)}, {Traps: to(1)}, {Traps: to(5)}, {Coverage: to(0.8), Traps: to(2), New: to(2)}}
	}
	return allAims()
}

func allAims() []compose.Aims {
	all := []compose.Aims{{Coverage: to(0.5)}, {Coverage: to(0.7)}, {Coverage: to(0.8)}, {Coverage: to(0.9)}}
	for n := range 5 {
		all = append(all, compose.Aims{New: to(n)}, compose.Aims{Traps: to(n + 1)})
	}
	for _, c := range []struct {
		coverage   float64
		traps, new int
	}{{0.9, 0, 0}, {0.9, 1, 1}, {0.8, 2, 2}, {0.7, 3, 2}, {0.8, 5, 4}} {
		all = append(all, compose.Aims{Coverage: to(c.coverage), Traps: to(c.traps), New: to(c.new)})
	}
	return all
}

// within reports whether each aim is met to within one figure.
func within(a compose.Aims, m compose.Met) bool {
	near := func(aim *int, had int) bool { return aim == nil || had-*aim >= -1 && had-*aim <= 1 }
	return near(a.Traps, m.Traps) && near(a.New, len(m.New)) &&
		(a.Coverage == nil || math.Abs(m.Coverage-*a.Coverage)*float64(m.Notes) <= float64(m.Longest))
}

// roomless reports whether the read says that its aims leave each other no room.
func roomless(r *compose.Read) bool {
	return slices.ContainsFunc(r.Loosened, func(l string) bool { return strings.Contains(l, "its traps and new figures would be") })
}

// Aims that can be met together are met within one figure, 95 times in a hundred; where one
// is not met, the read says so. With ONWARD_LONG all rungs and forms are asked for, with a
// table.
func TestAimsMet(t *testing.T) {
	world := world(t)
	rungs, forms, seeds := []int{7, 9}, []string{"strain"}, uint64(1)
	vocabularies := []*figure.Vocabulary{nil}
	long := os.Getenv("ONWARD_LONG") != ""
	if long {
		rungs, forms, seeds = []int{5, 7, 9, 11}, []string{"snippet", "strain"}, 10
		learned := figure.Default().Learn(drilledParts(t, "technical-c", "technical-f", "technical-e-flat", "brilliant-5")...)
		vocabularies = append(vocabularies, &learned)
	}
	reads, met, apart := 0, 0, 0
	for _, v := range vocabularies {
		for _, form := range forms {
			for _, a := range aimedAt(long) {
				rows := fmt.Sprintf("vocabulary %v, %s, %s:", v != nil, form, aimsText(a))
				for _, rung := range rungs {
					if a.Traps != nil && rung < 7 {
						continue
					}
					for _, style := range []string{"march", "lyrical"} {
						row := 0
						for seed := range seeds {
							req := aimed(style, rung, seed+1, v, a)
							req.Form = form
							r, err := compose.Compose(world, req)
							if err != nil {
								t.Fatalf("%s %s, rung %d, seed %d: %v", rows, style, rung, seed+1, err)
							}
							near := within(a, r.Met)
							if !near && len(r.Loosened) == 0 {
								t.Errorf("%s %s, rung %d, seed %d: %d traps, %d new, %.2f known, and it says nothing", rows, style, rung, seed+1, r.Met.Traps, len(r.Met.New), r.Met.Coverage)
							}
							switch {
							case near:
								reads, met, row = reads+1, met+1, row+1
							case roomless(r):
								apart++
							default:
								reads++
							}
						}
						rows += fmt.Sprintf(" %s %d: %d/%d;", style, rung, row, seeds)
					}
				}
				t.Log(rows)
			}
		}
	}
	t.Logf("%d of %d reads meet their aims; %d more ask for what has no room", met, reads, apart)
	if 100*met < 95*reads || reads == 0 {
		t.Errorf("%d of %d reads meet their aims, want 95 %%", met, reads)
	}
}

// Five traps stand in a strain, nearly each in a measure of its own, and none is told but as
// many as the page has.
func TestTrapsInMeasuresOfTheirOwn(t *testing.T) {
	world := world(t)
	for seed := range uint64(4) {
		r, err := compose.Compose(world, aimed("march", 9, seed, nil, compose.Aims{Traps: to(5)}))
		if err != nil {
			t.Fatal(err)
		}
		in := map[int]bool{}
		for _, trap := range r.Traps {
			in[trap.Measure] = true
		}
		if len(r.Traps) != 5 || len(in) < 4 {
			t.Errorf("seed %d: %d traps in %d measures, want 5 in 4 or more: %+v", seed, len(r.Traps), len(in), r.Traps)
		}
	}
}

// What has no room together is told as such.
func TestAimsWithoutRoom(t *testing.T) {
	world := world(t)
	req := aimed("march", 9, 1, nil, compose.Aims{Coverage: to(0.95), Traps: to(8), New: to(6)})
	req.Form = "snippet"
	r, err := compose.Compose(world, req)
	if err != nil {
		t.Fatal(err)
	}
	if !roomless(r) {
		t.Errorf("8 traps and 6 new figures beside 95 %% known in 8 measures: %q", r.Loosened)
	}
}
