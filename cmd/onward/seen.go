package main

import (
	"cmp"
	"context"
	"slices"

	"onward/cmd/internal/journal"
	"onward/compose"
)

// recentReads is how many of the latest reads go into the sampler at once.
const recentReads = 50

// A memory is what a read is to be kept clear of: the journal's past, and the reads of
// this invocation that are not in the journal yet. It is a compose.Seen and a
// compose.Measures.
type memory struct {
	ctx  context.Context
	past journal.Past
	// fresh are the runs of the reads made here, by length and hash, and their
	// intervals by length and rhythm.
	fresh map[runKey]bool
	alike map[runKey][][]int8
	// having are the reads made here that have a measure, by its hash, numbered in order.
	having map[uint64][]int
	reads  int
}

type runKey struct {
	length int
	hash   uint64
}

func newMemory(ctx context.Context, past journal.Past) *memory {
	return &memory{ctx: ctx, past: past, fresh: map[runKey]bool{}, alike: map[runKey][][]int8{}, having: map[uint64][]int{}}
}

// add remembers the runs and measures of a read that was made here.
func (m *memory) add(runs []compose.Run, measures []uint64) {
	for _, h := range measures {
		if reads := m.having[h]; len(reads) == 0 || reads[len(reads)-1] != m.reads {
			m.having[h] = append(reads, m.reads)
		}
	}
	m.reads++
	for _, r := range runs {
		m.fresh[runKey{r.Length, r.Hash}] = true
		rhythm := runKey{r.Length, r.Rhythm}
		m.alike[rhythm] = append(m.alike[rhythm], r.Intervals)
	}
}

// Seen implements compose.Seen.
func (m *memory) Seen(length int, hashes []uint64) (map[uint64]bool, error) {
	found, err := m.past.Seen(m.ctx, length, hashes)
	if err != nil {
		return nil, err
	}
	seen := map[uint64]bool{}
	for _, h := range found {
		seen[h] = true
	}
	for _, h := range hashes {
		if m.fresh[runKey{length, h}] {
			seen[h] = true
		}
	}
	return seen, nil
}

// WithRhythm implements compose.Seen. The runs of a rhythm come in order and each once,
// so that it makes no difference where they were remembered.
func (m *memory) WithRhythm(length int, rhythms []uint64) (map[uint64][][]int8, error) {
	found, err := m.past.RunsWithRhythm(m.ctx, length, rhythms, 0)
	if err != nil {
		return nil, err
	}
	out := map[uint64][][]int8{}
	for _, rhythm := range rhythms {
		all := slices.Clone(m.alike[runKey{length, rhythm}])
		for _, b := range found[rhythm] {
			all = append(all, intervalsOf(b))
		}
		slices.SortFunc(all, slices.Compare)
		if all = slices.CompactFunc(all, slices.Equal); len(all) > 0 {
			out[rhythm] = all
		}
	}
	return out, nil
}

// Shared implements compose.Measures. Of reads that share as many measures it does not matter
// which are made here and which are in the journal.
func (m *memory) Shared(measures []uint64) ([]uint64, error) {
	shared, err := m.past.SharedMeasures(m.ctx, measures)
	if err != nil {
		return nil, err
	}
	for _, here := range m.sharedHere(measures) {
		if cmp.Or(cmp.Compare(len(here), len(shared)), cmp.Compare(journal.Weight(here), journal.Weight(shared))) > 0 {
			shared = here
		}
	}
	return shared, nil
}

// sharedHere lists the measures that each read made here has, where it has any.
func (m *memory) sharedHere(measures []uint64) map[int][]uint64 {
	shared := map[int][]uint64{}
	for _, h := range measures {
		for _, read := range m.having[h] {
			shared[read] = append(shared[read], h)
		}
	}
	return shared
}

// bytesOf writes a run's intervals for the journal, a byte each.
func bytesOf(intervals []int8) []byte {
	b := make([]byte, len(intervals))
	for i, s := range intervals {
		b[i] = byte(s)
	}
	return b
}

// intervalsOf reads what bytesOf wrote.
func intervalsOf(b []byte) []int8 {
	s := make([]int8, len(b))
	for i := range b {
		s[i] = int8(b[i])
	}
	return s
}

// journalRuns are runs as the journal keeps them.
func journalRuns(runs []compose.Run) []journal.Run {
	out := make([]journal.Run, len(runs))
	for i, r := range runs {
		out[i] = journal.Run{Length: r.Length, Hash: r.Hash, Rhythm: r.Rhythm, Intervals: bytesOf(r.Intervals)}
	}
	return out
}
