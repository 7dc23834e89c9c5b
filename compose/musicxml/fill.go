package musicxml

import (
	"errors"
	"fmt"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

var (
	errNoMeasures = errors.New("it has no measures")
	errUnpitched  = errors.New("no note of it has a pitch; a part for percussion cannot be read")
)

func placed(label string, err error) error { return fmt.Errorf("measure %.40s: %w", label, err) }

// unpitched refuses a part for percussion: notes, but none with a pitch.
func (p *partReader) unpitched() error {
	notes := false
	for _, m := range p.measures {
		for _, n := range m.notes {
			if !n.rest {
				return nil
			}
			notes = notes || n.element.has("unpitched")
		}
	}
	if notes {
		return errUnpitched
	}
	return nil
}

var wholeRest = score.Note{Rest: true, WholeMeasure: true, Value: rhythm.Value{Base: 1}}

// fill writes the events into the measure, rests where there are gaps.
func (b *lineBuilder) fill(m *score.Measure, events []event) error {
	if b.silent(m, events) {
		rest := wholeRest
		if len(events) > 0 {
			rest.Fermata = b.note(m, &events[0]).Fermata
		}
		m.Notes = []score.Note{rest}
		return nil
	}
	at := rhythm.Offset(0)
	for i := range events {
		e := &events[i]
		if err := b.rest(m, at, e.at.Since(at)); err != nil {
			return err
		}
		if err := b.event(m, e); err != nil {
			return err
		}
		at = e.at.Add(e.length)
	}
	return b.rest(m, at, rhythm.Offset(m.Length).Since(at))
}

// silent reports whether the measure is one rest: nothing at all, or a rest that is
// marked so, or one that no single value fits.
func (b *lineBuilder) silent(m *score.Measure, events []event) bool {
	if len(events) == 0 {
		return true
	}
	e := &events[0]
	return len(events) == 1 && e.rest && e.length == m.Length && (e.whole || e.value.Base == 0)
}

// rest writes rests over a gap.
func (b *lineBuilder) rest(m *score.Measure, at rhythm.Offset, d rhythm.Duration) error {
	if d == 0 {
		return nil
	}
	values, err := b.spell(m, at, d, true)
	for _, v := range values {
		m.Notes = append(m.Notes, score.Note{At: at, Value: v, Rest: true})
		at = at.Add(v.Duration())
	}
	return err
}

// spell reports the written values of a span that the file gives no value for.
func (b *lineBuilder) spell(m *score.Measure, at rhythm.Offset, d rhythm.Duration, rest bool) ([]rhythm.Value, error) {
	spell := rhythm.Spell
	if rest {
		spell = rhythm.SpellRest
	}
	from := at
	if m.Implicit {
		from = from.Add(max(0, b.meter.Measure()-m.Length))
	}
	if values := spell(from, d, b.meter); values != nil {
		return values, nil
	}
	var values []rhythm.Value
	for left := d; left > 0; {
		v, ok := longestValue(left)
		if !ok {
			return nil, errors.New("it has a length that is no note value's")
		}
		values, left = append(values, v), left-v.Duration()
	}
	return values, nil
}

// longestValue reports the longest plain, dotted or triplet value that lasts at most d.
func longestValue(d rhythm.Duration) (rhythm.Value, bool) {
	for base := 1; base <= 128; base *= 2 {
		for _, v := range []rhythm.Value{{Base: base, Dots: 1}, {Base: base}} {
			if v.Duration() <= d {
				return v, d%rhythm.Value{Base: 128}.Duration() == 0
			}
		}
	}
	return rhythm.Value{}, false
}

// event writes one note of the line; where no single value fits, tied notes.
func (b *lineBuilder) event(m *score.Measure, e *event) error {
	values := []rhythm.Value{e.value}
	if e.value.Base == 0 {
		var err error
		if values, err = b.spell(m, e.at, e.length, e.rest); err != nil {
			return err
		}
	}
	first := b.note(m, e)
	for i, v := range values {
		n := score.Note{At: first.At, Rest: first.Rest, Pitch: first.Pitch}
		if i == 0 {
			n = first
		}
		n.Value = v
		tied := !n.Rest && len(values) > 1
		n.TieStop = n.TieStop || tied && i > 0
		n.TieStart = tied && i < len(values)-1 || first.TieStart
		last := i == len(values)-1
		n.SlurStop = first.SlurStop && last
		n.Breath, n.Fermata = first.Breath && last, first.Fermata && last
		m.Notes = append(m.Notes, n)
		first.At = first.At.Add(v.Duration())
	}
	return nil
}

// note reports the event as one note, its value apart.
func (b *lineBuilder) note(m *score.Measure, e *event) score.Note {
	n := score.Note{At: e.at, Value: e.value, Rest: e.rest}
	top := b.top(e)
	if !n.Rest {
		n.Pitch = top.pitch
		n.TieStart, n.TieStop = tied(top.element, "start"), tied(top.element, "stop")
		if top.element.has("accidental") {
			n.Accidental = score.Shown
		}
		b.graces(e, &n)
	}
	if e.value.Base != 0 {
		n.Beams = beamsOf(e.element)
	}
	marked := map[string]bool{}
	for _, member := range append([]rawNote{e.rawNote}, e.members...) {
		for _, notations := range member.element.all("notations") {
			b.notations(m, &n, notations, marked)
		}
	}
	b.slurs(&n, marked)
	if n.Rest {
		n.Staccato, n.Tenuto, n.Accent, n.Marcato, n.Breath = false, false, false, false, false
	}
	return n
}

// top reports the highest note of a chord.
func (b *lineBuilder) top(e *event) rawNote {
	top := e.rawNote
	for _, n := range e.members {
		if !n.rest && n.pitch.MIDI() > top.pitch.MIDI() {
			top = n
		}
	}
	if len(e.members) > 0 {
		b.warn("chords: the top note was taken")
	}
	return top
}

func tied(e *element, kind string) bool {
	for _, t := range e.all("tie") {
		if t.attr("type") == kind {
			return true
		}
	}
	for _, notations := range e.all("notations") {
		for _, t := range notations.all("tied") {
			if t.attr("type") == kind {
				return true
			}
		}
	}
	return false
}

// graces puts the grace notes ahead of the note, the top of each chord.
func (b *lineBuilder) graces(e *event, n *score.Note) {
	b.graceSlurs = map[string]bool{}
	var pitches []theory.Pitch
	for _, g := range e.graces {
		switch {
		case g.rest:
			continue
		case g.chord && len(pitches) > 0:
			if last := &pitches[len(pitches)-1]; g.pitch.MIDI() > last.MIDI() {
				*last = g.pitch
			}
			continue
		}
		pitches = append(pitches, g.pitch)
		for _, notations := range g.element.all("notations") {
			for _, s := range notations.all("slur") {
				b.graceSlurs[s.attr("number")] = s.attr("type") == "start"
			}
		}
	}
	n.Grace = pitches
}

func beamsOf(e *element) []score.Beam {
	var beams []score.Beam
	for _, k := range e.all("beam") {
		for share, name := range beamNames {
			if name == strings.TrimSpace(k.text) {
				beams = append(beams, score.Beam(share))
			}
		}
	}
	return beams
}
