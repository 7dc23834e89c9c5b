package musicxml

import (
	"fmt"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A partReader takes the measures of one part as they stand in the file, then builds
// the one line that is kept of it.
type partReader struct {
	clock
	name     string
	measures []rawMeasure
	warnings []Warning
	notes    int // so far

	clefs  []PlacedClef // of the line
	sounds *theory.Interval
	m      *rawMeasure // the measure under way
}

func newPartReader(head partHead) *partReader {
	return &partReader{name: head.name, clock: clock{divisions: 1}}
}

// A rawMeasure is one measure with all its voices.
type rawMeasure struct {
	score.Measure                 // its head and barlines; notes are set later
	label         string          // the number as it stands in the file
	notes         []rawNote       // of all voices, in the file's order
	marks         []rawMark       // dynamics, hairpins, words and so on
	length        rhythm.Duration // how far the voices go
	signs         []rawSign
}

// A rawNote is one note element.
type rawNote struct {
	at           rhythm.Offset
	length       rhythm.Duration
	value        rhythm.Value // the zero Value where the file gives none that fits
	voice, staff string
	chord, grace bool
	rest, whole  bool // whole: a rest marked as filling the measure
	pitch        theory.Pitch
	element      *element
}

// A rawMark is a direction at a place.
type rawMark struct {
	at     rhythm.Offset
	staff  string
	take   func(m *score.Measure, at rhythm.Offset) // puts it into the measure
	heads  bool                                     // stands only at the start of a measure
	closes bool                                     // may stand at the end of a measure
	jumps  bool                                     // words that say where to go on: they stay in their measure
	name   string                                   // what it is called in a warning
}

// A rawSign is a key, meter or clef at a place.
type rawSign struct {
	at    rhythm.Offset
	staff string
	take  func(m *score.Measure)
	name  string
}

// warn notes a warning, once for each text with a count.
func (p *partReader) warn(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if len(p.warnings) >= maxWarnings {
		text = "other things were left out or read otherwise"
	}
	for i := range p.warnings {
		if p.warnings[i].Text == text {
			p.warnings[i].Times++
			return
		}
	}
	w := Warning{Part: p.name, Times: 1, Text: text}
	if p.m != nil {
		w.Measure = p.m.label
	}
	p.warnings = append(p.warnings, w)
}

// measure takes one measure element.
func (p *partReader) measure(e *element) error {
	before := 0
	if i := len(p.measures) - 1; i >= 0 {
		before = p.measures[i].Number
	}
	p.measures = append(p.measures, rawMeasure{label: e.attr("number")})
	p.m = &p.measures[len(p.measures)-1]
	p.m.Number, p.m.Implicit = numberOf(e, before)
	p.start()
	for _, k := range e.kids {
		if err := p.inMeasure(k); err != nil {
			return placed(p.m.label, k.atLine(err))
		}
	}
	p.m.length = p.end
	return nil
}

func (p *partReader) inMeasure(e *element) error {
	switch e.name {
	case "note":
		return p.note(e)
	case "backup":
		before, err := p.move(e.word("duration"), -1)
		if before {
			p.warn("a step back beyond the start of its measure was cut")
		}
		return err
	case "forward":
		_, err := p.move(e.word("duration"), 1)
		return err
	case "attributes":
		return p.attributes(e)
	case "direction":
		p.direction(e)
	case "sound":
		p.sound(e, p.at)
	case "barline":
		p.barline(e)
	case "print":
		if (e.attr("new-system") == "yes" || e.attr("new-page") == "yes") && len(p.measures) > 1 {
			p.m.NewSystem = true
		}
	}
	return nil
}
