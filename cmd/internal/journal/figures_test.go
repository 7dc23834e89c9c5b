package journal

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// What was practised is every lesson, and every take to the end of a read whose figures
// were kept.
func TestPractised(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	ids, err := j.AddReads(ctx, []Read{{Identity: "a", Figures: []byte("figures of a")}, {Identity: "b"}})
	if err != nil {
		t.Fatal(err)
	}
	day := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for i, take := range []Take{{ReadID: ids[0], Outcome: KeptGoing}, {ReadID: ids[0], Outcome: Left}, {ReadID: ids[1], Outcome: KeptGoing}, {ReadID: ids[0], Outcome: KeptGoing}} {
		take.Started = day.AddDate(0, 0, i)
		take.Ended = take.Started.Add(time.Minute)
		if _, err := j.AddTake(ctx, take); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.KeepLesson(ctx, day, []byte("a lesson")); err != nil {
		t.Fatal(err)
	}
	all, err := j.Practised(ctx)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, p := range all {
		got += fmt.Sprintf("%s %d %s; ", p.At.Format("2 15:04"), p.Take, p.Figures)
	}
	if want := "1 12:00 0 a lesson; 1 12:01 1 figures of a; 4 12:01 4 figures of a; "; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
}
