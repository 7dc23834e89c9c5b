package score

import "onward/theory"

// Accidentals follows which alterations are in force along one staff: the key
// signature's, then within the measure whatever stood before at the same staff
// position (common practice: an accidental holds for its own octave, to the
// barline). NewMeasure comes first.
type Accidentals struct {
	key    theory.Key
	stated map[int]int // staff position to alteration, in this measure
	held   map[int]int // what a tie over the barline holds in this measure
	before map[int]int // what stood in the measure before, stated or held
}

// NewMeasure begins a measure in the key.
func (a *Accidentals) NewMeasure(key theory.Key) {
	a.before = a.stated
	for step, alter := range a.held {
		if _, later := a.stated[step]; !later {
			a.before[step] = alter
		}
	}
	a.key, a.held, a.stated = key, map[int]int{}, map[int]int{}
}

// Needs reports whether p must show its accidental: it differs from what is in
// force at its staff position.
func (a *Accidentals) Needs(p theory.Pitch) bool {
	if alter, ok := a.stated[p.Step()]; ok {
		return alter != p.Alter
	}
	return a.key.Alter(p.Letter) != p.Alter
}

// Sound takes p into account as written: its alteration is in force from here.
func (a *Accidentals) Sound(p theory.Pitch) {
	a.stated[p.Step()] = p.Alter
}

// Print reports how the accidental of p is shown by the copyist's rule and takes p
// into account. Courtesy is for a pitch that the signature gives, but that was
// altered at the same staff position in the measure before, or in this measure in
// another octave.
func (a *Accidentals) Print(p theory.Pitch) Accidental {
	how := Hidden
	switch {
	case a.Needs(p):
		how = Shown
	case a.doubtful(p):
		how = Courtesy
	}
	a.Sound(p)
	return how
}

// doubtful reports whether a player may be misled as to p, which needs no accidental.
func (a *Accidentals) doubtful(p theory.Pitch) bool {
	if _, ok := a.stated[p.Step()]; ok {
		return false
	}
	for _, earlier := range []map[int]int{a.before, a.held} {
		if alter, ok := earlier[p.Step()]; ok && alter != p.Alter {
			return true
		}
	}
	for step, alter := range a.stated {
		if (step-p.Step())%7 == 0 && alter != p.Alter {
			return true
		}
	}
	return false
}

// Held takes into account a note tied over the barline: it shows no accidental and
// puts none in force in its new measure, but leaves a doubt.
func (a *Accidentals) Held(p theory.Pitch) {
	if a.Needs(p) {
		a.held[p.Step()] = p.Alter
	}
}

// SetAccidentals sets Note.Accidental throughout the part by the copyist's rule:
// shown where the pitch differs from what is in force, a courtesy where the player
// may be in doubt (see Accidentals.Print), none on the continuation of a tie.
func SetAccidentals(p *Part) {
	var inForce Accidentals
	var key theory.Key
	for i := range p.Measures {
		m := &p.Measures[i]
		if m.Key != nil {
			key = *m.Key
		}
		inForce.NewMeasure(key)
		for j := range m.Notes {
			n := &m.Notes[j]
			for _, g := range n.Grace {
				inForce.Print(g)
			}
			n.Accidental = Hidden
			switch {
			case n.Rest:
			case n.TieStop:
				inForce.Held(n.Pitch)
			default:
				n.Accidental = inForce.Print(n.Pitch)
			}
		}
	}
}
