package tune

import (
	"slices"

	"onward/compose/idiom"
)

// Triads has the degrees of each chord of package idiom. The dominant has its seventh.
var Triads = [5][]int{idiom.I: {0, 2, 4}, idiom.V: {4, 6, 1, 3}, idiom.IV: {3, 5, 0}, idiom.II: {1, 3, 5}, idiom.VI: {5, 0, 2}}

// Hand-set, as for the chords of the prototype: how much each chord is preferred where the
// notes leave it open, what a change of chord costs, and the weights of strong notes.
var habit = [5]float64{.35, .25, .1, 0, 0}

const (
	change     = .25
	onDownbeat = 1.6
	onBeat     = 1.2
	fourNotes  = .93 // V has four notes, so it fits too easily
)

// awkward is what it costs that b follows a.
func awkward(a, b int) float64 {
	switch {
	case a == b:
		return 0
	case a == int(idiom.V) && b == int(idiom.IV):
		return change + 1
	case a == int(idiom.V) && b == int(idiom.II):
		return change + .5
	}
	return change
}

// Chords reports one chord a measure: the sequence that fits the notes best and changes
// seldom, found by dynamic programming.
func (t *Tune) Chords() []idiom.Numeral {
	measures := t.ByMeasure()
	came := make([][5]int, len(measures))
	var best [5]float64
	for i, notes := range measures {
		fit := chordFits(notes, t.Beat())
		if i == 0 {
			best = fit
			continue
		}
		var now [5]float64
		for b := range 5 {
			for a := range 5 {
				if v := best[a] - awkward(a, b); a == 0 || v >= now[b] {
					now[b], came[i][b] = v, a
				}
			}
			now[b] += fit[b]
		}
		best = now
	}
	chord := 0
	for b := range 5 {
		if best[b] > best[chord] {
			chord = b
		}
	}
	all := make([]idiom.Numeral, len(measures))
	for i := len(all) - 1; i >= 0; i-- {
		all[i] = idiom.Numeral(chord)
		chord = came[i][chord]
	}
	return all
}

// chordFits reports how well each chord fits the notes of a measure.
func chordFits(notes []Note, beat int) [5]float64 {
	var time [7]float64
	total := 0.0
	for _, n := range notes {
		w := 1.0
		switch {
		case n.Onset == 0:
			w = onDownbeat
		case n.Onset%beat == 0:
			w = onBeat
		}
		time[mod(n.Step, 7)] += float64(w * float64(n.Ticks))
		total += float64(w * float64(n.Ticks))
	}
	if total == 0 {
		total = 1
	}
	var fits [5]float64
	for i, triad := range Triads {
		share := 0.0
		for _, d := range triad {
			share += time[d]
		}
		share *= 4 / total
		if len(triad) == 4 {
			share *= fourNotes
		}
		fits[i] = share + habit[i]
	}
	return fits
}

// Relations reports for each measure its closest relation to any earlier measure. Of two
// as close that 8 measures back is taken, then 4, 2, 1, 3, 5 and so on.
func (t *Tune) Relations() []idiom.Relation {
	measures := t.ByMeasure()
	lags := []int{8, 4, 2, 1}
	for lag := 3; lag < len(measures); lag++ {
		if lag != 4 && lag != 8 {
			lags = append(lags, lag)
		}
	}
	all := make([]idiom.Relation, len(measures))
	for i, notes := range measures {
		all[i].Kind = idiom.New
		for _, lag := range lags {
			if lag > i || len(notes) == 0 {
				continue
			}
			if kind, value := relation(notes, measures[i-lag]); kind < all[i].Kind {
				all[i] = idiom.Relation{Kind: kind, Source: i - lag, Value: value}
			}
		}
	}
	return all
}

// relation reports how notes take up those of an earlier measure.
func relation(notes, source []Note) (idiom.Kind, int) {
	if !slices.EqualFunc(notes, source, func(a, b Note) bool { return a.Onset == b.Onset }) {
		return idiom.New, 0
	}
	kept, moved, alike := 0, true, true
	by := notes[0].Step - source[0].Step
	for i, n := range notes {
		if kept == i && n.Step == source[i].Step {
			kept++
		}
		moved = moved && n.Step-source[i].Step == by
		alike = alike && (i == 0 || sign(n.Step-notes[i-1].Step) == sign(source[i].Step-source[i-1].Step))
	}
	switch {
	case kept == len(notes):
		return idiom.Same, 0
	case len(notes) > 1 && moved:
		return idiom.Sequence, by
	case len(notes) > 1 && kept > 0 && 2*kept >= len(notes):
		return idiom.Head, kept
	case len(notes) > 2 && alike:
		return idiom.Contour, 0
	}
	return idiom.Beat, 0
}

func sign(n int) int {
	switch {
	case n > 0:
		return 1
	case n < 0:
		return -1
	}
	return 0
}

// Ends reports for each measure the degree of its last note, 0 the tonic, where a phrase
// ends: each fourth measure, or the one before where the last is silent. Others have
// idiom.None.
func (t *Tune) Ends() []int {
	measures := t.ByMeasure()
	all := make([]int, len(measures))
	for i, notes := range measures {
		all[i] = idiom.None
		last := i%4 == 3 || i == len(measures)-2 && len(measures[i+1]) == 0
		if last && len(notes) > 0 {
			all[i] = mod(notes[len(notes)-1].Step, 7)
		}
	}
	return all
}

// Runs reports a hash of each run of n notes: of its intervals in semitones and of its
// rhythm, onset to onset. Two tunes that share one share the run in some key.
func (t *Tune) Runs(n int) []uint64 {
	var all []uint64
	for i := 0; i+n <= len(t.Notes); i++ {
		const offset, prime = 14695981039346656037, 1099511628211 // FNV-1a
		h := uint64(offset)
		for k := i + 1; k < i+n; k++ {
			a, b := t.Notes[k-1], t.Notes[k]
			for _, v := range []int{t.Semitones(b) - t.Semitones(a), b.Onset - a.Onset} {
				h = (h ^ uint64(uint16(v))) * prime
			}
		}
		all = append(all, h)
	}
	return all
}
