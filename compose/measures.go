package compose

import (
	"errors"
	"fmt"

	"onward/compose/score"
	"onward/rhythm"
)

// Measures is what a player has read before, measure by measure.
type Measures interface {
	// Shared reports the largest number of the measures given that stand in one earlier
	// read; one that is given twice counts twice. See MeasuresOf.
	Shared(measures []uint64) (int, error)
}

// mostShared is the largest share of its measures that a read may have in common with one
// earlier read, in percent.
const mostShared = 30

// mayShare reports how many of so many measures may stand in one earlier read.
func mayShare(measures int) int { return measures * mostShared / 100 }

// MeasuresOf lists the hashes of a part's measures as written, endings and upbeats
// included, for the journal to remember. Two measures are the same that have the same
// meter and in which the same notes begin: at the same times, sounding as long, ties
// joined and over the barline too, at the same concert pitch however spelled. Rests are
// what is left between them; grace notes, articulation and dynamics do not count. A measure
// in which no note begins has nothing to read and is passed over. One that stands twice is
// listed twice. The journal keeps the hashes: a change makes its measures worthless.
func MeasuresOf(p *score.Part) []uint64 {
	var out []uint64
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
		out = append(out, h)
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

// count looks the page's measures up among those of earlier reads.
func (c *Certificate) count(p *score.Part, earlier Measures) error {
	measures := MeasuresOf(p)
	c.Measures = len(measures)
	if earlier == nil {
		return nil
	}
	var err error
	c.Shared, err = earlier.Shared(measures)
	return err
}

// crowded reports whether an earlier read has too many of the read's measures.
func (c *Certificate) crowded() bool { return c.Shared > mayShare(c.Measures) }

// How often at most a melody is drawn anew because an earlier read has too many of its
// measures, and after how many of these draws another rhythm is taken.
const (
	sharingTries = 24
	sharingDraws = 3
)

// sharingLess reports which of two reads that share too much shares less, the first where
// they are even, and has it say so. a may be nil.
func sharingLess(a, b *Read) *Read {
	if a != nil && a.Certificate.Shared*b.Certificate.Measures <= b.Certificate.Shared*a.Certificate.Measures {
		return a
	}
	c := b.Certificate
	b.Loosened = append(b.Loosened, fmt.Sprintf("%d of its %d measures stand in one earlier read, where %d are let", c.Shared, c.Measures, mayShare(c.Measures)))
	return b
}

// giveUp is what compose reports when no more is drawn: the read that shares least, if
// there is one and nothing worse is the matter than that no other was found.
func (p *piece) giveUp(least *Read, err error) (*Read, int, error) {
	var refused *RequestError
	var returned *returnedError
	if least != nil && (errors.As(err, &refused) || errors.As(err, &returned)) {
		return least, p.draws, nil
	}
	return nil, p.draws, err
}
