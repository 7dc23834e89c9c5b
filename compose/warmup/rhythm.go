package warmup

import (
	"slices"

	"onward/rhythm"
)

// A rhythmic is one cell from which all measures of an exercise are made.
type rhythmic struct {
	words  string // "eighths"
	cell   string // as rhythm.ParseCell reads it
	meters []string
	level  int // the rung from which it is used
}

// rhythms are those of the patterns, in the order in which rhythms are usually introduced
// (the band curriculum map and the sight-reading criteria that the ladder is made by).
var rhythms = []rhythmic{
	{"quarters", "4", []string{"4/4", "3/4"}, 1},
	{"half and two quarters", "2 4 4", []string{"4/4"}, 1},
	{"two quarters and half", "4 4 2", []string{"4/4"}, 1},
	{"half and quarter", "2 4", []string{"3/4"}, 1},
	{"quarter and half", "4 2", []string{"3/4"}, 1},
	{"eighths", "8 8", []string{"4/4", "3/4", "2/4"}, 2},
	{"quarter and two eighths", "4 8 8", []string{"4/4", "2/4"}, 2},
	{"two eighths and quarter", "8 8 4", []string{"4/4", "2/4"}, 2},
	{"dotted quarter and eighth", "4. 8", []string{"4/4", "2/4"}, 3},
	{"eighth, quarter, eighth", "8 4 8", []string{"4/4", "2/4"}, 3},
	{"sixteenths", "16 16 16 16", []string{"2/4", "3/4", "4/4"}, 4},
	{"eighths in three", "8 8 8", []string{"6/8"}, 5},
	{"quarter and eighth in three", "4 8", []string{"6/8"}, 5},
	{"eighth and two sixteenths", "8 16 16", []string{"2/4", "4/4"}, 5},
	{"two sixteenths and eighth", "16 16 8", []string{"2/4", "4/4"}, 5},
	{"dotted eighth and sixteenth", "8. 16", []string{"2/4", "4/4"}, 5},
	{"triplets", "8t 8t 8t", []string{"2/4", "3/4", "4/4"}, 7},
	{"dotted eighth, sixteenth, eighth", "8. 16 8", []string{"6/8"}, 7},
	{"eighth and four sixteenths", "8 16 16 16 16", []string{"6/8"}, 7},
	{"sixteenths in three", "16 16 16 16 16 16", []string{"6/8"}, 7},
	{"sixteenth and dotted eighth", "16 8.", []string{"2/4", "4/4"}, 9},
	{"sextuplets", "16t 16t 16t 16t 16t 16t", []string{"2/4", "4/4"}, 11},
}

// behind is how many rungs a rhythm may lie behind the player's: quarters warm nobody up
// who reads sixteenths.
const behind = 7

// An articulation is how the notes are tongued and slurred.
type articulation struct {
	words  string
	kind   kind
	groups []int // for grouped: how many notes under a slur, 1 for a tongued one
	level  int
}

// A kind is how an articulation is written.
type kind int

const (
	plain kind = iota
	tenuto
	staccato
	whole // one slur from breath to breath
	grouped
)

// articulations are the plans, from the plainest on. Slurs come with rung 2, as on the ladder.
var articulations = []articulation{
	{"tongued", plain, nil, 1},
	{"legato tongue", tenuto, nil, 1},
	{"staccato", staccato, nil, 1},
	{"slurred", whole, nil, 2},
	{"slur two", grouped, []int{2}, 3},
	{"slur two, tongue two", grouped, []int{2, 1, 1}, 4},
	{"tongue two, slur two", grouped, []int{1, 1, 2}, 4},
	{"slur three", grouped, []int{3}, 4},
	{"slur two, tongue one", grouped, []int{2, 1}, 4},
	{"slur four", grouped, []int{4}, 4},
	{"slur three, tongue one", grouped, []int{3, 1}, 5},
	{"tongue one, slur three", grouped, []int{1, 3}, 5},
	{"tongue one, slur two", grouped, []int{1, 2}, 5},
	{"tongue one, slur two, tongue one", grouped, []int{1, 2, 1}, 6},
}

// suits says whether the plan comes out even on a cell, whose notes a measure of slots is
// made of: its groups are the cell's or parts of it, or go over whole cells of even notes.
// Long notes are not staccato.
func (a *articulation) suits(events []rhythm.Event, slots int) bool {
	if a.kind == staccato {
		return !slices.ContainsFunc(events, func(e rhythm.Event) bool { return e.Value.Duration() > rhythm.Quarter })
	}
	if a.kind != grouped {
		return true
	}
	size := 0
	for _, n := range a.groups {
		size += n
	}
	notes, even := 0, true
	for _, e := range events {
		even = even && !e.Rest && e.Value == events[0].Value
		notes++
	}
	if notes%size == 0 {
		return true
	}
	return even && size%notes == 0 && slots%size == 0
}

// paces are how many notes a second the quickest stretch has at most, by rung from 1. They
// lie under what the ladder's reads come to: a warm-up is for tone (our own choice).
var paces = []float64{1.3, 1.6, 2.2, 3, 3.5, 4, 4.4, 4.8, 5.2, 5.6, 6, 6.4}

// calm is the quickest tempo of what has nothing shorter than quarters.
const calm = 92

// metronome is the numbers of a metronome's scale in the range of warm-ups.
var metronome = []int{52, 54, 56, 58, 60, 63, 66, 69, 72, 76, 80, 84, 88, 92, 96, 100, 104, 108, 112}

// quickest reports where in the metronome's scale the quickest tempo stands at which the
// cell keeps to the pace of the rung; false where all are too quick.
func quickest(events []rhythm.Event, m rhythm.Meter, rung int) (int, bool) {
	shortest := m.Measure()
	for _, e := range events {
		shortest = min(shortest, e.Value.Duration())
	}
	// A lone short note, as after a dotted one, is no stretch: the mean counts with it.
	var span rhythm.Duration
	for _, e := range events {
		span += e.Value.Duration()
	}
	density := float64(len(events)) / float64(span)
	density = (density + 1/float64(shortest)) / 2 * float64(m.Beat()) // notes a beat
	bound := int(60 * paces[rung-1] / density)
	if shortest >= rhythm.Quarter {
		bound = min(bound, calm)
	}
	at := -1
	for i, n := range metronome {
		if n <= bound {
			at = i
		}
	}
	return at, at >= 0
}
