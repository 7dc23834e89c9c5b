package compose_test

import (
	"testing"

	"onward/compose"
	"onward/styles"
	"onward/theory"
)

// readsOf makes strains of a style and rung on an instrument.
func readsOf(t *testing.T, w *compose.World, style, id string, rung, count int) []*compose.Read {
	t.Helper()
	var all []compose.Request
	for seed := range count {
		all = append(all, compose.Request{Style: sheet(t, style), Rung: rung, Instrument: instrument(t, id), Form: "strain", Seed: uint64(seed)})
	}
	return composed(t, w, all)
}

// costOf reports what an interval costs on the instrument in the mean, in its own units.
func costOf(all []*compose.Read) float64 {
	sum, n := 0, 0
	for _, r := range all {
		in := r.Request.Instrument
		var last *theory.Pitch
		part := &r.Score.Parts[0]
		for i := range part.Measures {
			for j := range part.Measures[i].Notes {
				note := &part.Measures[i].Notes[j]
				if note.Rest || note.TieStop {
					continue
				}
				if last != nil {
					sum, n = sum+in.Cost(*last, note.Pitch), n+1
				}
				last = &note.Pitch
			}
		}
	}
	return float64(sum) / float64(max(n, 1))
}

// Lower rungs fall under the fingers and the slide: what an interval costs the player rises
// with the rung.
func TestLowerRungsFallUnderTheFingers(t *testing.T) {
	w := world(t)
	for _, id := range []string{"trombone", "cornet", "tuba-bb"} {
		for _, style := range styles.Names() {
			low, high := costOf(readsOf(t, w, style, id, 3, 12)), costOf(readsOf(t, w, style, id, 10, 12))
			t.Logf("%s %s: an interval costs %.2f at rung 3, %.2f at rung 10", style, id, low, high)
			if low >= 0.95*high {
				t.Errorf("%s %s: an interval costs %.2f at rung 3, want less than the %.2f of rung 10", style, id, low, high)
			}
		}
	}
}

// High notes are approached by step at the lower rungs: fewer of those in the top fifth of a
// read's range are leapt to from below than in real tunes (47 in 100 in dances, 62 in marches, 66
// in songs, of those that the composer learned from).
func TestHighNotesComeByStep(t *testing.T) {
	w := world(t)
	leapt, all := 0, 0
	for _, style := range styles.Names() {
		for rung := 2; rung <= 4; rung++ {
			for _, r := range readsOf(t, w, style, "trumpet", rung, 12) {
				notes := hear(r)
				low, high := notes[0].pitch.MIDI(), notes[0].pitch.MIDI()
				for _, n := range notes {
					low, high = min(low, n.pitch.MIDI()), max(high, n.pitch.MIDI())
				}
				for i := 1; i < len(notes); i++ {
					d := notes[i].pitch.MIDI() - notes[i-1].pitch.MIDI()
					if notes[i].pitch.MIDI() <= high-(high-low)/5 || d <= 0 {
						continue
					}
					all++
					if d > 2 {
						leapt++
					}
				}
			}
		}
	}
	t.Logf("%d of %d ways up to high notes are leaps", leapt, all)
	if all < 100 || 100*leapt > 55*all {
		t.Errorf("%d of %d ways up to high notes are leaps, want 55 in 100 at most of 100 or more", leapt, all)
	}
}
