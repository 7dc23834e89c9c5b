package session

import (
	"slices"
	"time"
)

// Covered reports which of so many printed measures are hidden at a time of a take under
// the pressure "cover".
//
// A measure is hidden once the take has left it: the measure being played and all of the
// next one are always to be seen, and so is all that is still to come. Eyes are about a
// second ahead of the fingers and no more (Furneaux & Land 1999), and a window of two
// beats slows playing where the whole measure does not (Truitt et al. 1997); the cover
// takes away what is behind, so that nobody can look back.
//
// Where the take goes back on the page, at a repeat or da capo, all that is played from
// there on is to be seen again as the last measure before the way back begins. A measure
// in which no beat falls, such as an upbeat shorter than a beat, goes with the measure
// after it. During the count-in nothing is hidden.
//
// beats are those of the take in order of time; measures with an index outside of the
// page are left out.
func Covered(beats []Beat, at time.Duration, measures int) []bool {
	played, now := playedMeasures(beats, at, measures)
	covered := make([]bool, measures)
	if now < 0 {
		return covered
	}
	behind := make([]bool, measures) // played, or passed over, and not to come in this stretch
	for i := range played[now] {
		behind[i] = true
	}
	for _, m := range played[:now] {
		behind[m] = true
	}
	ahead := stretch(played, now)
	if len(ahead) == 1 { // the way back is next
		ahead = append(slices.Clone(ahead), stretch(played, now+1)...)
	}
	for _, m := range ahead {
		behind[m] = false
	}
	for i := range covered {
		covered[i] = behind[withBeats(played, i)]
	}
	return covered
}

// playedMeasures lists the measures in the order in which they are played, and reports
// which of them is played at a time, -1 ahead of the first.
func playedMeasures(beats []Beat, at time.Duration, measures int) (played []int, now int) {
	now = -1
	last := Beat{Measure: -1}
	for _, b := range beats {
		if b.Measure < 0 || b.Measure >= measures {
			continue
		}
		if b.Measure != last.Measure || b.Beat <= last.Beat {
			played = append(played, b.Measure)
		}
		if last = b; b.At <= at {
			now = len(played) - 1
		}
	}
	return played, now
}

// stretch is what is played from index i on until the take goes back on the page.
func stretch(played []int, i int) []int {
	if i >= len(played) {
		return nil
	}
	end := i + 1
	for end < len(played) && played[end] > played[end-1] {
		end++
	}
	return played[i:end]
}

// withBeats is the first measure from i on in which a beat falls, i itself where none is.
func withBeats(played []int, i int) int {
	next := i
	for _, m := range played {
		if m == i {
			return i
		}
		if m > i && (next == i || m < next) {
			next = m
		}
	}
	return next
}
