package score

import "onward/theory"

// Transpose writes the part for another instrument: every written pitch and key
// moves by the interval, and Sounds moves back by it, so that the part sounds as
// before. Where a key would need more than seven sharps or flats it is written
// enharmonically, its notes with it; a pitch that would need more than two is too.
// Accidentals are set anew; the clef stays. The part given is not changed.
func Transpose(p Part, by theory.Interval) Part {
	q := p
	q.Sounds = p.Sounds.Add(by.Neg())
	q.Measures = make([]Measure, len(p.Measures))
	var key theory.Key
	move := respelled(key, by)
	for i, m := range p.Measures {
		if m.Key != nil {
			key = *m.Key
			move = respelled(key, by)
			moved := key.Transpose(by)
			m.Key = &moved
		}
		q.Measures[i] = transposed(m, move)
	}
	SetAccidentals(&q)
	return q
}

// respelled reports the interval by which the notes in the key move: by itself, or
// its enharmonic where the moved key changes sides.
func respelled(key theory.Key, by theory.Interval) theory.Interval {
	for _, steps := range []int{0, 1, -1} {
		i := theory.Interval{Steps: by.Steps + steps, Semitones: by.Semitones}
		if key.Tonic().Transpose(i) == key.Transpose(by).Tonic() {
			return i
		}
	}
	return by
}

// transposed reports a deep copy of the measure with its pitches moved.
func transposed(m Measure, by theory.Interval) Measure {
	m.Dynamics = append([]Dynamic(nil), m.Dynamics...)
	m.Hairpins = append([]Hairpin(nil), m.Hairpins...)
	m.Notes = append([]Note(nil), m.Notes...)
	for j := range m.Notes {
		n := &m.Notes[j]
		n.Beams = append([]Beam(nil), n.Beams...)
		if !n.Rest {
			n.Pitch = simpler(n.Pitch.Transpose(by))
		}
		var graces []theory.Pitch
		for _, g := range n.Grace {
			graces = append(graces, simpler(g.Transpose(by)))
		}
		n.Grace = graces
	}
	return m
}

// simpler writes a pitch of three or more sharps or flats by the letter next to it.
func simpler(p theory.Pitch) theory.Pitch {
	for p.Alter > 2 {
		p = p.Transpose(theory.Interval{Steps: 1})
	}
	for p.Alter < -2 {
		p = p.Transpose(theory.Interval{Steps: -1})
	}
	return p
}
