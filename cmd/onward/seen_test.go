package main

import (
	"context"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"onward/cmd/internal/journal"
	"onward/compose"

	"pgregory.net/rapid"
)

// It makes no difference whether a run is remembered by the journal or here.
func TestMemoryIsOne(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	j, err := s.openJournal(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	runs := []compose.Run{
		{Length: 9, Hash: 1, Rhythm: 7, Intervals: []int8{2, -2}}, {Length: 9, Hash: 2, Rhythm: 7, Intervals: []int8{-12, 3}},
		{Length: 9, Hash: 3, Rhythm: 8, Intervals: []int8{0, 1}}, {Length: 12, Hash: 1, Rhythm: 7, Intervals: []int8{5}},
	}
	inJournal := func(runs []compose.Run) {
		if _, err := j.AddRead(ctx, journal.Read{Identity: "x", Runs: journalRuns(runs)}); err != nil {
			t.Fatal(err)
		}
	}
	ask := func(m *memory) [2]any {
		seen, err := m.Seen(9, []uint64{1, 2, 3, 4})
		if err != nil {
			t.Fatal(err)
		}
		alike, err := m.WithRhythm(9, []uint64{7, 8, 9})
		if err != nil {
			t.Fatal(err)
		}
		return [2]any{seen, alike}
	}
	empty := newMemory(ctx, j.All())
	if got := ask(empty); !reflect.DeepEqual(got, [2]any{map[uint64]bool{}, map[uint64][][]int8{}}) {
		t.Errorf("nothing was added, and there is %v", got)
	}
	empty.add(runs, nil)
	here := ask(empty)
	want := [2]any{map[uint64]bool{1: true, 2: true, 3: true},
		map[uint64][][]int8{7: {{-12, 3}, {2, -2}}, 8: {{0, 1}}}}
	if !reflect.DeepEqual(here, want) {
		t.Errorf("remembered here: got %v, want %v", here, want)
	}
	inJournal(runs[:2])
	half := newMemory(ctx, j.All())
	half.add(runs[1:], nil)
	if got := ask(half); !reflect.DeepEqual(got, want) {
		t.Errorf("half of it in the journal: got %v, want %v", got, want)
	}
	inJournal(runs)
	if got := ask(newMemory(ctx, j.All())); !reflect.DeepEqual(got, want) {
		t.Errorf("all in the journal, some twice: got %v, want %v", got, want)
	}
}

// A read's measures are found again alike, be the earlier reads in the journal, made here,
// or some of them there and the others here.
func TestSharedMeasuresAreOne(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	few := rapid.SliceOfN(rapid.SampledFrom([]uint64{1 << 16, 10 << 20, 100 << 24, 1 << 63, 1<<64 - 1<<40}), 0, 7)
	dir, n := t.TempDir(), 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		j, err := s.openJournal(ctx, filepath.Join(dir, fmt.Sprint(n)))
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		reads := rapid.SliceOfN(few, 0, 5).Draw(t, "reads")
		kept := rapid.IntRange(0, len(reads)).Draw(t, "in the journal")
		for _, r := range reads[:kept] {
			if _, err := j.AddRead(ctx, journal.Read{Identity: "x", Measures: r}); err != nil {
				t.Fatal(err)
			}
		}
		m := newMemory(ctx, j.All())
		for _, r := range reads[kept:] {
			m.add(nil, r)
		}
		asked := few.Draw(t, "asked")
		got, err := m.Shared(asked)
		if want := plainShared(reads, asked); err != nil || !slices.Equal(got, want) {
			t.Errorf("%x, %v; want %x", got, err, want)
		}
	})
}

// plainShared lists what of the measures asked for the read has that has most of them, of
// such the one whose share weighs most, by a walk through everything.
func plainShared(reads [][]uint64, asked []uint64) []uint64 {
	var most []uint64
	for _, r := range reads {
		var has []uint64
		for _, h := range asked {
			if slices.Contains(r, h) {
				has = append(has, h)
			}
		}
		if len(has) > len(most) || len(has) == len(most) && journal.Weight(has) > journal.Weight(most) {
			most = has
		}
	}
	return most
}
