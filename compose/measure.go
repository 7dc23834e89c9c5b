package compose

import (
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/theory"
)

// load measures each measure of the page: figures to take in a second.
func (p *piece) load(part *score.Part) []float64 {
	sums := make([]int, len(part.Measures))
	top := p.topFifth()
	notes := p.flat(part)
	for i := 0; i < len(notes); {
		j := i
		t := p.taken(notes[i].slot)
		for j < len(notes) && notes[j].slot == notes[i].slot && notes[j].measure == notes[i].measure {
			n := notes[j].first
			if n.Accidental == score.Shown {
				t.Accidentals++
			}
			t.Graces += len(n.Grace)
			if n.Pitch.MIDI() >= top {
				t.High++
			}
			if j > 0 {
				t.Cost += p.req.Instrument.Cost(notes[j-1].first.Pitch, n.Pitch)
			}
			j++
		}
		sums[notes[i].measure] += t.Hundredths()
		i = j
	}
	out := make([]float64, len(sums))
	for i, hundredths := range sums {
		out[i] = float64(hundredths) / 100 / p.seconds(int64(p.meter.Measure()))
	}
	return out
}

func (p *piece) taken(sl *slot) ladder.Taken {
	t := ladder.Taken{Shape: sl.pick.shape, Cell: sl.cell, Minor: sl.key.Mode == theory.Minor, Signature: max(sl.key.Fifths, -sl.key.Fifths)}
	if p.drilled != nil {
		f := Placed{}
		f.Shape, f.Cell = sl.pick.shape.Name, sl.cell.Name
		_, t.Known = p.drilled.figures[f.Figure]
		return t
	}
	t.Known = !sl.trap && !p.bounds.FreshShapes[sl.pick.shape.Name] && !p.bounds.FreshCells[sl.cell.Name]
	return t
}

// topFifth reports the MIDI number from which a note lies in the top fifth of the
// instrument's whole range.
func (p *piece) topFifth() int {
	all := p.req.Instrument.Ranges[theory.Advanced]
	low, high := all.Low.MIDI(), all.High.MIDI()
	return high - (high-low)/5
}

// coverage reports the share of the page's notes that lie in figures of the
// vocabulary, as recognition finds them: it does not take the composer's word.
func (p *piece) coverage(part *score.Part) float64 {
	v := p.req.Vocabulary
	if v == nil {
		return 0
	}
	found := p.world.Catalogue.RecognizeIn(part, v)
	return v.Coverage(found, onsets(part))
}

func onsets(part *score.Part) int {
	n := 0
	for i := range part.Measures {
		for _, note := range part.Measures[i].Notes {
			if !note.Rest && !note.TieStop {
				n++
			}
		}
	}
	return n
}
