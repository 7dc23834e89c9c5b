package journal

import (
	"context"
	"slices"
	"testing"
)

func TestPastEndsBeforeItsRead(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	old := Read{Identity: "old", Melody: []byte{1}, Runs: []Run{{9, 10, 7, []byte{1}}, {9, 11, 7, []byte{2}}}}
	again := Read{Identity: "again", Melody: []byte{2}, Runs: []Run{{9, 11, 7, []byte{2}}, {9, 12, 7, []byte{3}}}}
	ids := add(t, j, old, again)
	for _, c := range []struct {
		past      Past
		seen      []uint64
		intervals [][]byte
		recent    []string
	}{
		{j.Before(ids[0]), nil, nil, nil},
		{j.Before(ids[1]), []uint64{10, 11}, [][]byte{{1}, {2}}, []string{"old"}},
		{j.All(), []uint64{10, 11, 12}, [][]byte{{2}, {3}, {1}, {2}}, []string{"again", "old"}},
	} {
		seen, err := c.past.Seen(ctx, 9, []uint64{10, 11, 12, 13})
		if err != nil || !slices.Equal(seen, c.seen) {
			t.Errorf("before %d: seen %v, %v, want %v", c.past.before, seen, err, c.seen)
		}
		runs, err := c.past.RunsWithRhythm(ctx, 9, []uint64{7}, 0)
		if err != nil || !slices.EqualFunc(runs[7], c.intervals, slices.Equal) {
			t.Errorf("before %d: runs %v, %v, want %v", c.past.before, runs[7], err, c.intervals)
		}
		reads, err := c.past.Recent(ctx, 5)
		if n, err := c.past.Count(ctx); err != nil || n != len(c.recent) {
			t.Errorf("before %d: %d reads, %v, want %d", c.past.before, n, err, len(c.recent))
		}
		var got []string
		for _, r := range reads {
			got = append(got, r.Identity)
		}
		if err != nil || !slices.Equal(got, c.recent) {
			t.Errorf("before %d: recent %v, %v, want %v", c.past.before, got, err, c.recent)
		}
	}
}
