package compose

import (
	"slices"

	"onward/compose/score"
	"onward/rhythm"
)

// Measures is what a player has read before, measure by measure.
type Measures interface {
	// Shared reports those of the measures given that stand in the earlier read that has
	// most of them, in the latest where several have as many. They come in the order given,
	// one that is given twice comes twice. See MeasuresOf.
	Shared(measures []uint64) ([]uint64, error)
}

// MeasuresOf lists the hashes of a part's measures as written, endings and upbeats
// included, for the journal to remember. Two measures are the same that have the same
// meter and in which the same notes begin: at the same times, sounding as long, ties
// joined and over the barline too, at the same concert pitch however spelled. Rests are
// what is left between them; grace notes, articulation and dynamics do not count. A measure
// in which no note begins has nothing to read and is passed over. One that stands twice is
// listed twice. The journal keeps the hashes: a change makes its measures worthless.
func MeasuresOf(p *score.Part) []uint64 {
	return slices.DeleteFunc(measures(p), func(h uint64) bool { return h == 0 })
}

// measures is MeasuresOf with 0 for each measure that is passed over.
func measures(p *score.Part) []uint64 {
	out := make([]uint64, len(p.Measures))
	var meter rhythm.Meter
	for i, notes := range begun(p) {
		if m := p.Measures[i].Meter; m != nil {
			meter = *m
		}
		if len(notes) == 0 {
			continue
		}
		h := mix(mix(hashStart, uint64(meter.Beats)), uint64(meter.Unit))
		for _, n := range notes {
			h = mix(mix(mix(h, uint64(n.at)), uint64(n.lasts)), uint64(n.midi))
		}
		out[i] = max(h, 1)
	}
	return out
}

// A begunNote is a note where it begins: ticks from the start of its measure, an upbeat
// counted as the end of a whole one; ticks that it lasts; its concert pitch.
type begunNote struct {
	at, lasts int64
	midi      int
}

// begun lists the notes that begin in each measure.
func begun(p *score.Part) [][]begunNote {
	out := make([][]begunNote, len(p.Measures))
	in, held := -1, false // the measure of the latest note, whether it is tied on
	for i := range p.Measures {
		m := &p.Measures[i]
		missing := int64(0)
		if m.Implicit {
			_, meter, _ := p.At(i)
			missing = int64(meter.Measure() - m.Length)
		}
		for _, n := range m.Notes {
			switch {
			case n.Rest:
			case held && n.TieStop:
				out[in][len(out[in])-1].lasts += int64(n.Duration(m))
			default:
				in = i
				out[i] = append(out[i], begunNote{int64(n.At) + missing, int64(n.Duration(m)), n.Pitch.MIDI() + p.Sounds.Semitones})
			}
			held = !n.Rest && n.TieStart
		}
	}
	return out
}
