package band

import (
	"errors"
	"fmt"
	"math/rand/v2"

	"onward/compose"
	"onward/midi/timeline"
	"onward/rhythm"
)

// Where the band drops out (our own choice): it plays first and last, rests long enough
// to leave the player alone and short enough to be missed, and plays in between.
const (
	playsFirst   = 4 // measures that are never rested
	playsLast    = 2
	shortestRest = 2 // measures
	longestRest  = 4
	playsBetween = 4 // measures at least between two rests
)

// restsFrom holds the numbers of played measures from which the band rests once, twice
// and three times.
var restsFrom = [...]int{0, 16, 40}

// ErrNoRoom is of a piece too short for the band to drop out.
var ErrNoRoom = errors.New("no room for the band to drop out")

// A Rest is where the whole band rests: from a printed measure to another, both counted
// from 0 and both rested, in one time through.
type Rest struct {
	First, Last int
	Pass        int // 1 the first time through, 2 on the repeat
}

// DropOut reports where the band rests in a take of r with Options.DropOut, in order of
// time. It depends on the read alone, its seed above all. It fails on a read that no take
// can hold, and with ErrNoRoom on one of less than eight measures.
func DropOut(r *compose.Read) ([]Rest, error) {
	t, err := newTake(r, Options{})
	if err == nil {
		err = t.dropOut()
	}
	if err != nil {
		return nil, fmt.Errorf("band: %w", err)
	}
	rests := make([]Rest, len(t.rests))
	for i, s := range t.rests {
		rests[i] = Rest{First: t.bars[s.first].Index, Last: t.bars[s.last].Index, Pass: t.bars[s.first].Pass}
	}
	return rests, nil
}

// A silence is a rest of the band from one bar to another, both rested.
type silence struct {
	first, last int
	at, end     rhythm.Offset
}

// dropOut draws where the band rests: one rest in each of as many equal parts of the
// take as it has rests, as far as there is room.
func (t *take) dropOut() error {
	rng := stream(t.r.Seed, "drop-out")
	first := playsFirst
	if t.bars[0].Lead > 0 {
		first++ // an upbeat is no measure
	}
	end := len(t.bars) - playsLast
	count := 0
	for _, from := range restsFrom {
		if end+playsLast >= from {
			count++
		}
	}
	for i := range count {
		from, to := first+(end-first)*i/count, first+(end-first)*(i+1)/count
		if n := len(t.rests); n > 0 {
			from = max(from, t.rests[n-1].last+1+playsBetween)
		}
		t.drawRest(rng, from, to)
	}
	if len(t.rests) == 0 {
		return fmt.Errorf("%w: it takes %d measures or more", ErrNoRoom, playsFirst+shortestRest+playsLast)
	}
	return nil
}

// drawRest draws a rest of bars from one to another, that one left out, if one fits.
func (t *take) drawRest(rng *rand.Rand, from, to int) {
	var fits []silence
	for first := from; first < to; first++ {
		for last := first + shortestRest - 1; last < min(to, first+longestRest); last++ {
			if t.mayRest(first, last) {
				fits = append(fits, silence{first, last, t.bars[first].At, t.bars[last].End()})
			}
		}
	}
	if len(fits) > 0 {
		t.rests = append(t.rests, fits[rng.IntN(len(fits))])
	}
}

// mayRest reports whether the band may rest in these bars: from downbeat to downbeat, in
// one time through, straight along the page, and not for the whole of a section.
func (t *take) mayRest(first, last int) bool {
	if t.bars[first].Lead > 0 || t.bars[last+1].Lead > 0 {
		return false
	}
	for i := first + 1; i <= last; i++ {
		if t.bars[i].Pass != t.bars[first].Pass || t.bars[i].Index < t.bars[i-1].Index {
			return false
		}
	}
	other := func(i, j int) bool { return t.bars[i].section != t.bars[j].section || t.bars[i].Pass != t.bars[j].Pass }
	begun := false // a section that began within
	for i := first; i <= last; i++ {
		begun = begun || other(i-1, i)
		if begun && other(i, i+1) {
			return false
		}
	}
	return true
}

// rested takes out of a part's tones what lies in the band's rests. A tone that sounds
// into a rest ends there; one that would sound on after it is struck anew as it ends, so
// many percent of the dynamic then, unless percent is 0.
func (t *take) rested(tones []timeline.Tone, percent int) []timeline.Tone {
	if len(t.rests) == 0 {
		return tones
	}
	var kept []timeline.Tone
	for _, n := range tones {
		sounds := true
		for _, s := range t.rests {
			end := n.At.Add(n.Hold)
			if end <= s.at || n.At >= s.end {
				continue
			}
			if n.At < s.at {
				before := n
				before.Hold = s.at.Since(n.At)
				kept = append(kept, before)
			}
			if sounds = end > s.end && percent > 0; !sounds {
				break
			}
			n.At, n.Hold, n.Velocity = s.end, end.Since(s.end), t.velocity(s.end, percent)
		}
		if sounds {
			kept = append(kept, n)
		}
	}
	return kept
}
