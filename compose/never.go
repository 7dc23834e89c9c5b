package compose

import (
	"fmt"

	"onward/compose/score"
)

// A Certificate says that a read was compared with everything before it.
type Certificate struct {
	// Length is L: no run of so many notes returns.
	Length int
	// Compared is how many runs of the read were looked for.
	Compared int
	// Against is how many drilled and recent runs they were compared with one by one;
	// earlier reads were looked up besides.
	Against int
	// Longest is the longest run, in notes, that the read shares with a drill or a
	// recent read, or with an older one as far as the journal keeps shorter runs;
	// common property is left out. It is less than Length.
	Longest int
	// Measures is how many measures the read has, those left out in which no note begins,
	// upbeats and first endings. Shared is how many of all that have notes, as written,
	// stand in the earlier read that has most of them. See MeasuresOf.
	Measures, Shared int

	shared []uint64 // those measures
}

// A returnedError says that a finished read repeats a run of what was heard before.
type returnedError struct {
	seed   uint64
	length int
	where  string
}

func (e *returnedError) Error() string {
	return fmt.Sprintf("compose: seed %d: a run of %d notes returns, %s", e.seed, e.length, e.where)
}

// certify proves that a finished read repeats no run. It looks at the written page,
// repeats and endings included, and shares no code with the sampler's automaton: with
// drills and recent reads it compares note by note; older reads it looks up by the
// hashes that the journal keeps.
func certify(r *Read, w *World, req Request, length int) (Certificate, error) {
	c := Certificate{Length: length}
	if err := c.count(&r.Score.Parts[0], w.Measures); err != nil {
		return c, err
	}
	lines := Lines(&r.Score.Parts[0], length-1)
	before := [2][]Line{req.Drills, w.Recent}
	indexes := [2]map[pair][]spot{w.drilledSpots(req.Drills), spots(w.Recent)}
	for _, olds := range before {
		for _, old := range olds {
			c.Against += max(0, len(old.MIDI)-length+1)
		}
	}
	for _, l := range lines {
		for k, olds := range before {
			n, at, line := longestShared(l, olds, indexes[k], length)
			if n >= length {
				return c, &returnedError{req.Seed, n, fmt.Sprintf("from note %d on, of line %d of what was drilled or read lately", at, line)}
			}
			c.Longest = max(c.Longest, n)
		}
		runs := l.Runs(length)
		c.Compared += len(runs)
		if w.Seen == nil || len(runs) == 0 {
			continue
		}
		for _, n := range w.Ladder.Runs() {
			if n < length && n > c.Longest {
				if heard, err := seenAny(w.Seen, n, l.Runs(n)); err != nil {
					return c, err
				} else if heard {
					c.Longest = n
				}
			}
		}
		heard, err := seenAny(w.Seen, length, runs)
		if err != nil {
			return c, err
		}
		if heard {
			return c, &returnedError{req.Seed, length, "of an earlier read"}
		}
	}
	return c, nil
}

// drilledSpots makes the index of the drills once: all reads of a batch have the same.
func (w *World) drilledSpots(drills []Line) map[pair][]spot {
	if len(drills) == 0 || w.books == nil {
		return spots(drills)
	}
	key := drillsKey{&drills[0], len(drills), 0}
	index, ok := w.books.Load(key)
	if !ok {
		index, _ = w.books.LoadOrStore(key, spots(drills))
	}
	return index.(map[pair][]spot)
}

// seenAny reports whether any of the runs was read before.
func seenAny(s Seen, length int, runs []Run) (bool, error) {
	hashes := make([]uint64, len(runs))
	for i := range runs {
		hashes[i] = runs[i].Hash
	}
	found, err := s.Seen(length, hashes)
	return len(found) > 0, err
}

// A pair is two notes in a row: their interval and the time from start to start.
type pair struct {
	semitones int
	ticks     int64
}

// A spot is where a pair begins: a note of a line.
type spot struct{ line, note int }

// spots lists where each pair of the lines begins.
func spots(lines []Line) map[pair][]spot {
	out := map[pair][]spot{}
	for i, l := range lines {
		for j := 1; j < len(l.MIDI); j++ {
			p := l.pair(j)
			out[p] = append(out[p], spot{i, j - 1})
		}
	}
	return out
}

// pair reports the pair that ends at note j.
func (l Line) pair(j int) pair { return pair{l.MIDI[j] - l.MIDI[j-1], l.At[j] - l.At[j-1]} }

// longestShared reports the length in notes of the longest run that a has with the
// lines, by intervals and times, where it starts in a, and in which line; runs that are
// common property as a whole are passed over. It looks no further than enough notes.
func longestShared(a Line, lines []Line, index map[pair][]spot, enough int) (length, at, line int) {
	for i := 0; i+1 < len(a.MIDI); i++ {
		for _, s := range index[a.pair(i+1)] {
			b, n := lines[s.line], 2
			for i+n < len(a.MIDI) && s.note+n < len(b.MIDI) && n < enough && a.pair(i+n) == b.pair(s.note+n) {
				n++
			}
			if n > length && !plainRun(a, i, n) {
				length, at, line = n, i, s.line
			}
		}
	}
	return length, at, line
}

// plainRun reports whether n notes of the line from i on are a scale, an arpeggio or
// a repeated note in equal times.
func plainRun(l Line, i, n int) bool {
	up, down, same, scale, chord := true, true, true, true, true
	for k := i + 1; k < i+n; k++ {
		d := l.MIDI[k] - l.MIDI[k-1]
		if l.At[k]-l.At[k-1] != l.At[i+1]-l.At[i] {
			return false
		}
		up, down, same = up && d > 0, down && d < 0, same && d == 0
		if d < 0 {
			d = -d
		}
		scale, chord = scale && (d == 1 || d == 2), chord && d >= 3 && d <= 5
	}
	return same || (up || down) && (scale || chord)
}

// Runs lists all runs of the lengths given that the page holds, for the journal to
// remember.
func Runs(p *score.Part, lengths []int) []Run {
	var out []Run
	seen := map[uint64]bool{}
	for _, n := range lengths {
		for _, l := range Lines(p, n-1) {
			for _, r := range l.Runs(n) {
				if !seen[r.Hash] {
					seen[r.Hash] = true
					out = append(out, r)
				}
			}
		}
	}
	return out
}
