package fit_test

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"onward/compose/critic"
	"onward/compose/fit"
	"onward/compose/tune"
)

// strolls makes tunes of 8 measures of eighths: walks by steps where smooth, else by up to a
// fifth either way.
func strolls(count int, smooth bool, seed uint64) []*tune.Tune {
	rng := rand.New(rand.NewPCG(seed, 1))
	var all []*tune.Tune
	for range count {
		t := &tune.Tune{Beats: 2, Unit: 4, Measures: 8}
		step := rng.IntN(7)
		for i := range 32 {
			t.Notes = append(t.Notes, tune.Note{Onset: 12 * i, Ticks: 12, Step: step})
			if smooth {
				step += 2*rng.IntN(2) - 1
			} else {
				step += rng.IntN(9) - 4
			}
		}
		all = append(all, t)
	}
	return all
}

// write writes a critic as its file.
func write(t *testing.T, c *critic.Critic) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := (&critic.Critics{Critics: []*critic.Critic{c}}).Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestACriticTellsTwoSetsApart(t *testing.T) {
	c, err := fit.Critic("march", "2/4", strolls(60, true, 1), strolls(90, false, 2))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(c.Terms); n != 60 {
		t.Errorf("got %d terms, want 60", n)
	}
	wrong := 0
	for _, one := range strolls(50, true, 3) {
		if c.Score(one) <= 0 {
			wrong++
		}
	}
	for _, one := range strolls(50, false, 4) {
		if c.Score(one) >= 0 {
			wrong++
		}
	}
	if wrong > 2 {
		t.Errorf("%d of 100 new tunes were taken for the other side, want 2 at most", wrong)
	}
	again, err := fit.Critic("march", "2/4", strolls(60, true, 1), strolls(90, false, 2))
	if err != nil {
		t.Fatal(err)
	}
	text := write(t, c)
	if !bytes.Equal(text, write(t, again)) {
		t.Error("the same tunes gave another critic")
	}
	read, err := critic.Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range strolls(5, false, 5) {
		if got, want := read.Critics[0].Score(one), c.Score(one); got != want {
			t.Errorf("the critic that was written and read scores %g, want %g", got, want)
		}
	}
}

func TestACriticFindsNothingBetweenAlikeSets(t *testing.T) {
	c, err := fit.Critic("march", "2/4", strolls(60, true, 1), strolls(60, true, 2))
	if err != nil {
		t.Fatal(err)
	}
	right := 0
	for _, one := range strolls(100, true, 3) {
		if c.Score(one) > 0 {
			right++
		}
	}
	if right < 25 || right > 75 {
		t.Errorf("%d of 100 tunes of the same kind were taken for real, want about half", right)
	}
}

func TestACriticNeedsTunes(t *testing.T) {
	if _, err := fit.Critic("march", "2/4", strolls(3, true, 1), strolls(60, false, 2)); err == nil {
		t.Error("three real tunes were enough")
	}
}
