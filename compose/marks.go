package compose

import "onward/theory"

// marks writes dynamics, articulation, grace notes and breaths.
func (p *piece) marks(r *Read) {
	part := &r.Score.Parts[0]
	key := p.key
	for i := range part.Measures {
		m := &part.Measures[i]
		if m.Key != nil {
			key = *m.Key
		}
		for j := range m.Notes {
			n := &m.Notes[j]
			for g := range n.Grace {
				n.Grace[g] = key.At(n.Pitch.Step() - len(n.Grace) + g)
			}
		}
	}
	_ = theory.Unison
}
