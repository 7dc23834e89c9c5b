package warmup

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"onward/theory"
)

// A pattern is one line before it has a rhythm.
type pattern struct {
	key      theory.Key
	words    string
	segments []segment
}

// A segment is a stretch that begins on a downbeat.
type segment struct {
	pitches []theory.Pitch
	// open says that the stretch runs on into the next downbeat; else its last pitch is
	// its end, held, with a breath after it.
	open bool
	// fill reports n notes, the first of them the last pitch, which lead back to it where
	// it does not come on a beat to end on; nil where there are none.
	fill func(n int) []theory.Pitch
}

// A drawn pattern is a family's lines of one day, as far as they are drawn without rhythm.
type drawn struct {
	title string
	lines []pattern
}

// A maker draws a family's lines in a key. slots is how many notes the rhythm has in a
// measure; ok is false where the range or the rhythm has no room for the family.
type maker func(g *ground, slots int, rng *rand.Rand) (d drawn, ok bool)

// makers are all but the two that need more: the twelve keys a way round, the figure itself.
var makers = map[Family]maker{
	Octave:           octave,
	Extended:         extended,
	Growing:          growing,
	ArpeggioOctave:   arpeggio,
	ArpeggioExtended: extendedArpeggio,
	ArpeggioGrowing:  growingArpeggio,
	Thirds:           thirds,
	Intervals:        intervals,
	Neighbours:       neighbours,
	Tonguing:         tonguing,
}

// scaleLine is a line of scale steps that ends on its last.
func (g *ground) scaleLine(words string, steps []step) pattern {
	home := steps[len(steps)-1].degree
	return pattern{key: g.key, words: words, segments: []segment{{pitches: g.sing(steps), fill: g.scaleFill(home, topOf(steps))}}}
}

// topOf reports the highest degree of a stream.
func topOf(steps []step) int {
	top := steps[0].degree
	for _, s := range steps {
		top = max(top, s.degree)
	}
	return top
}

// scaleFill leads round a degree by step: to the note below for two notes, else above, or
// below where that would go over the line's top.
func (g *ground) scaleFill(home, top int) func(int) []theory.Pitch {
	return func(n int) []theory.Pitch {
		away := turned(zigzag(n), home, top)
		if n == 2 && home-1 >= g.low {
			away = []int{0, -1}
		}
		steps := make([]step, n, n+1)
		for i, a := range away {
			steps[i].degree = home + a
			if steps[i].degree < g.low {
				return nil
			}
		}
		return g.sing(append(steps, step{degree: home}))[:n]
	}
}

// turned turns a way round where it would lead over the top.
func turned(away []int, home, top int) []int {
	if home+slices.Max(away) <= top {
		return away
	}
	for i := range away {
		away[i] = -away[i]
	}
	return away
}

// upAndBack lists the degrees from 1 to the top and back.
func upAndBack(top int) []int { return append(run(1, top), run(top-1, 1)...) }

// octave is the scale of one octave up and down, then from its top down and up; where the
// range holds it only around the tonic, up, down below and home.
func octave(g *ground, _ int, _ *rand.Rand) (drawn, bool) {
	top := min(g.high, 8)
	if top < 8 && g.around() {
		top, low := min(top, 5), max(g.low, -2)
		degrees := append(append(run(1, top), run(top-1, low)...), run(low+1, 1)...)
		other := append(append(run(1, low), run(low+1, top)...), run(top-1, 1)...)
		return drawn{fmt.Sprintf("Scale to the %s above, the %s below, and home", ordinal(top), ordinal(2-low)),
			[]pattern{g.scaleLine("up first", line(degrees...)), g.scaleLine("down first", line(other...))}}, true
	}
	d := drawn{title: "Scale to the " + ordinal(top) + " and back"}
	d.lines = append(d.lines, g.scaleLine("up and down", line(upAndBack(top)...)))
	if top == 8 {
		d.lines = append(d.lines, g.scaleLine("down and up", line(append(run(8, 1), run(2, 8)...)...)))
	}
	return d, true
}

// inARow is how many lines a growing pattern has.
const inARow = 3

// farthest is the highest degree of an extended scale.
const farthest = 15

// extended is scales each one note longer than the one before, so that each way down starts
// on another beat.
func extended(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	high := min(g.high, farthest)
	first := high - inARow + 1
	if first > 8 {
		first = 8 + rng.IntN(first-7)
	}
	var d drawn
	var tops []string
	for top := max(first, 3); top <= min(high, first+inARow-1); top++ {
		d.lines = append(d.lines, g.scaleLine("to the "+ordinal(top), line(upAndBack(top)...)))
		tops = append(tops, ordinal(top))
	}
	d.title = "Scale to the " + list(tops) + ", and back"
	return d, len(d.lines) > 1
}

// ends reports where a pattern whose both ends grow begins, and how far its first line
// goes: from home up to top and down to one below. Where nothing lies below 1 it begins on
// the next higher home.
func ends(low, high int, homes []int, reach int, rng *rand.Rand) (home, top, lines int) {
	for _, home := range homes {
		room := min(inARow, home-low, high-home)
		if room >= 2 {
			top := home + 1 + rng.IntN(min(reach, high-home-room+1))
			return home, top, room
		}
	}
	return 0, 0, 0
}

// growing is scales from a note upward, down below it and back, each a step further both
// ways.
func growing(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	home, top, lines := ends(g.low, g.high, []int{1, 3, 5}, 5, rng)
	d := drawn{title: "Scale growing at both ends"}
	if home > 1 {
		d.title += ", from the " + ordinal(home)
	}
	for i := range lines {
		degrees := append(run(home, top+i), run(top+i-1, home-1-i)...)
		degrees = append(degrees, run(home-i, home)...)
		d.lines = append(d.lines, g.scaleLine(fmt.Sprintf("up a %s, down a %s", interval(top+i-home+1), interval(i+2)), line(degrees...)))
	}
	return d, lines > 1
}

// upward is the scale of intervals that go up to a top: in minor it is raised where they
// reach the tonic.
func upward(top int) way {
	if top >= 8 {
		return rising
	}
	return falling
}

// thirds is the scale in thirds up and back, to one top and to another.
func thirds(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	tops := []int{5}
	for _, top := range []int{6, 8, 9} {
		if top <= g.high {
			tops = append(tops, top)
		}
	}
	if g.high < 5 {
		return drawn{}, false
	}
	if len(tops) > 2 {
		first := rng.IntN(len(tops) - 1)
		tops = tops[first : first+2]
	}
	var d drawn
	var names []string
	for _, top := range tops {
		var steps []step
		up := upward(top)
		for low := 1; low+2 <= top; low++ {
			steps = append(steps, step{low, up}, step{low + 2, up})
		}
		for high := top - 1; high >= 3; high-- {
			steps = append(steps, step{high, falling}, step{high - 2, falling})
		}
		d.lines = append(d.lines, g.scaleLine("to the "+ordinal(top), steps))
		names = append(names, ordinal(top))
	}
	d.title = "Scale in thirds, to the " + list(names) + " and back"
	return d, true
}

// intervals is a measure of intervals and a measure of scale in turn, for two intervals
// that follow each other.
func intervals(g *ground, slots int, rng *rand.Rand) (drawn, bool) {
	if slots != 4 && slots != 6 && slots != 8 {
		return drawn{}, false
	}
	pairs := slots / 2
	widest := min(8, g.high-pairs+1)
	if widest < 3 {
		return drawn{}, false
	}
	first := 3 + rng.IntN(max(1, widest-3))
	var d drawn
	var names []string
	for size := first; size <= min(first+1, widest); size++ {
		steps, ok := g.intervalLine(size, slots)
		if !ok {
			continue
		}
		d.lines = append(d.lines, g.scaleLine("in "+interval(size)+"s", steps))
		names = append(names, interval(size)+"s")
	}
	d.title = "A measure of " + list(names) + ", a measure of scale, in turn"
	return d, len(d.lines) > 0
}

// intervalLine goes up in intervals from 1, 2 and so on for a measure, by step for a
// measure, down in the same intervals, and by step again to end on the tonic.
func (g *ground) intervalLine(size, slots int) ([]step, bool) {
	pairs := slots / 2
	var steps []step
	top := pairs + size - 1
	for low := 1; low <= pairs; low++ {
		steps = append(steps, step{low, upward(top)}, step{low + size - 1, upward(top)})
	}
	from := pairs
	if (slots-top+from)%2 != 0 {
		from++
	}
	away := (slots - (top - from)) / 2
	turn := from - away
	if turn < g.low { // go above first where there is no room below
		turn = top + away
	}
	if away < 0 || turn > g.high || turn < g.low {
		return nil, false
	}
	walk := append(run(from, turn), run(turn, top)[1:]...)
	steps = append(steps, line(walk[:slots]...)...)
	for low := pairs; low >= 1; low-- {
		steps = append(steps, step{low + size - 1, falling}, step{low, falling})
	}
	if 1+slots/2 > g.high {
		return nil, false
	}
	return append(steps, line(upAndBack(1+slots/2)...)...), true
}

// tonguing repeats each note of the scale, up to a degree and back.
func tonguing(g *ground, slots int, rng *rand.Rand) (drawn, bool) {
	times, words := 0, ""
	switch {
	case slots%4 == 0 && (slots > 4 || rng.IntN(2) == 0):
		times, words = 4, "four times"
	case slots%3 == 0:
		times, words = 3, "three times"
	case slots%2 == 0:
		times, words = 2, "twice"
	default:
		return drawn{}, false
	}
	top := 3 + rng.IntN(min(g.high, 8)-2)
	var steps []step
	for _, degree := range upAndBack(top) {
		for range times {
			steps = append(steps, step{degree: degree})
		}
	}
	steps = steps[:len(steps)-times+1]
	way := line(upAndBack(top)...)
	for i := range steps { // raised as the line goes, not as the repeats do
		steps[i].way = falling
		if raised(way, i/times) {
			steps[i].way = rising
		}
	}
	l := g.scaleLine("", steps)
	return drawn{"Each note " + words + ", to the " + ordinal(top) + " and back", []pattern{l}}, true
}

// ordinals name degrees from 1.
var ordinals = strings.Fields("tonic second third fourth fifth sixth seventh octave ninth tenth eleventh twelfth thirteenth fourteenth fifteenth")

func ordinal(degree int) string { return ordinals[degree-1] }

// interval names an interval by its number from 2.
func interval(number int) string { return ordinal(number) }

// list joins words: "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
