package idiom

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Read reads what Write wrote. name stands in errors, with the line.
func Read(r io.Reader, name string) (*Idiom, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &parser{d: new(Idiom)}
	for n := 1; len(text) > 0; n++ {
		line, rest, _ := bytes.Cut(text, []byte("\n"))
		text = rest
		if err := p.line(line); err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, n, err)
		}
	}
	p.endRhythms()
	if len(p.d.Meters) == 0 {
		return nil, fmt.Errorf("%s: there is no meter in it", name)
	}
	return p.d, nil
}

// A parser reads an idiom line by line. The line at hand is in fields.
type parser struct {
	d       *Idiom
	m       *Meter // the meter at hand
	rhythms []Rhythm
	fields
}

// fields takes the words of a line one by one, and keeps the first error.
type fields struct {
	line []byte
	at   int
	err  error
}

// word takes the next word; empty at the end.
func (f *fields) word() []byte {
	for f.at < len(f.line) && f.line[f.at] == ' ' {
		f.at++
	}
	from := f.at
	for f.at < len(f.line) && f.line[f.at] != ' ' {
		f.at++
	}
	return f.line[from:f.at]
}

// rest is what is left of the line.
func (f *fields) rest() []byte { return bytes.TrimLeft(f.line[f.at:], " ") }

// more reports whether a word is left.
func (f *fields) more() bool { return len(f.rest()) > 0 }

// fail keeps an error unless there is one.
func (f *fields) fail(format string, args ...any) {
	if f.err == nil {
		f.err = fmt.Errorf(format, args...)
	}
}

// number takes a whole number from low to high.
func (f *fields) number(what string, low, high int) int {
	return f.parse(f.word(), what, low, high)
}

func (f *fields) parse(w []byte, what string, low, high int) int {
	n, from := 0, 0
	if len(w) > 0 && w[0] == '-' {
		from = 1
	}
	ok := len(w) > from && len(w) < 10
	for _, c := range w[from:] {
		ok = ok && c >= '0' && c <= '9'
		n = 10*n + int(c-'0')
	}
	if from == 1 {
		n = -n
	}
	if !ok || n < low || n > high {
		f.fail("%s %q is not a number from %d to %d", what, w, low, high)
		return max(low, 0)
	}
	return n
}

// pairOf takes two numbers with a sign between them.
func (f *fields) pairOf(w []byte, sign byte, what string, low, high int) (a, b int) {
	left, right, found := bytes.Cut(w, []byte{sign})
	if !found {
		f.fail("%s %q lacks its %q", what, w, sign)
		return
	}
	return f.parse(left, what, low, high), f.parse(right, what, low, high)
}

// mode takes "major" or "minor".
func (f *fields) mode() (minor bool) {
	switch w := f.word(); string(w) {
	case "minor":
		return true
	case "major":
	default:
		f.fail("mode %q is not major or minor", w)
	}
	return false
}

func (f *fields) chord(w []byte) Numeral {
	at := slices.Index(chordNames[:], string(w))
	if at < 0 {
		f.fail("chord %q is not one of %s", w, strings.Join(chordNames[:], " "))
		return I
	}
	return Numeral(at)
}

// line reads one line.
func (p *parser) line(line []byte) error {
	if len(line) > 0 && line[0] == '#' {
		p.d.Head = append(p.d.Head, strings.TrimPrefix(string(line[1:]), " "))
		return nil
	}
	p.fields = fields{line: line}
	word := p.word()
	if len(word) == 0 {
		return nil
	}
	if p.m == nil && string(word) != "meter" {
		return errors.New("the first line after the head is not a meter's")
	}
	if string(word) != "rhythm" {
		p.endRhythms()
	}
	switch string(word) {
	case "meter":
		p.meter()
	case "rhythm":
		p.rhythms = append(p.rhythms, p.spots(0))
	case "form":
		p.form()
	case "count":
		p.count()
	case "first":
		chord := p.chord(p.word())
		for d := range 7 {
			p.m.first[chord][d] = p.number("count", 0, 1e6)
		}
	case "alter":
		p.alter()
	case "weight":
		p.weight()
	default:
		return fmt.Errorf("%q is not meter, rhythm, form, count, first, alter or weight", word)
	}
	if p.err == nil && p.more() {
		p.fail("%q is more than belongs on the line", p.rest())
	}
	return p.err
}

// meter begins a meter.
func (p *parser) meter() {
	name := string(p.word())
	measured := p.number("ticks of a measure", 1, 16*Quarter)
	beat := p.number("ticks of a beat", 1, measured)
	classes := p.number("classes", 1, 100)
	p.m = NewMeter(name, measured, beat, classes, nil)
	p.d.Meters = append(p.d.Meters, p.m)
}

// endRhythms gives the meter the rhythms that were read.
func (p *parser) endRhythms() {
	if p.rhythms != nil {
		p.m.setRhythms(append(p.m.Rhythms, p.rhythms...))
		p.rhythms = nil
	}
}

// spots reads places, from the tick low on, up to the end of the line or "/".
func (p *parser) spots(low int) []Place {
	all := make([]Place, 0, 8)
	for p.more() {
		w := p.word()
		if string(w) == "/" {
			break
		}
		var at Place
		at.Onset, at.Ticks = p.pairOf(w, '+', "note", -16*Quarter, 64*Quarter)
		if at.Onset < low || at.Onset >= p.m.Measured || at.Ticks < 1 {
			p.fail("note %q does not begin in its measure, or does not last", w)
		}
		all = append(all, at)
	}
	return all
}

func (p *parser) form() {
	var f Form
	f.Minor = p.mode()
	f.Class = p.number("class", 0, p.m.Classes-1)
	f.First = p.number("degree", None, 6)
	f.Low = p.number("step", -30, 30)
	f.High = p.number("step", f.Low, 60)
	f.Weight = p.number("weight", 1, 1000)
	if w := p.word(); string(w) != "/" {
		p.fail("%q stands where a / should", w)
	}
	if pickup := p.spots(-p.m.Measured); len(pickup) > 0 {
		f.Pickup = pickup
	}
	for p.more() {
		f.Measures = append(f.Measures, p.measure(p.word(), len(f.Measures)))
	}
	if len(f.Measures) == 0 {
		p.fail("the form has no measure")
	}
	p.m.Forms = append(p.m.Forms, f)
}

// measure reads one measure of a form, the at-th.
func (p *parser) measure(w []byte, at int) Measure {
	m := Measure{Relation: Relation{Kind: New}, End: None}
	relation, chord, _ := bytes.Cut(w, []byte("."))
	chord, end, found := bytes.Cut(chord, []byte("="))
	if found {
		m.End = p.parse(end, "degree", 0, 6)
	}
	m.Chord = p.chord(chord)
	switch {
	case string(relation) == "_":
		m.Silent = true
		return m
	case len(relation) == 0 || strings.IndexByte(relationLetters, relation[0]) < 0:
		p.fail("measure %q does not begin with one of %s_", w, relationLetters)
		return m
	}
	m.Kind = Kind(strings.IndexByte(relationLetters, relation[0]))
	source, value, found := bytes.Cut(relation[1:], []byte(":"))
	if found != (m.Kind == Sequence || m.Kind == Head) || m.Kind == New && len(source) > 0 {
		p.fail("measure %q: only m and h have a number after a colon, and n has none at all", w)
		return m
	}
	if m.Kind != New {
		m.Source = p.parse(source, "measure", 0, at-1)
	}
	if found {
		m.Value = p.parse(value, "value", -60, 60)
	}
	return m
}

func (p *parser) count() {
	c := &p.m.levels[p.number("level", 0, rhythmLevels-1)]
	context := int32(p.number("context", 0, 1e8))
	if n := len(c.contexts); n > 0 && c.contexts[n-1] >= context {
		p.fail("context %d stands after %d", context, c.contexts[n-1])
	}
	row := make([]pair, 0, bytes.Count(p.rest(), []byte(":")))
	for p.more() {
		rhythm, times := p.pairOf(p.word(), ':', "count", 0, 1e6)
		if rhythm >= len(p.m.Rhythms) || len(row) > 0 && row[len(row)-1].rhythm >= int32(rhythm) {
			p.fail("rhythm %d is not there, or out of order", rhythm)
		}
		row = append(row, pair{int32(rhythm), int32(times)})
	}
	c.contexts, c.rows = append(c.contexts, context), append(c.rows, row)
}

func (p *parser) alter() {
	mode := number(p.mode())
	degree := p.number("degree", 0, 6)
	arrive := p.number("steps", -alterSpan, alterSpan) + alterSpan
	leave := p.number("steps", -alterSpan, alterSpan) + alterSpan
	for k := range 3 {
		p.m.alter[mode][degree][arrive][leave][k] = p.number("count", 0, 1e6)
	}
}

func (p *parser) weight() {
	name := p.word()
	at := slices.IndexFunc(templates[:], func(t template) bool { return t.name == string(name) })
	if at < 0 {
		p.fail("template %q is not known", name)
		return
	}
	row := p.m.rows.base[at] + p.number("row", 0, p.m.rows.end(at)-p.m.rows.base[at]-1)
	weights := p.m.line[row*Intervals : (row+1)*Intervals]
	for i := range weights {
		weights[i] = int16(p.number("weight", -32768, 32767))
	}
}
