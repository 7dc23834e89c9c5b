package compose

import (
	"onward/compose/idiom"
	"onward/compose/score"
	"onward/rhythm"
)

// A Line is a melody as it is compared: the notes' pitches and when they start. Grace
// notes do not count; notes tied together are one.
type Line struct {
	MIDI []int   // pitches; only their intervals matter
	At   []int64 // starts, in ticks from anywhere
}

// A Run is so many notes in a row of a line: the intervals between them in semitones
// and the times from start to start. It is the same run in every key.
type Run struct {
	Length    int
	Hash      uint64 // of rhythm and intervals
	Rhythm    uint64 // of the times alone
	Intervals []int8
}

// Runs lists the line's runs of length notes, but for those that are common
// property: a plain scale, arpeggio or repeated note in equal values.
func (l Line) Runs(length int) []Run {
	var out []Run
	for i := 0; i+length <= len(l.MIDI); i++ {
		r := Run{Length: length, Rhythm: rhythmHash(l.At[i : i+length]), Intervals: make([]int8, length-1)}
		for j := range r.Intervals {
			r.Intervals[j] = int8(l.MIDI[i+j+1] - l.MIDI[i+j])
		}
		if common(r.Intervals, l.At[i:i+length]) {
			continue
		}
		r.Hash = runHash(r.Rhythm, r.Intervals)
		out = append(out, r)
	}
	return out
}

// learnedRuns lists where the line has runs of tunes that were learned from. What is common
// property may return.
func (l Line) learnedRuns() (at []int) {
	const n = idiom.RunLength
	runs := idiom.Runs()
	for i := 0; i+n <= len(l.MIDI); i++ {
		var semitones [n - 1]int8
		var gaps [n - 1]int64
		for k := range semitones {
			semitones[k], gaps[k] = int8(l.MIDI[i+k+1]-l.MIDI[i+k]), (l.At[i+k+1]-l.At[i+k])*idiom.Quarter/int64(rhythm.Quarter)
		}
		if runs.Has(semitones[:], gaps[:]) && !common(semitones[:], l.At[i:i+n]) {
			at = append(at, i)
		}
	}
	return at
}

// common reports whether a run lies inside one plain figure: equal times, and one
// note repeated, a scale one way, or thirds and fourths one way.
func common(intervals []int8, at []int64) bool {
	for i := 2; i < len(at); i++ {
		if at[i]-at[i-1] != at[1]-at[0] {
			return false
		}
	}
	kind := func(s int8) int {
		switch {
		case s == 0:
			return 0
		case s == 1 || s == 2:
			return 1
		case s == -1 || s == -2:
			return -1
		case s >= 3 && s <= 5:
			return 2
		case s <= -3 && s >= -5:
			return -2
		}
		return 9
	}
	first := kind(intervals[0])
	for _, s := range intervals {
		if k := kind(s); k != first || k == 9 {
			return false
		}
	}
	return true
}

// rhythmHash hashes the times between the starts given. The journal keeps it: a change
// makes its runs worthless.
func rhythmHash(at []int64) uint64 {
	h := uint64(hashStart)
	for i := 1; i < len(at); i++ {
		h = mix(h, uint64(at[i]-at[i-1]))
	}
	return h
}

// runHash hashes a rhythm's hash and intervals; the journal keeps it, too.
func runHash(rhythm uint64, intervals []int8) uint64 {
	h := rhythm
	for _, s := range intervals {
		h = mix(h, uint64(uint8(s)))
	}
	return h
}

// The constants of FNV-1a, 64 bit, here over words with a fold after each.
const (
	hashStart = 14695981039346656037
	hashPrime = 1099511628211
)

func mix(h, word uint64) uint64 {
	h = (h ^ word) * hashPrime
	return h ^ h>>29
}

// Lines reports a part's lines as they are played, each strain with its repeat and its
// endings: each run of up to back+1 notes that is played stands in one of them. What is
// played a second time stands there once more only as far as back notes from the signs.
func Lines(p *score.Part, back int) []Line {
	var lines []Line
	var cur Line
	var at int64
	strain, again := 0, false // where the next repeat sign leads, whether it led there
	last, from := 0, 0        // of the second time: its last measure, the notes before it
	held := false
	for i := 0; i < len(p.Measures); i++ {
		m := &p.Measures[i]
		if again && i > last {
			if len(cur.MIDI)-from > 2*back {
				lines = append(lines, Line{cur.MIDI[:from+back], cur.At[:from+back]})
				cur = cur.tail(back)
			}
			again, strain = false, i
		}
		if m.RepeatStart {
			strain = i
		}
		if again && m.Ending == 1 {
			continue
		}
		for _, n := range m.Notes {
			if !n.Rest && !(held && n.TieStop) {
				cur.add(n.Pitch.MIDI(), at+int64(n.At))
			}
			held = !n.Rest && n.TieStart
		}
		at += int64(m.Length)
		switch {
		case m.RepeatEnd && !again:
			again, last, from, i = true, i, len(cur.MIDI), strain-1
		case m.Ending == 2 && m.EndingStop:
			strain = i + 1
		}
	}
	return append(lines, cur)
}

func (l *Line) add(midi int, at int64) {
	l.MIDI, l.At = append(l.MIDI, midi), append(l.At, at)
}

// tail copies the last n notes.
func (l Line) tail(n int) Line {
	i := max(0, len(l.MIDI)-n)
	return Line{append([]int(nil), l.MIDI[i:]...), append([]int64(nil), l.At[i:]...)}
}
