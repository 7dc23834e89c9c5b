package band

import (
	"sort"

	"onward/rhythm"
)

// A note is one note of a line that others mind.
type note struct {
	at, end rhythm.Offset
	key     int
}

// A voice is a line in order of time.
type voice []note

// at reports the key that sounds at a point, and whether one does.
func (v voice) at(at rhythm.Offset) (int, bool) {
	i := sort.Search(len(v), func(i int) bool { return v[i].at > at }) - 1
	if i < 0 || v[i].end <= at {
		return 0, false
	}
	return v[i].key, true
}

// between reports the notes that sound within a stretch.
func (v voice) between(at, end rhythm.Offset) voice {
	i := sort.Search(len(v), func(i int) bool { return v[i].end > at })
	j := i
	for j < len(v) && v[j].at < end {
		j++
	}
	return v[i:j]
}

// A choice is one way to play a stroke: a key and what it costs by itself; rest leaves
// the stroke out. A note of a run has a heading, 1 up, -1 down, and may be foreign to
// its chord.
type choice struct {
	key, cost int
	heading   int
	rest      bool
	foreign   bool
}

// cheapest reports the way through the choices of all strokes that costs least;
// move says what it costs to go from one choice of stroke i-1 to one of stroke i. The
// first of several cheapest ways is taken.
func cheapest(choices [][]choice, move func(i int, a, b choice) int) []choice {
	if len(choices) == 0 {
		return nil
	}
	cost := make([][]int, len(choices))
	from := make([][]int, len(choices))
	for i, list := range choices {
		cost[i], from[i] = make([]int, len(list)), make([]int, len(list))
		for j, c := range list {
			best := 0
			for k := range cost[max(0, i-1)] {
				if i == 0 {
					break
				}
				via := cost[i-1][k] + move(i, choices[i-1][k], c)
				if k == 0 || via < best {
					best, from[i][j] = via, k
				}
			}
			cost[i][j] = best + c.cost
		}
	}
	last := len(choices) - 1
	k := 0
	for j, c := range cost[last] {
		if c < cost[last][k] {
			k = j
		}
	}
	way := make([]choice, len(choices))
	for i := last; i >= 0; i-- {
		way[i] = choices[i][k]
		k = from[i][k]
	}
	return way
}

// What it costs, in the small coin of a line: a step is 0, a leap of an octave 3.
const (
	costParallel = 400 // fifths or octaves with another line
	costUnison   = 600 // the very note of the player
	costCross    = 80  // on the wrong side of the player
	costClose    = 6   // within a whole tone of the player
)

// parallel reports whether two lines go from one fifth or octave to another of the
// same kind, whatever octaves lie between and whichever way they move.
func parallel(a, b, other, next int) bool {
	if a == b || other == next {
		return false
	}
	before, after := abs(a-other)%12, abs(b-next)%12
	return before == after && (before == 0 || before == 7)
}

// parallels reports whether a line that goes from key a at one point to key b at a
// later one moves in fifths or octaves with v: from stroke to stroke, or with the note
// that v leaves as the line moves.
func (v voice) parallels(from, to rhythm.Offset, a, b int) bool {
	next, ok := v.at(to)
	if !ok {
		return false
	}
	if other, ok := v.at(from); ok && parallel(a, b, other, next) {
		return true
	}
	other, ok := v.at(to - 1)
	return ok && parallel(a, b, other, next)
}

func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}

// retries is how often a way is looked for anew.
const retries = 12

// way lays the cheapest way through the choices on the part's strokes. Where strokes
// left out bring notes together that move in parallel with the player, which no move
// from stroke to stroke shows, the later note is made dear and the way sought anew.
func (p *player) way(choices [][]choice, move func(i int, a, b choice) int) []sounded {
	var tones []sounded
	for range retries {
		tones = tones[:0]
		last, again := -1, false
		for i, c := range cheapest(choices, move) {
			if c.rest {
				continue
			}
			tones = append(tones, sounded{p.strokes[i], c.key})
			if n := len(tones); last >= 0 && i > last+1 && p.t.line.parallels(tones[n-2].at, tones[n-1].at, tones[n-2].key, c.key) {
				again = true
				for j := range choices[i] {
					if choices[i][j].key == c.key {
						choices[i][j].cost += costParallel
					}
				}
			}
			last = i
		}
		if !again {
			break
		}
	}
	return tones
}
