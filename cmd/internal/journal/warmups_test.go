package journal

import (
	"context"
	"reflect"
	"testing"
	"time"
)

func TestWarmupsAreKeptInOrder(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	made := time.Date(2026, 11, 25, 7, 30, 0, 0, time.UTC)
	kept := []Warmup{
		{ID: 1, Day: "2026-11-25", Made: made, Request: []byte(`{"seed":7}`), Lines: []uint64{1, 1<<64 - 1}},
		{ID: 2, Day: "2026-11-24", Made: made.Add(time.Hour), Request: []byte(`{"seed":8}`), Lines: []uint64{3}},
		{ID: 3, Day: "2026-11-25", Made: made.Add(2 * time.Hour), Request: []byte("{}")},
	}
	for _, w := range kept {
		id, err := j.AddWarmup(ctx, w)
		if err != nil || id != w.ID {
			t.Fatalf("%s: ID %d, error %v; want %d", w.Day, id, err, w.ID)
		}
	}
	got, err := reopened(t, j).Warmups(ctx, 2)
	if want := []Warmup{kept[2], kept[1]}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, error %v\nwant %+v", got, err, want)
	}
}

func TestWarmupOfNoDateIsRefused(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	for _, day := range []string{"", "today", "2026-02-30", "25.11.2026"} {
		if _, err := j.AddWarmup(ctx, Warmup{Day: day}); err == nil {
			t.Errorf("%q: was kept", day)
		}
	}
	if all, err := j.Warmups(ctx, 10); err != nil || len(all) > 0 {
		t.Errorf("kept %v, error %v", all, err)
	}
}
