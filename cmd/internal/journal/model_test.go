package journal

import (
	"bytes"
	"context"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// few are hashes that meet often, those at the edges of the file's integers among them.
var few = rapid.SampledFrom([]uint64{0, 1, 2, 3, 1<<63 - 1, 1 << 63, 1<<63 + 1, 1<<64 - 1})

// anyRun draws a run of 7 or 8 notes whose rhythm and intervals follow from its hash, as
// those of a composer's run do.
var anyRun = rapid.Custom(func(t *rapid.T) Run {
	hash := few.Draw(t, "hash")
	return Run{rapid.IntRange(7, 8).Draw(t, "length"), hash, hash / 2, []byte{byte(hash)}}
})

// TestSearchesEqualPlainOnes compares what the indexes find with a walk through all runs.
func TestSearchesEqualPlainOnes(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	rapid.Check(t, func(t *rapid.T) {
		if _, err := j.db.Exec("DELETE FROM runs; DELETE FROM measures; DELETE FROM reads"); err != nil {
			t.Fatal(err)
		}
		var reads []Read
		for range rapid.IntRange(0, 4).Draw(t, "reads") {
			reads = append(reads, Read{Identity: "x", Runs: rapid.SliceOfN(anyRun, 0, 6).Draw(t, "runs")})
		}
		if _, err := j.AddReads(ctx, reads); err != nil {
			t.Fatal(err)
		}
		length := rapid.IntRange(7, 8).Draw(t, "asked length")
		asked := rapid.SliceOfN(few, 0, 6).Draw(t, "asked")
		limit := rapid.IntRange(0, 3).Draw(t, "limit")

		seen, err := j.Seen(ctx, length, asked)
		if want := plainSeen(reads, length, asked); err != nil || !slices.Equal(seen, want) {
			t.Errorf("seen %x, error %v; want %x", seen, err, want)
		}
		found, err := j.RunsWithRhythm(ctx, length, asked, limit)
		if err != nil {
			t.Fatal(err)
		}
		for _, rhythm := range asked {
			want := plainRhythm(reads, length, rhythm, limit)
			if !slices.EqualFunc(found[rhythm], want, bytes.Equal) {
				t.Errorf("rhythm %x, limit %d: %v, want %v", rhythm, limit, found[rhythm], want)
			}
		}
	})
}

// plainSeen is Seen by a walk through everything.
func plainSeen(reads []Read, length int, asked []uint64) []uint64 {
	var found []uint64
	for _, h := range asked {
		for _, r := range reads {
			same := func(run Run) bool { return run.Length == length && run.Hash == h }
			if slices.ContainsFunc(r.Runs, same) && !slices.Contains(found, h) {
				found = append(found, h)
			}
		}
	}
	return found
}

// plainRhythm is RunsWithRhythm for one rhythm by a walk through everything.
func plainRhythm(reads []Read, length int, rhythm uint64, limit int) [][]byte {
	var found [][]byte
	for _, r := range slices.Backward(reads) {
		var own [][]byte
		for _, run := range r.Runs {
			have := func(b []byte) bool { return bytes.Equal(b, run.Intervals) }
			if run.Length == length && run.Rhythm == rhythm && !slices.ContainsFunc(own, have) {
				own = append(own, run.Intervals)
			}
		}
		slices.SortFunc(own, bytes.Compare)
		found = append(found, own...)
	}
	if limit > 0 && len(found) > limit {
		found = found[:limit]
	}
	return found
}

// bar is a measure's hash. No two sets of them weigh the same.
var bar = rapid.SampledFrom([]uint64{1 << 16, 10 << 20, 100 << 24, 1 << 63, 1<<64 - 1<<40})

// TestSharedMeasuresEqualPlainCount compares the index with a count read by read, among
// all reads and among those before each.
func TestSharedMeasuresEqualPlainCount(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	rapid.Check(t, func(t *rapid.T) {
		if _, err := j.db.Exec("DELETE FROM measures; DELETE FROM reads"); err != nil {
			t.Fatal(err)
		}
		var reads []Read
		for range rapid.IntRange(0, 5).Draw(t, "reads") {
			reads = append(reads, Read{Identity: "x", Measures: rapid.SliceOfN(bar, 0, 6).Draw(t, "measures")})
		}
		ids, err := j.AddReads(ctx, reads)
		if err != nil {
			t.Fatal(err)
		}
		asked := rapid.SliceOfN(bar, 0, 6).Draw(t, "asked")
		if got, err := j.SharedMeasures(ctx, asked); err != nil || !slices.Equal(got, plainShared(reads, asked)) {
			t.Errorf("all: %x shared, error %v; want %x", got, err, plainShared(reads, asked))
		}
		for i, id := range ids {
			if got, err := j.Before(id).SharedMeasures(ctx, asked); err != nil || !slices.Equal(got, plainShared(reads[:i], asked)) {
				t.Errorf("before read %d: %x shared, error %v; want %x", i, got, err, plainShared(reads[:i], asked))
			}
		}
	})
}

// plainShared is SharedMeasures by a walk through everything.
func plainShared(reads []Read, asked []uint64) []uint64 {
	var most []uint64
	for _, r := range reads {
		var has []uint64
		for _, h := range asked {
			if slices.Contains(r.Measures, h) {
				has = append(has, h)
			}
		}
		if len(has) > len(most) || len(has) == len(most) && Weight(has) > Weight(most) {
			most = has
		}
	}
	return most
}
