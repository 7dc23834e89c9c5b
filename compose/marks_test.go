package compose

import (
	"math/rand/v2"
	"testing"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A swell lasts at most two measures, and so does a fade, which sets in at most two measures
// behind the top and behind all that is higher; neither passes a rest or a breath.
func TestSwellsAreNearTheTop(t *testing.T) {
	p := &piece{meter: rhythm.Meter{Beats: 3, Unit: 4}}
	two, fades := 2*int64(p.meter.Measure()), 0
	for seed := range uint64(2000) {
		rng := rand.New(rand.NewPCG(seed, 0))
		var phrase []*placedNote
		at := int64(0)
		for range 5 + rng.IntN(40) {
			n := &score.Note{Pitch: theory.Key{}.At(28 + rng.IntN(8)), Breath: rng.IntN(30) == 0}
			end := at + int64(rhythm.Eighth)*int64(1+rng.IntN(4))
			phrase = append(phrase, &placedNote{first: n, last: n, at: rhythm.Offset(at % (two / 2)), start: at, end: end})
			at = end + int64(rhythm.Eighth)*int64(rng.IntN(20)/19)
		}
		top := p.top(phrase)
		start, after, end := p.swell(phrase, top)
		if after < end {
			fades++
		}
		held := func(from, to int) bool {
			for i := from; i < to; i++ {
				if phrase[i].last.Breath || phrase[i+1].start > phrase[i].end {
					return false
				}
			}
			return true
		}
		swells, waits, fading := phrase[top].start-phrase[start].start, phrase[after].start-phrase[top].start, phrase[end].start-phrase[after].start
		if swells > two || fading > two || after < end && (waits > two || !held(top, end)) || !held(start, top) {
			t.Fatalf("seed %d: swells from %d to %d, fades from %d to %d (%d, %d and %d ticks)", seed, start, top, after, end, swells, waits, fading)
		}
	}
	if fades < 200 {
		t.Errorf("only %d fades", fades)
	}
}
