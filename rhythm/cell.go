package rhythm

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// An Event is one note or rest of a cell, as written.
type Event struct {
	Value Value
	Rest  bool
	Tied  bool // tied to the event that follows, in the cell or after it
	Grace int  // grace notes ahead of it, 0 to 3
}

// A Cell is a named rhythm: when the notes of a figure start, and how they are
// written. Its text is note values in order: "4. 8", "16 16 4", "r8 8"; "8t" is a
// triplet eighth, "r" a rest, a trailing "~" a tie, a leading "g" (or "gg") grace
// notes ahead of the beat.
type Cell struct {
	Name   string // "dotted quarter-eighth"
	Text   string // "4. 8"
	Events []Event
	// Meters lists where the cell is at home, as Meter.String gives it; empty
	// means any meter whose beat it fits.
	Meters []string
	// Span is the sum of the events' durations.
	Span Duration
	// Level is the order in which cells are usually introduced, 1 to 12.
	Level int
}

// Onsets reports how many notes the cell starts: rests, grace notes and the ends of
// ties are not onsets.
func (c Cell) Onsets() int {
	n, tied := 0, false
	for _, e := range c.Events {
		if !e.Rest && !tied {
			n++
		}
		tied = e.Tied && !e.Rest
	}
	return n
}

// Fits reports whether the cell may stand in the meter: it is listed, or nothing is
// and the cell fills one or more beats of a measure.
func (c Cell) Fits(m Meter) bool {
	if len(c.Meters) == 0 {
		return c.Span > 0 && c.Span <= m.Measure() && c.Span%m.Beat() == 0
	}
	if m.Beats == 2 && m.Unit == 2 {
		m = CutTime // 2/2 is the same, written otherwise
	}
	return slices.Contains(c.Meters, m.String())
}

// ParseCell reads a cell's text.
func ParseCell(text string) ([]Event, error) {
	var events []Event
	for _, word := range strings.Fields(text) {
		e, err := parseEvent(word)
		if err != nil {
			return nil, fmt.Errorf("cell %q: %w", text, err)
		}
		events = append(events, e)
	}
	if len(events) == 0 {
		return nil, fmt.Errorf("cell %q: no notes; write values such as \"4. 8\"", text)
	}
	return events, nil
}

func parseEvent(word string) (Event, error) {
	var e Event
	s := word
	for strings.HasPrefix(s, "g") {
		e.Grace, s = e.Grace+1, s[1:]
	}
	if strings.HasPrefix(s, "r") {
		e.Rest, s = true, s[1:]
	}
	if strings.HasSuffix(s, "~") {
		e.Tied, s = true, s[:len(s)-1]
	}
	v, err := ParseValue(s)
	if err != nil {
		return Event{}, fmt.Errorf("%q: %w", word, err)
	}
	if e.Grace > 3 || (e.Rest && (e.Grace > 0 || e.Tied)) {
		return Event{}, fmt.Errorf("%q: a rest has no tie and no grace notes; a note has at most three grace notes", word)
	}
	e.Value = v
	return e, nil
}

// FormatCell writes events as ParseCell reads them.
func FormatCell(events []Event) string {
	words := make([]string, len(events))
	for i, e := range events {
		words[i] = e.String()
	}
	return strings.Join(words, " ")
}

// String reports the event in cell text: "8.", "r4", "gg4~".
func (e Event) String() string {
	s := strings.Repeat("g", e.Grace)
	if e.Rest {
		s += "r"
	}
	s += e.Value.String()
	if e.Tied {
		s += "~"
	}
	return s
}

// ParseValue reads a note value: 1, 2, 4, 8, 16, 32, 64 or 128, up to two dots, then
// for a triplet "t", for any other tuplet its ratio: "4", "8.", "4..", "16t",
// "16(5:4)". A value shorter than a tick's multiple is refused.
func ParseValue(s string) (Value, error) {
	digits := len(s) - len(strings.TrimLeft(s, "0123456789"))
	dots := len(s[digits:]) - len(strings.TrimLeft(s[digits:], "."))
	v := Value{Dots: dots}
	switch s[:digits] {
	case "1", "2", "4", "8", "16", "32", "64", "128":
		v.Base, _ = strconv.Atoi(s[:digits])
	default:
		return Value{}, fmt.Errorf("note value %q is not 1, 2, 4, 8, 16, 32, 64 or 128 with dots or t", s)
	}
	if dots > 2 {
		return Value{}, fmt.Errorf("note value %q has more than two dots", s)
	}
	var err error
	if v.Tuplet, err = parseRatio(s[digits+dots:]); err != nil {
		return Value{}, fmt.Errorf("note value %q: %w", s, err)
	}
	if !v.exact() {
		return Value{}, fmt.Errorf("note value %q is too short to be counted in ticks", s)
	}
	return v, nil
}

// parseRatio reads "", "t" or "(5:4)".
func parseRatio(s string) (Ratio, error) {
	switch s {
	case "":
		return Ratio{}, nil
	case "t":
		return Triplet, nil
	}
	if len(s) == 5 && s[0] == '(' && s[2] == ':' && s[4] == ')' {
		r := Ratio{int(s[1] - '0'), int(s[3] - '0')}
		if 2 <= r.Actual && r.Actual <= 9 && 1 <= r.Normal && r.Normal <= 9 && r.Actual != r.Normal {
			return r, nil
		}
	}
	return Ratio{}, fmt.Errorf("%q is no tuplet; write t for a triplet, or a ratio such as (5:4)", s)
}
