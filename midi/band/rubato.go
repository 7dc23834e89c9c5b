package band

import (
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
)

// How slow a ritard gets, in percent of the tempo: into a phrase's end, into a section's,
// and at the end of all (our own choice; small enough to go along with).
const (
	phraseEases  = 90
	sectionEases = 84
	endEases     = 65
)

// StrictTime reports whether a style keeps strict time, without rubato: its band has
// drums, as a march's has.
func StrictTime(s *styles.Sheet) bool {
	for _, p := range s.Band.Parts {
		if p.Kind == "drums" {
			return true
		}
	}
	return false
}

// ritards are where the take slows down: over the measure ahead of each phrase's breath,
// and over the last measures up to the player's last note. A phrase that runs on
// has none.
func (t *take) ritards() []timeline.Ritard {
	var all []timeline.Ritard
	for i, b := range t.bars {
		switch {
		case b.last:
			all = append(all, t.lastRitard(b))
		case b.phrase.Cadence == "on", !t.ends(i, func(next bar) bool { return next.phrase != b.phrase }):
		default:
			percent := phraseEases
			if t.ends(i, func(next bar) bool { return next.section != b.section }) {
				percent = sectionEases
			}
			to := t.breathIn(b)
			all = append(all, timeline.Ritard{From: t.measureBefore(to), To: to, Percent: percent})
		}
	}
	return all
}

// breathIn is where the player breathes last in the bar, its end where that is nowhere.
func (t *take) breathIn(b bar) rhythm.Offset {
	to := b.End()
	for _, at := range t.breaths {
		if at > b.At && at < b.End() {
			to = at
		}
	}
	return to
}

// measureBefore is a measure before a place, within the piece.
func (t *take) measureBefore(at rhythm.Offset) rhythm.Offset {
	m, _ := t.l.At(at - 1)
	return max(t.l.Start, at-rhythm.Offset(m.Meter.Measure()))
}

// lastRitard goes into the last note of all, which is as slow as it gets.
func (t *take) lastRitard(b bar) timeline.Ritard {
	to := b.End()
	if n := len(t.melody); n > 0 {
		to = t.melody[n-1].At
	}
	return timeline.Ritard{From: t.measureBefore(to), To: to, Percent: endEases, Stays: true}
}
