package compose

import (
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// weigh reports what each measure of the page gives to take in, in hundredths of a figure.
func (p *piece) weigh(part *score.Part) []int {
	sums := make([]int, len(part.Measures))
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
			t.At(n.Pitch, &p.req.Instrument)
			if j > 0 {
				t.Move(notes[j-1].first.Pitch, n.Pitch, &p.req.Instrument)
			}
			j++
		}
		sums[notes[i].measure] += t.Hundredths()
		i = j
	}
	return sums
}

// placed reports what lies in the cell in the key, all but its shape.
func (p *piece) placed(key theory.Key, c *rhythm.Cell) ladder.Taken {
	return ladder.Taken{Cell: c, Notes: c.Onsets(), Minor: key.Mode == theory.Minor, Signature: max(key.Fifths, -key.Fifths)}
}

func (p *piece) taken(sl *slot) ladder.Taken {
	t := p.placed(sl.key, sl.cell)
	t.Shape = sl.pick.shape
	if p.drilled != nil {
		_, t.Known = p.drilled.figures[figure.Figure{Shape: t.Shape.Name, Cell: t.Cell.Name}]
		return t
	}
	t.Known = !sl.trap && !p.bounds.FreshShapes[t.Shape.Name] && !p.bounds.FreshCells[t.Cell.Name]
	return t
}

// coverage reports the share of the page's notes that lie in figures of the
// vocabulary, as recognition finds them: it does not take the composer's word.
func (p *piece) coverage(part *score.Part) float64 {
	v := p.vocabulary
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

// mean reports what a whole measure of the page weighs, given each of them: the first may
// be an upbeat.
func (p *piece) mean(part *score.Part, hundredths []int) float64 {
	sum, time := 0, rhythm.Duration(0)
	for i, h := range hundredths {
		sum, time = sum+h, time+part.Measures[i].Length
	}
	return float64(sum) * float64(p.meter.Measure()) / float64(max(time, 1))
}

// loadOf reports the load of what weighs so many hundredths in so much time, in figures
// a second.
func (p *piece) loadOf(hundredths float64, time rhythm.Duration) float64 {
	return hundredths / 100 / p.seconds(int64(time))
}

// Mean reports the read's load: the mean of its measures by their length, in figures a
// second.
func (r *Read) Mean() float64 { return thousandths(ladder.Mean(r.Load, r.lengths())) }

// Difficulty reports the whole read's difficulty as one figure; see ladder.Difficulty.
func (r *Read) Difficulty() float64 { return thousandths(ladder.Difficulty(r.Load, r.lengths())) }

// lengths lists how long the page's measures are.
func (r *Read) lengths() []rhythm.Duration {
	var out []rhythm.Duration
	for i := range r.Score.Parts[0].Measures {
		out = append(out, r.Score.Parts[0].Measures[i].Length)
	}
	return out
}
