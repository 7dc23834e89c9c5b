package compose

import (
	"sync"

	"onward/compose/idiom"
	"onward/rhythm"
)

// A learned is what was learned of the style in a meter, or in the one nearest to it.
type learned struct {
	*idiom.Meter
	unit  rhythm.Duration // of a tick
	exact bool            // the meter's own rhythms; else only forms and lines are drawn from
}

// standIns are the meters whose tunes stand for a meter that has none, the better first, and
// how long their quarters are then.
var standIns = map[string][]struct {
	name    string
	quarter rhythm.Duration
	exact   bool
}{
	"cut": {{"2/4", rhythm.Half, true}, {"4/4", rhythm.Quarter, true}},
	"4/4": {{"2/4", rhythm.Half, true}},
	"2/4": {{"4/4", rhythm.Eighth, true}},
	"3/8": {{"3/4", rhythm.Eighth, true}},
	"3/4": {{"4/4", rhythm.Quarter, false}, {"2/4", rhythm.Quarter, false}},
	"9/8": {{"6/8", rhythm.Quarter, false}, {"3/4", rhythm.Quarter, false}},
	"6/8": {{"3/8", rhythm.Quarter, false}, {"2/4", rhythm.Quarter, false}},
	"5/4": {{"4/4", rhythm.Quarter, false}, {"3/4", rhythm.Quarter, false}, {"2/4", rhythm.Quarter, false}},
}

// fewestForms is from how many forms on a meter's own tunes are enough.
const fewestForms = 12

// enoughForms is how many forms of a section's own length are enough.
const enoughForms = 80

// learn finds what was learned for the piece's meter.
func (p *piece) learn() error {
	tunes, err := p.req.Style.Learned()
	if err != nil {
		return err
	}
	name := p.meter.String()
	if m := tunes.Meter(name); m != nil && len(m.Forms) >= fewestForms {
		p.learned = learned{m, rhythm.Quarter / idiom.Quarter, true}
		return nil
	}
	for _, s := range standIns[name] {
		if m := tunes.Meter(s.name); m != nil && len(m.Forms) >= fewestForms {
			p.learned = learned{m, s.quarter / idiom.Quarter, s.exact}
			return nil
		}
	}
	return refuse("nothing was learned of %s in the style %s; take another meter", name, p.req.Style.Name)
}

// Compound reports whether the beats are dotted quarters.
func (l learned) Compound() bool { return l.Beat%3 == 0 && l.Beat > idiom.Quarter }

// offset reports a tick as an offset in a measure.
func (l learned) offset(tick int) rhythm.Offset { return rhythm.Offset(rhythm.Duration(tick) * l.unit) }

// tick reports an offset in a measure as the tick that weighs alike where the meter's
// measures are longer than those learned.
func (l learned) tick(at rhythm.Offset) int {
	t := int(rhythm.Duration(at) / l.unit)
	for t >= l.Measured {
		t -= l.Beat
	}
	return t
}

// A formsKey is what the forms depend on that a section may be made by.
type formsKey struct {
	meter    *idiom.Meter
	measures int
	ends     string
}

// A formBook keeps the forms of each length, which all reads share.
type formBook struct{ m *sync.Map }

func (b formBook) load(k formsKey) ([]*idiom.Form, bool) {
	if b.m == nil {
		return nil, false
	}
	v, ok := b.m.Load(k)
	if !ok {
		return nil, false
	}
	return v.([]*idiom.Form), true
}

func (b formBook) store(k formsKey, forms []*idiom.Form) {
	if b.m != nil {
		b.m.Store(k, forms)
	}
}
