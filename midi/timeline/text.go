package timeline

import (
	"fmt"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// String reports the event in a line of words and numbers, as in
// "12+1/2 t1 c1 on C4 80": place in quarters, track counted from 0, channel counted
// from 1, what it does.
func (e Event) String() string {
	head := fmt.Sprintf("%s t%d c%d ", quarters(e.At), e.Track, int(e.Channel)+1)
	switch e.Kind {
	case NoteOff:
		return head + "off " + e.keyName()
	case NoteOn:
		return head + fmt.Sprintf("on %s %d", e.keyName(), e.B)
	case Controller:
		return head + fmt.Sprintf("controller %d=%d", e.A, e.B)
	case Program:
		return head + fmt.Sprintf("program %d", e.A)
	}
	return head + fmt.Sprintf("kind %d %d %d", e.Kind, e.A, e.B)
}

// keyName names a key with the spelling most in use; percussion keeps its number.
func (e Event) keyName() string {
	if e.Channel == DrumsChannel {
		return fmt.Sprint(e.A)
	}
	classes := [12]theory.Class{
		{Letter: theory.C}, {Letter: theory.C, Alter: 1}, {Letter: theory.D}, {Letter: theory.E, Alter: -1},
		{Letter: theory.E}, {Letter: theory.F}, {Letter: theory.F, Alter: 1}, {Letter: theory.G},
		{Letter: theory.A, Alter: -1}, {Letter: theory.A}, {Letter: theory.B, Alter: -1}, {Letter: theory.B},
	}
	return classes[e.A%12].In(int(e.A)/12 - 1).String()
}

// quarters says an offset in quarters, as in "3", "12+1/2", "7+10079/10080".
func quarters(at rhythm.Offset) string {
	whole, rest := at/rhythm.Offset(rhythm.Quarter), at%rhythm.Offset(rhythm.Quarter)
	if rest == 0 {
		return fmt.Sprint(whole)
	}
	a, b := rest, rhythm.Offset(rhythm.Quarter)
	for b != 0 {
		a, b = b, a%b
	}
	if whole == 0 {
		return fmt.Sprintf("%d/%d", rest/a, rhythm.Offset(rhythm.Quarter)/a)
	}
	return fmt.Sprintf("%d+%d/%d", whole, rest/a, rhythm.Offset(rhythm.Quarter)/a)
}

// Text reports the whole take as text, a line to each fact, for tests and for people
// to read: maps, markers, tracks, beats, then events.
func (t *Timeline) Text() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	say("count-in %s end %s", quarters(rhythm.Offset(t.CountIn)), quarters(t.End))
	for _, c := range t.Tempos {
		say("%s tempo %d microseconds to the quarter", quarters(c.At), c.MicrosPerQuarter)
	}
	for _, c := range t.Meters {
		say("%s meter %s", quarters(c.At), c.Meter)
	}
	for _, c := range t.Keys {
		say("%s key %s", quarters(c.At), c.Key)
	}
	for _, c := range t.Markers {
		say("%s marker %q", quarters(c.At), c.Text)
	}
	for i, name := range t.Tracks {
		say("track %d %q", i, name)
	}
	for _, c := range t.Beats {
		say("%s beat %d of %d in measure %d (index %d) pass %d", quarters(c.At), c.Beat, c.Of, c.Number, c.Measure, c.Pass)
	}
	for _, e := range t.Events {
		say("%s", e)
	}
	return b.String()
}
