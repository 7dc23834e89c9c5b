package rhythm

import (
	"fmt"
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

// Fits reports whether the cell may stand in the meter.
func (c Cell) Fits(m Meter) bool {
	for _, name := range c.Meters {
		if name == m.String() {
			return true
		}
	}
	return false
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

// ParseValue reads "4", "8.", "4..", "16t".
func ParseValue(s string) (Value, error) {
	digits := strings.TrimRight(s, ".t")
	var v Value
	switch digits {
	case "1", "2", "4", "8", "16", "32", "64", "128":
		fmt.Sscan(digits, &v.Base)
	default:
		return Value{}, fmt.Errorf("note value %q is not 1, 2, 4, 8, 16, 32, 64 or 128 with dots or t", s)
	}
	rest := s[len(digits):]
	v.Dots = strings.Count(rest, ".")
	if strings.HasSuffix(rest, "t") {
		v.Tuplet = Triplet
	}
	if v.Dots > 2 || strings.Count(rest, "t") > 1 {
		return Value{}, fmt.Errorf("note value %q has more than two dots or one t", s)
	}
	return v, nil
}
