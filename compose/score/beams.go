package score

import (
	"math/bits"

	"onward/rhythm"
)

// SetBeams sets Note.Beams throughout the part: notes of an eighth and shorter that
// stand in one beat are beamed together, rests break the beam.
func SetBeams(p *Part) {
	meter := rhythm.Meter{Beats: 4, Unit: 4}
	for i := range p.Measures {
		m := &p.Measures[i]
		if m.Meter != nil {
			meter = *m.Meter
		}
		skipped := rhythm.Duration(0)
		if m.Implicit {
			skipped = meter.Measure() - m.Length
		}
		for start := 0; start < len(m.Notes); {
			end := start + 1
			beat := m.Notes[start].At.Add(skipped) / rhythm.Offset(meter.Beat())
			for end < len(m.Notes) && beamed(m.Notes[start]) && beamed(m.Notes[end]) &&
				m.Notes[end].At.Add(skipped)/rhythm.Offset(meter.Beat()) == beat {
				end++
			}
			beamGroup(m.Notes[start:end])
			start = end
		}
	}
}

func beamed(n Note) bool { return !n.Rest && beamCount(n.Value) > 0 }

// beamCount reports how many flags or beams the value has: one for an eighth.
func beamCount(v rhythm.Value) int { return max(0, bits.Len(uint(v.Base))-3) }

// beamGroup beams the notes of one group together.
func beamGroup(notes []Note) {
	for j := range notes {
		notes[j].Beams = nil
		if len(notes) < 2 {
			continue
		}
		for level := 1; level <= beamCount(notes[j].Value); level++ {
			before := j > 0 && beamCount(notes[j-1].Value) >= level
			after := j+1 < len(notes) && beamCount(notes[j+1].Value) >= level
			notes[j].Beams = append(notes[j].Beams, share(before, after, j > 0))
		}
	}
}

// share reports a note's share in one beam, by which neighbours have that beam too.
func share(before, after, hasBefore bool) Beam {
	switch {
	case before && after:
		return BeamContinue
	case before:
		return BeamEnd
	case after:
		return BeamBegin
	case hasBefore:
		return BeamBackwardHook
	}
	return BeamForwardHook
}
