package musicxml

import (
	"fmt"
	"strconv"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A partReader takes the measures of one part as they stand in the file, then builds
// the one line that is kept of it.
type partReader struct {
	id, name  string
	divisions int64
	measures  []rawMeasure
	warnings  []Warning

	sounds *theory.Interval
	at     rhythm.Offset
	m      *rawMeasure // the measure under way
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
	if len(p.measures) == maxMeasures {
		return fmt.Errorf("more than %d measures", maxMeasures)
	}
	p.measures = append(p.measures, rawMeasure{label: e.attr("number")})
	p.m, p.at = &p.measures[len(p.measures)-1], 0
	p.number(e)
	for _, k := range e.kids {
		if err := p.inMeasure(k); err != nil {
			return fmt.Errorf("measure %s: %w", p.m.label, err)
		}
	}
	return nil
}

// number settles the measure's number; one that is no whole number is not numbered.
func (p *partReader) number(e *element) {
	n, err := strconv.Atoi(p.m.label)
	p.m.Implicit = e.attr("implicit") == "yes"
	if err != nil {
		p.m.Implicit = true
		if i := len(p.measures) - 2; i >= 0 {
			n = p.measures[i].Number
		}
	}
	p.m.Number = n
}

func (p *partReader) inMeasure(e *element) error {
	switch e.name {
	case "note":
		return p.note(e)
	case "backup":
		d, err := p.length(e.word("duration"))
		p.at = max(0, p.at-rhythm.Offset(d))
		return err
	case "forward":
		d, err := p.length(e.word("duration"))
		return p.advance(d, err)
	case "attributes":
		return p.attributes(e)
	case "direction":
		p.direction(e)
	case "barline":
		p.barline(e)
	case "print":
		if (e.attr("new-system") == "yes" || e.attr("new-page") == "yes") && len(p.measures) > 1 {
			p.m.NewSystem = true
		}
	}
	return nil
}

// longestMeasure is how long a measure may be: 64 whole notes.
const longestMeasure = 64 * rhythm.Whole

// advance moves on by d.
func (p *partReader) advance(d rhythm.Duration, err error) error {
	if err != nil {
		return err
	}
	p.at = p.at.Add(d)
	if rhythm.Duration(p.at) > longestMeasure {
		return fmt.Errorf("the measure is longer than 64 whole notes")
	}
	p.m.length = max(p.m.length, rhythm.Duration(p.at))
	return nil
}

// length reads a length in divisions; it must be a whole number of ticks.
func (p *partReader) length(text string) (rhythm.Duration, error) {
	num, den, err := decimal(text)
	if err != nil || num < 0 {
		return 0, fmt.Errorf("duration %q is not a number of divisions", text)
	}
	den *= p.divisions
	if num*int64(rhythm.Quarter)%den != 0 {
		return 0, fmt.Errorf("a duration of %s divisions, %d to the quarter, is finer than can be counted (%d to the quarter)", text, p.divisions, rhythm.TicksPerQuarter)
	}
	return rhythm.Duration(num * int64(rhythm.Quarter) / den), nil
}

// decimal reads "12" or "-2.5" as a fraction, at most three places.
func decimal(text string) (num, den int64, err error) {
	whole, places, _ := strings.Cut(strings.TrimSpace(text), ".")
	places = strings.TrimRight(places, "0")
	if len(whole) > 9 || len(places) > 3 {
		return 0, 1, fmt.Errorf("number %q is too long", text)
	}
	den = 1
	for range places {
		den *= 10
	}
	num, err = strconv.ParseInt(whole+places, 10, 64)
	return num, den, err
}
