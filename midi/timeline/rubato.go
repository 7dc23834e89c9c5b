package timeline

import (
	"math"

	"onward/rhythm"
)

// A Ritard slows a take down from From to To, where its tempo is Percent of what it was,
// 10 to 99. From To on the take is in tempo again; if Stays it stays as slow.
type Ritard struct {
	From, To rhythm.Offset
	Percent  int
	Stays    bool
}

// step is how long a ritard keeps one tempo.
const step = rhythm.Sixteenth

// Ease puts ritards into the tempo map; of ritards that overlap the later begins where
// the earlier ends. They are given in order of From, and lie in the take.
//
// Over a ritard the tempo falls as the square root of the place in the score, v(x) =
// sqrt(1 - (1 - w*w) x) for x from 0 to 1, which is how a runner stops: Friberg and
// Sundberg, Does music performance allude to locomotion?, J. Acoust. Soc. Am. 105 (1999)
// 1469 (from memory; their best fit for final ritards is near the cube root, which is
// more sudden at its end). The map has a tempo for each sixteenth note, chosen so that
// it lasts as long as under the curve, to the nearest microsecond.
func (t *Timeline) Ease(ritards []Ritard) {
	var eased []Tempo
	base := t.Tempos
	at := rhythm.Offset(0) // up to where the new map goes
	plain := func(from, to rhythm.Offset) {
		for i, c := range base {
			ends := i+1 == len(base) || base[i+1].At > from
			if c.At < to && from < to && ends {
				eased = append(eased, Tempo{max(from, c.At), c.MicrosPerQuarter})
			}
		}
	}
	for _, r := range ritards {
		r.From = max(r.From, at)
		if r.To <= r.From {
			continue
		}
		plain(at, r.From)
		for from := r.From; from < r.To; from = from.Add(step) {
			to := min(r.To, from.Add(step))
			eased = append(eased, Tempo{from, int(math.Round(float64(t.microsAt(from)) * r.slowness(from, to)))})
		}
		if at = r.To; r.Stays && at < t.End {
			eased = append(eased, Tempo{at, t.microsAt(at) * 100 / r.Percent})
			at = t.End
			break
		}
	}
	plain(at, t.End)
	t.Tempos = joinEqual(eased)
}

// slowness reports how many times as long as in tempo the stretch lasts.
func (r Ritard) slowness(from, to rhythm.Offset) float64 {
	w := float64(r.Percent) / 100
	fall := 1 - float64(w*w) // the conversions keep each machine from rounding otherwise
	lasts := func(at rhythm.Offset) float64 {
		x := float64(at-r.From) / float64(r.To-r.From)
		return 2 * (1 - math.Sqrt(1-float64(fall*x))) / fall // the integral of 1/v
	}
	return float64(lasts(to)-lasts(from)) * float64(r.To-r.From) / float64(to-from)
}

// microsAt reports the tempo in force at an offset.
func (t *Timeline) microsAt(at rhythm.Offset) int {
	micros := defaultMicros
	for _, c := range t.Tempos {
		if c.At <= at {
			micros = c.MicrosPerQuarter
		}
	}
	return micros
}

// joinEqual leaves out tempos that change nothing.
func joinEqual(all []Tempo) []Tempo {
	var kept []Tempo
	for _, c := range all {
		if n := len(kept); n == 0 || kept[n-1].MicrosPerQuarter != c.MicrosPerQuarter {
			kept = append(kept, c)
		}
	}
	return kept
}
