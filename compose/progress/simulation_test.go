package progress_test

import (
	"math"
	"slices"
	"sync"
	"testing"

	"onward/compose/figure"
)

// simTakes and simSeeds are how long and how often each player is simulated.
const (
	simTakes = 200
	simSeeds = 21
	simFound = 50 // takes by which the level is to be found
)

// A simulation is one player's takes, by seed.
type simulation struct {
	*player
	runs [][]step
}

// simulations plays all players once for all tests: those of the three kinds, and the
// reader's twin, who has no weak figures and no weak keys.
var simulations = sync.OnceValue(func() map[string]simulation {
	h := openHall()
	twin := reader()
	twin.name, twin.keys = "twin", nil
	out := map[string]simulation{}
	for _, p := range []*player{beginner(), h.weakened(reader(), 7, 11, 4, 0.35), twin, learner()} {
		runs := make([][]step, simSeeds)
		var all sync.WaitGroup
		for i := range runs {
			all.Go(func() {
				one := *p
				one.slope = []float64{0.20, 0.25, 0.30}[i%3] // the model reckons with one only
				runs[i] = h.simulate(&one, uint64(i+1), simTakes)
			})
		}
		all.Wait()
		out[p.name] = simulation{p, runs}
	}
	return out
})

// near reports whether the rung proposed is within one of the true one.
func (s *step) near() bool { return math.Abs(float64(s.rung)-math.Round(s.truth)) <= 1 }

// The level is found within fifteen takes, whatever the seed; thereafter the proposals
// stay within a rung of the true one nineteen times in twenty; and 80 to 90 % of the
// measures come out right.
func TestSimulationFindsTheLevelAndKeepsIt(t *testing.T) {
	for _, name := range []string{"beginner", "reader", "twin", "learner"} {
		sim := simulations()[name]
		var found []int
		within, after, right, expected, off, square, percent, pressed := 0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
		stops, changes := 0, 0
		for seed, run := range sim.runs {
			at := slices.IndexFunc(run, func(s step) bool { return s.near() })
			found = append(found, at+1)
			if at < 0 || at >= simFound {
				t.Errorf("%s, seed %d: within a rung of the true one from take %d on, want by take %d", name, seed+1, at+1, simFound)
				continue
			}
			for i, s := range run[simFound:] {
				if s.rung != run[simFound+i-1].rung {
					changes++
				}
				if after++; s.near() {
					within++
				}
				right, expected, percent = right+s.right, expected+s.expected, percent+float64(s.percent)
				off, square = off+s.believed-s.truth, square+(s.believed-s.truth)*(s.believed-s.truth)
				if s.stopped {
					stops++
				}
				pressed += float64(len(s.pressure))
			}
		}
		slices.Sort(found)
		share := float64(within) / after
		t.Logf("%s: found at take %d (median), %d (last); then within a rung %.1f %%, right %.1f %% (expected %.1f %%), tempo %.0f %%; believed rung off by %+.2f, rms %.2f; another rung in %.1f %% of takes, pressure in %.1f %%, %d stops",
			name, found[len(found)/2], found[len(found)-1], 100*share, 100*right/after, 100*expected/after, percent/after, off/after, math.Sqrt(square/after), 100*float64(changes)/after, 100*pressed/after, stops)
		if share < 0.95 {
			t.Errorf("%s: within a rung of the true one in %.1f %% of takes, want 95 %%", name, 100*share)
		}
		if mean := right / after; mean < 0.80 || mean > 0.90 {
			t.Errorf("%s: %.1f %% of measures right, want 80 to 90 %%", name, 100*mean)
		}
		if math.Abs(right-expected)/after > 0.04 {
			t.Errorf("%s: %.1f %% of measures right where %.1f %% were expected, want within 4", name, 100*right/after, 100*expected/after)
		}
	}
}

// lag reports by how many rungs the model is behind while the player learns, beside how far
// off it is where the player has stopped learning.
func (sim simulation) lag() float64 {
	behind := func(from, to int) float64 {
		sum := 0.0
		for _, run := range sim.runs {
			for _, s := range run[from:to] {
				sum += (s.truth - s.believed) / float64((to-from)*len(sim.runs))
			}
		}
		return sum
	}
	return (behind(20, 60)+behind(80, 120))/2 - behind(180, 200)
}

// One who learns four rungs in 160 takes is followed, and who comes back after two weeks, a
// rung the worse for it, meets an easier read first and is back soon.
func TestSimulationFollowsLearningAndPauses(t *testing.T) {
	sim := simulations()["learner"]
	lag := sim.lag()
	t.Logf("one rung in 40 takes: the model is %.2f rungs behind, or %.0f takes", lag, 40*lag)
	if math.Abs(lag) > 0.5 {
		t.Errorf("the model is %.2f rungs behind learning, want half of one at most", lag)
	}
	h := openHall()
	load := func(s *step) float64 {
		return math.Log(h.rungs.Rungs[s.rung-1].Aim * float64(s.percent) / 100)
	}
	for pause := range sim.pauses {
		eased, right, back := 0.0, 0.0, 0.0
		for _, run := range sim.runs {
			before := 0.0
			for i := pause - 5; i < pause; i++ {
				before += load(&run[i]) / 5
			}
			eased += (before - load(&run[pause])) / simSeeds
			right += run[pause].right / simSeeds
			for i := pause + 10; i < pause+20; i++ {
				back += (load(&run[i]) - before) / 10 / simSeeds
			}
		}
		t.Logf("pause before take %d: the first read %.0f %% less load than the five before, %.0f %% right; ten to twenty takes later %+.0f %%", pause+1, 100*eased, 100*right, 100*back)
		if eased < 0.05 || right < 0.75 || back < -0.02 {
			t.Errorf("pause before take %d: first read eased by %.2f with %.2f right, later %+.2f; want 0.05 or more, 0.75 or more, -0.02 or more", pause+1, eased, right, back)
		}
	}
}

// counts counts, from the hundredth take on, how often a weak figure was wanted, how often
// any was, and how often a weak one was met.
func (sim simulation) counts(weak map[figure.Figure]float64) (weakWanted, wanted, weakMet int) {
	for _, run := range sim.runs {
		for _, s := range run[100:] {
			wanted += len(s.wanted)
			for _, f := range s.wanted {
				if weak[f] > 0 {
					weakWanted++
				}
			}
			for _, f := range s.met {
				if weak[f] > 0 {
					weakMet++
				}
			}
		}
	}
	return
}

// The weak figures of a player come back oftener than those of a player of the same rung
// who has no such weakness; the weak families of keys are found, and come oftener.
func TestSimulationBringsBackWhatIsWeak(t *testing.T) {
	sim, twin := simulations()["reader"], simulations()["twin"]
	own, ownAll, ownMet := sim.counts(sim.weak)
	other, otherAll, otherMet := twin.counts(sim.weak)
	met := float64(ownMet) / float64(otherMet)
	wanted := float64(own) / float64(max(other, 1))
	t.Logf("%d weak figures: wanted %d times of %d, by the twin %d of %d (%.1f times as often); met %d and %d times (%.2f times as often)",
		len(sim.weak), own, ownAll, other, otherAll, wanted, ownMet, otherMet, met)
	if wanted < 4 || met < 1.3 {
		t.Errorf("weak figures are wanted %.1f and met %.2f times as often as without weakness, want 4 and 1.3", wanted, met)
	}
	takes, weak, strange := 0, 0, 0
	own, other = 0, 0
	for i, run := range sim.runs {
		for j, s := range run[60:] {
			takes++
			hit := false
			for _, f := range s.weakKeys {
				if hit = hit || sim.keys[f] > 0; sim.keys[f] == 0 {
					strange++
				}
			}
			if hit {
				weak++
			}
			if sim.keys[s.family] > 0 {
				own++
			}
			if sim.keys[twin.runs[i][60+j].family] > 0 {
				other++
			}
		}
	}
	t.Logf("weak keys: known to be weak in %.0f %% of takes, others taken for weak in %.0f %%; read in %d and, by the twin, %d of %d takes",
		100*float64(weak)/float64(takes), 100*float64(strange)/float64(takes), own, other, takes)
	if float64(weak)/float64(takes) < 0.8 || float64(strange)/float64(takes) > 0.2 {
		t.Errorf("weak keys known in %d, strong ones taken for weak in %d of %d takes; want 80 %% or more, 20 %% or less", weak, strange, takes)
	}
	if own <= other {
		t.Errorf("weak keys read in %d takes, by the twin in %d: want oftener", own, other)
	}
}
