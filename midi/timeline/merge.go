package timeline

import (
	"cmp"
	"slices"

	"onward/rhythm"
)

// Merge joins the events of all voices into one list in the order of play: by time,
// at one time note-offs first, then programs and controllers in the order given,
// then note-ons by track, channel and key.
//
// Notes of one key on one channel never overlap in it, whatever their tracks: a note
// that is struck again ends one tick before; of two struck at once the louder
// velocity and the later end hold; one struck a tick before another gives way to it.
// A note-off closes the oldest open note of its own list, track, channel and key. A
// note without end, or an end without note, stays as it is for Check to find.
func Merge(voices ...[]Event) []Event {
	var notes []span
	var events []Event
	for _, voice := range voices {
		paired, rest := pair(voice)
		notes = append(notes, paired...)
		events = append(events, rest...)
	}
	for _, n := range settle(notes) {
		off := n.on
		off.At, off.Kind, off.B = n.end, NoteOff, 0
		events = append(events, n.on, off)
	}
	slices.SortStableFunc(events, inOrder)
	return events
}

// A span is a note-on and where it ends.
type span struct {
	on  Event
	end rhythm.Offset
}

// A line is a key on a channel of a track: what can sound only once.
type line struct{ track, channel, key uint8 }

// pair finds the end of every note of a list; rest are the other events and the
// notes and ends that are alone.
func pair(events []Event) (notes []span, rest []Event) {
	sorted := slices.Clone(events)
	slices.SortStableFunc(sorted, func(a, b Event) int { return cmp.Compare(a.At, b.At) })
	open := map[line][]int{}
	paired := make([]bool, len(sorted))
	for i, e := range sorted {
		k := line{e.Track, e.Channel, e.A}
		switch {
		case e.Kind == NoteOn:
			open[k] = append(open[k], i)
		case e.Kind == NoteOff && len(open[k]) > 0:
			on := open[k][0]
			open[k] = open[k][1:]
			notes = append(notes, span{sorted[on], e.At})
			paired[on], paired[i] = true, true
		}
	}
	for i, e := range sorted {
		if !paired[i] {
			rest = append(rest, e)
		}
	}
	return notes, rest
}

// settle ends each note before its key is struck again on its channel.
func settle(notes []span) []span {
	slices.SortStableFunc(notes, func(a, b span) int {
		return cmp.Or(cmp.Compare(a.on.Channel, b.on.Channel), cmp.Compare(a.on.A, b.on.A), cmp.Compare(a.on.At, b.on.At))
	})
	var settled []span
	for _, n := range notes {
		n.end = max(n.end, n.on.At+1)
		if len(settled) == 0 || settled[len(settled)-1].on.Channel != n.on.Channel || settled[len(settled)-1].on.A != n.on.A {
			settled = append(settled, n)
			continue
		}
		before := &settled[len(settled)-1]
		switch {
		case n.on.At <= before.on.At+1:
			before.on.At = n.on.At
			before.on.B, before.end = max(before.on.B, n.on.B), max(before.end, n.end)
		default:
			before.end = min(before.end, n.on.At-1)
			settled = append(settled, n)
		}
	}
	return settled
}

// rank is the order of the kinds at one time.
func (k Kind) rank() int {
	switch k {
	case NoteOff:
		return 0
	case NoteOn:
		return 2
	}
	return 1
}

// inOrder compares events by the order of play.
func inOrder(a, b Event) int {
	if c := cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Kind.rank(), b.Kind.rank())); c != 0 {
		return c
	}
	if a.Kind.rank() == 1 {
		return 0 // programs and controllers keep the order they were given in
	}
	return cmp.Or(cmp.Compare(a.Track, b.Track), cmp.Compare(a.Channel, b.Channel), cmp.Compare(a.A, b.A))
}
