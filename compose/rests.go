package compose

import (
	"onward/compose/score"
	"onward/rhythm"
)

// writeRests writes rests in a row as one stretch of silence, however the cells parted
// it: as few as show the beat, a silent measure as a measure's rest. Rests inside
// tuplets stay.
func (p *piece) writeRests(m *score.Measure) {
	var out []score.Note
	for i := 0; i < len(m.Notes); {
		j, silence := i, rhythm.Duration(0)
		for j < len(m.Notes) && m.Notes[j].Rest && m.Notes[j].Value.Tuplet == (rhythm.Ratio{}) {
			silence += m.Notes[j].Value.Duration()
			j++
		}
		if j == i {
			out, i = append(out, m.Notes[i]), i+1
			continue
		}
		at := m.Notes[i].At
		if silence == m.Length {
			out = append(out, score.Note{Rest: true, WholeMeasure: true, Value: rhythm.Value{Base: 1}})
		} else {
			for _, v := range rhythm.SpellRest(at, silence, p.meter) {
				out = append(out, score.Note{At: at, Value: v, Rest: true})
				at = at.Add(v.Duration())
			}
		}
		i = j
	}
	m.Notes = out
}
