package score

import (
	"onward/rhythm"
	"onward/theory"
)

// attributes are what a measure is read in.
type attributes struct {
	key   theory.Key
	meter rhythm.Meter
	clef  theory.Clef
}

// unsigned holds before the first sign: C major, 4/4, treble clef.
var unsigned = attributes{meter: rhythm.Meter{Beats: 4, Unit: 4}}

// after reports the attributes of the measure that follows a and bears m's signs.
func (a attributes) after(m *Measure) attributes {
	if m.Key != nil {
		a.key = *m.Key
	}
	if m.Meter != nil {
		a.meter = *m.Meter
	}
	if m.Clef != nil {
		a.clef = *m.Clef
	}
	return a
}

// At reports the key, the meter and the clef in force in measure i, counted from 0.
// Before any sign they are C major, 4/4 and treble.
func (p *Part) At(i int) (theory.Key, rhythm.Meter, theory.Clef) {
	a := unsigned
	for j := range p.Measures[:i+1] {
		a = a.after(&p.Measures[j])
	}
	return a.key, a.meter, a.clef
}
