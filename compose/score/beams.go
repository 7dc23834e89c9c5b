package score

import "onward/rhythm"

// SetBeams sets Note.Beams throughout the part as rhythm.Beams has them. The notes of
// each measure must stand in order.
func SetBeams(p *Part) {
	l := lineOf(p, 0)
	for i := range p.Measures {
		notes := p.Measures[i].Notes
		written := make([]rhythm.TimedValue, len(notes))
		for j, n := range notes {
			written[j] = rhythm.TimedValue{At: n.At.Add(l.missing(i)), Value: n.Value, Rest: n.Rest}
		}
		for j, shares := range rhythm.Beams(l.read[i].meter, written) {
			notes[j].Beams = nil
			for _, s := range shares {
				notes[j].Beams = append(notes[j].Beams, Beam(s))
			}
		}
	}
}
