package band

import (
	"math/rand/v2"
	"slices"
	"testing"

	"onward/styles"
	"onward/theory"
)

// The cheapest way is as cheap as the cheapest of all ways, tried one by one.
func TestCheapestIsCheapest(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 1))
		choices := make([][]choice, 1+rng.IntN(5))
		for i := range choices {
			for range 1 + rng.IntN(4) {
				choices[i] = append(choices[i], choice{key: rng.IntN(30), cost: rng.IntN(20)})
			}
		}
		move := func(i int, a, b choice) int { return (a.key*7+b.key*3+i)%17 - 3 }
		price := func(way []choice) int {
			sum := 0
			for i, c := range way {
				sum += c.cost
				if i > 0 {
					sum += move(i, way[i-1], c)
				}
			}
			return sum
		}
		best, tried := 1<<30, 0
		var try func(way []choice)
		try = func(way []choice) {
			if len(way) == len(choices) {
				best, tried = min(best, price(way)), tried+1
				return
			}
			for _, c := range choices[len(way)] {
				try(append(slices.Clone(way), c))
			}
		}
		try(nil)
		if got := price(cheapest(choices, move)); got != best {
			t.Errorf("seed %d: %d over %d choices, the cheapest of %d ways is %d", seed, got, len(choices), tried, best)
		}
	}
}

// Every chord of every quality on every root has voicings in a range of the sheets,
// all of them complete and close.
func TestVoicingsSayTheirChord(t *testing.T) {
	examined := 0
	for q := theory.MajorTriad; q <= theory.MajorSeventhChord; q++ {
		for fifths := -7; fifths <= 7; fifths++ {
			c := theory.Chord{Root: theory.Key{Fifths: fifths}.Tonic(), Quality: q}
			m := membersOf(c)
			for n := 2; n <= 4; n++ {
				list := voicings(c, n, 45, 81)
				if len(list) == 0 {
					t.Errorf("%s has no voicing of %d", c, n)
				}
				for _, v := range list {
					examined++
					var count [4]int
					for i, key := range v {
						count[m.of(key)]++
						if i > 0 && (key <= v[i-1] || key-v[i-1] > widestGap) {
							t.Errorf("%s: %v is not close", c, v)
						}
					}
					tense := len(c.Tones()) == 4 || diminished(c)
					if count[1] == 0 || len(c.Tones()) == 4 && count[3] != 1 || tense && count[1] > 1 {
						t.Errorf("%s: %v lacks or doubles what it should not", c, v)
					}
				}
			}
		}
	}
	if examined < 3000 {
		t.Errorf("only %d voicings", examined)
	}
}

// In the least range that a sheet may give there is always a way to set a chord.
func TestEveryChordCanBeSet(t *testing.T) {
	for q := theory.MajorTriad; q <= theory.MajorSeventhChord; q++ {
		for low := 40; low < 52; low++ {
			for n := 2; n <= 4; n++ {
				h := hall{p: &player{part: &styles.BandPart{Voices: n}, low: low, high: low + 17}, sets: map[theory.Chord][]voicing{}}
				if len(h.of(theory.Chord{Quality: q})) == 0 {
					t.Errorf("quality %q: no voicing of %d or 2 from %d up", q, n, low)
				}
			}
		}
	}
}

func TestParallel(t *testing.T) {
	for _, c := range []struct {
		name              string
		a, b, other, next int
		want              bool
	}{
		{"fifths up", 48, 50, 55, 57, true},
		{"octaves down", 50, 48, 62, 60, true},
		{"octave to double octave", 50, 43, 62, 67, true},
		{"a fifth held", 48, 48, 55, 55, false},
		{"fifth to octave", 48, 55, 55, 67, false},
		{"sixths", 48, 50, 57, 59, false},
		{"thirds", 48, 50, 52, 53, false},
	} {
		if got := parallel(c.a, c.b, c.other, c.next); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

func TestLeadingTonesRise(t *testing.T) {
	f7, _ := theory.Key{Fifths: -2}.Numeral("V7")
	bb, _ := theory.Key{Fifths: -2}.Numeral("I")
	l := leading(turn{f7, bb})
	for _, c := range []struct {
		from, to   string
		unresolved bool
	}{
		{"A3", "Bb3", false}, {"A3", "F3", true}, {"A3", "A3", true},
		{"Eb4", "D4", false}, {"Eb4", "F4", true}, {"C4", "F4", false},
	} {
		if got := l.unresolved(theory.MustPitch(c.from).MIDI(), theory.MustPitch(c.to).MIDI()); got != c.unresolved {
			t.Errorf("%s to %s over %s-%s: unresolved %v", c.from, c.to, f7, bb, got)
		}
	}
}
