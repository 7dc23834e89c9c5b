package compose

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"onward/compose/lattice"
)

// An archive is what was read long ago: the lines, and how often it was asked.
type archive struct {
	lines []Line
	asked int
	fault error
}

func (a *archive) Seen(length int, hashes []uint64) (map[uint64]bool, error) {
	a.asked++
	found := map[uint64]bool{}
	for _, l := range a.lines {
		for _, r := range l.Runs(length) {
			found[r.Hash] = found[r.Hash] || slices.Contains(hashes, r.Hash)
		}
	}
	return found, a.fault
}

func (a *archive) WithRhythm(length int, rhythms []uint64) (map[uint64][][]int8, error) {
	out := map[uint64][][]int8{}
	for _, l := range a.lines {
		for _, r := range l.Runs(length) {
			if slices.Contains(rhythms, r.Rhythm) {
				out[r.Rhythm] = append(out[r.Rhythm], r.Intervals)
			}
		}
	}
	return out, a.fault
}

// lineOf is a line of the times and intervals from note to note.
func lineOf(times, intervals []int) Line {
	l := Line{MIDI: []int{60}, At: []int64{0}}
	for i := range times {
		l.add(l.MIDI[i]+intervals[i], l.At[i]+int64(times[i]))
	}
	return l
}

// randomLines are so many lines of two times and of intervals that make no plain figure.
func randomLines(rng *rand.Rand, count int) []Line {
	var lines []Line
	for range count {
		var times, intervals []int
		for i := range 10 {
			times = append(times, 1+rng.IntN(2))
			intervals = append(intervals, []int{7, 8, -9}[i%3]-rng.IntN(2))
		}
		lines = append(lines, lineOf(times, intervals))
	}
	return lines
}

// forbiddenIn lists as text which runs of the lines fit on the starts, window by window,
// by the starts alone.
func forbiddenIn(at []int64, lines []Line, length int) map[string]bool {
	out := map[string]bool{}
	for w := 0; w+length <= len(at); w++ {
		for _, l := range lines {
			for i := 0; i+length <= len(l.At); i++ {
				fits := true
				run := lattice.Run{At: w}
				for k := 1; k < length; k++ {
					fits = fits && at[w+k]-at[w] == l.At[i+k]-l.At[i]
					run.Symbols = append(run.Symbols, lattice.Symbol(l.MIDI[i+k]-l.MIDI[i+k-1]))
				}
				if fits {
					out[fmt.Sprint(run)] = true
				}
			}
		}
	}
	return out
}

func texts(runs []lattice.Run) map[string]bool {
	out := map[string]bool{}
	for _, r := range runs {
		out[fmt.Sprint(r)] = true
	}
	return out
}

// What the sampler must not make is every run of drills and recent reads wherever its
// rhythm stands, and no other, for each length, alone or in a batch.
func TestForbiddenRunsAreThoseOfDrillsAndRecentReads(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	total := 0
	for range 50 {
		drills, recent, drawn := randomLines(rng, 3), randomLines(rng, 3), randomLines(rng, 1)[0]
		for _, w := range []*World{{Recent: recent}, {Recent: recent, books: &sync.Map{}}} {
			for _, d := range [][]Line{drills, drills[:1], nil} {
				for _, length := range []int{4, 6} {
					got, want := texts(newMemory(w, Request{Drills: d}, length).forbidden(drawn.At)), forbiddenIn(drawn.At, slices.Concat(d, recent), length)
					if fmt.Sprint(got) != fmt.Sprint(want) {
						t.Fatalf("%d drills, runs of %d: forbidden\n%v\nwant\n%v", len(d), length, got, want)
					}
					total += len(want)
				}
			}
		}
	}
	if total < 1000 {
		t.Errorf("%d runs were forbidden in all: too few to tell much", total)
	}
}

// A line is heard that has a run of a drill, a recent read or an older one.
func TestHeardLines(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	all := randomLines(rng, 4)
	w := &World{Recent: all[1:2], Seen: &archive{lines: all[2:3]}}
	m := newMemory(w, Request{Drills: all[:1]}, 5)
	for i, want := range []bool{true, true, true, false} {
		for _, lines := range [][]Line{all[i : i+1], {all[3], all[i]}} {
			got, err := m.heardAny(lines)
			if err != nil || got != want {
				t.Errorf("line %d: heard is %v, %v; want %v", i, got, err, want)
			}
		}
		short := Line{all[i].MIDI[:4], all[i].At[:4]}
		if got, _ := m.heard(short); got {
			t.Errorf("line %d: four notes of it are heard, want runs of five", i)
		}
	}
	w.Seen.(*archive).fault = errors.New("gone")
	if _, err := newMemory(w, Request{}, 5).heardAny(all[3:]); err == nil {
		t.Error("a journal without an answer is taken for one that knows nothing")
	}
}

// A run of an older read that is met brings all older runs of its rhythm; what was looked up
// and not met is not looked up again.
func TestMetRunsAreForbiddenFromThenOn(t *testing.T) {
	times := []int{1, 2, 1, 1}
	mine, other, none := lineOf(times, []int{7, 8, -9, 7}), lineOf(times, []int{-9, 7, 8, 8}), lineOf(times, []int{9, -8, -8, 9})
	older := &archive{lines: []Line{mine, other, lineOf([]int{2, 2, 1, 1}, []int{9, 9, -9, 9})}}
	m := newMemory(&World{Seen: older}, Request{}, 5)
	for range 2 {
		if met, err := m.met(none); met || err != nil || older.asked != 1 || len(m.forbidden(none.At)) != 0 {
			t.Fatalf("a new line: met is %v, %v; the journal was asked %d times; %v forbidden", met, err, older.asked, m.forbidden(none.At))
		}
	}
	if met, err := m.met(mine); !met || err != nil {
		t.Fatalf("an older line: met is %v, %v", met, err)
	}
	if got, want := texts(m.forbidden(mine.At)), forbiddenIn(mine.At, older.lines, 5); len(want) != 2 || fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("forbidden from then on: %v, want %v", got, want)
	}
	if met, err := m.met(other); met || err != nil {
		t.Errorf("a line of a rhythm whose runs are all known: met is %v, %v", met, err)
	}
	older.fault = errors.New("gone")
	if _, err := newMemory(&World{Seen: older}, Request{}, 5).met(mine); err == nil {
		t.Error("a journal without an answer is taken for one that knows nothing")
	}
}
