package band

import "onward/theory"

// members says for each of the twelve pitch classes, C first, which member of a chord
// it is: 0 the root, -1 none.
type members [12]int8

func membersOf(c theory.Chord) members {
	var m members
	for i := range m {
		m[i] = -1
	}
	for i, tone := range c.Tones() {
		m[tone.Chroma()] = int8(i)
	}
	return m
}

// of reports which member sounds as the key.
func (m *members) of(key int) int { return int(m[key%12]) }

// diminished reports a fifth that is no rest for a bass.
func diminished(c theory.Chord) bool {
	switch c.Quality {
	case theory.DiminishedTriad, theory.HalfDiminished, theory.DiminishedSeventh, theory.AugmentedTriad:
		return true
	}
	return false
}

// inScale reports whether the key is of the scale in force: the section's, bent by the
// chord's own tones.
func inScale(sp span, key int) bool {
	tones := sp.chord.Tones()
	for degree := 1; degree <= 7; degree++ {
		c := sp.key.Harmonic(degree)
		for _, tone := range tones {
			if tone.Letter == c.Letter {
				c = tone
			}
		}
		if c.Chroma() == key%12 {
			return true
		}
	}
	return false
}
