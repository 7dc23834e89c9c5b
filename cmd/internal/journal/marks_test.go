package journal

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// played adds a read of 8 measures and takes of it, and reports the takes' IDs.
func played(t testing.TB, j *Journal, takes ...Take) []int64 {
	t.Helper()
	r := march("a", 1)
	r.Length, r.Figures, r.Loads = 8, []byte("figures of a"), []byte("loads of a")
	read := add(t, j, r)[0]
	var ids []int64
	for i, take := range takes {
		take.ReadID, take.Started = read, noon.Add(time.Duration(i)*time.Hour)
		take.Ended = take.Started.Add(time.Minute)
		if take.Outcome == "" {
			take.Outcome = KeptGoing
		}
		id, err := j.AddTake(context.Background(), take)
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, id)
	}
	return ids
}

// marked is how a take's marks stand in the journal, in words.
func marked(t *testing.T, j *Journal, id int64) string {
	t.Helper()
	all, err := j.Takes(context.Background(), 100)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(k Take) bool { return k.ID == id })
	return fmt.Sprint(all[i].Marked, all[i].Slips, all[i].StoppedAt)
}

func TestMarkReplaces(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	ids := played(t, j, Take{}, Take{})
	if got := marked(t, j, ids[0]); got != "false [] -1" {
		t.Errorf("not marked yet: %s", got)
	}
	for _, c := range []struct {
		m    Marks
		want string
	}{
		{Marks{[]Slip{{5, true, false}, {0, true, true}}, 6}, "true [{0 true true} {5 true false}] 6"},
		{Marks{[]Slip{{7, false, true}}, NotStopped}, "true [{7 false true}] -1"},
		{Marks{nil, NotStopped}, "true [] -1"},
	} {
		if err := j.Mark(ctx, ids[0], c.m); err != nil {
			t.Fatal(err)
		}
		if got := marked(t, j, ids[0]); got != c.want {
			t.Errorf("got %s, want %s", got, c.want)
		}
	}
	if err := j.Mark(ctx, ids[1], Marks{[]Slip{{1, true, false}}, 1}); err != nil {
		t.Fatal(err)
	}
	j = reopened(t, j)
	if a, b := marked(t, j, ids[0]), marked(t, j, ids[1]); a != "true [] -1" || b != "true [{1 true false}] 1" {
		t.Errorf("reopened: %s and %s", a, b)
	}
}

func TestMarkRefused(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	id := played(t, j, Take{})[0]
	if err := j.Mark(ctx, id, Marks{[]Slip{{3, true, false}}, NotStopped}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		take int64
		m    Marks
		want string
	}{
		{id + 1, Marks{StoppedAt: NotStopped}, "no such take"},
		{id, Marks{StoppedAt: -2}, "stopped at measure index -2"},
		{id, Marks{StoppedAt: 8}, "the page has 8 measures"},
		{id, Marks{[]Slip{{8, true, false}}, NotStopped}, "the page has 8 measures"},
		{id, Marks{[]Slip{{-1, true, false}}, NotStopped}, "index -1"},
		{id, Marks{[]Slip{{1, false, false}}, NotStopped}, "whether pitch or rhythm"},
		{id, Marks{[]Slip{{1, true, false}, {1, false, true}}, NotStopped}, "comes twice"},
	} {
		if err := j.Mark(ctx, c.take, c.m); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q", c.m, err, c.want)
		}
	}
	if got := marked(t, j, id); got != "true [{3 true false}] -1" {
		t.Errorf("after the refusals: %s", got)
	}
}

// A panel hears once; other pressure may be marked again.
func TestPanelIsSealed(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	ids := played(t, j, Take{Pressure: []string{Cold, Panel}}, Take{Pressure: []string{Cover}})
	for i, id := range ids {
		if err := j.Mark(ctx, id, Marks{[]Slip{{1, true, false}}, NotStopped}); err != nil {
			t.Fatal(err)
		}
		err := j.Mark(ctx, id, Marks{nil, NotStopped})
		var sealed *SealedError
		if panel := i == 0; errors.As(err, &sealed) != panel || panel && sealed.Take != id || !panel && err != nil {
			t.Errorf("take %d marked again: %v", i, err)
		}
	}
	if a, b := marked(t, j, ids[0]), marked(t, j, ids[1]); a != "true [{1 true false}] -1" || b != "true [] -1" {
		t.Errorf("got %s and %s", a, b)
	}
}

func TestTakeRefusesTempoAndPressure(t *testing.T) {
	j := fresh(t)
	read := add(t, j, march("a", 1))[0]
	for _, c := range []struct {
		take Take
		want string
	}{
		{Take{Percent: 24}, "want 25 to 100"}, {Take{Percent: 101}, "want 25 to 100"}, {Take{Percent: -1}, "want 25 to 100"},
		{Take{Pressure: []string{"thunder"}}, `pressure "thunder"`},
	} {
		c.take.ReadID, c.take.Started, c.take.Outcome = read, noon, KeptGoing
		if _, err := j.AddTake(context.Background(), c.take); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q", c.take, err, c.want)
		}
	}
}

func TestHistoryOldestFirst(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	if all, err := j.History(ctx); err != nil || len(all) != 0 {
		t.Fatalf("an empty journal: %v, %v", all, err)
	}
	ids := played(t, j, Take{Percent: 60, Rubato: true, Pressure: []string{Company, Cover}}, Take{Outcome: Left})
	piece := add(t, j, Read{Identity: "p", Style: "piece", Instrument: "trumpet"})[0]
	third, err := j.AddTake(ctx, Take{ReadID: piece, Started: noon.Add(3 * time.Hour), Outcome: KeptGoing})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Mark(ctx, ids[0], Marks{[]Slip{{2, false, true}}, 4}); err != nil {
		t.Fatal(err)
	}
	all, err := j.History(ctx)
	if err != nil || len(all) != 3 {
		t.Fatalf("%d takes, %v", len(all), err)
	}
	want := PastTake{
		Take: Take{
			ID: ids[0], ReadID: piece - 1, Started: noon, Ended: noon.Add(time.Minute), Outcome: KeptGoing, Percent: 60, Rubato: true,
			Pressure: []string{Cover, Company}, Marked: true, Marks: Marks{[]Slip{{2, false, true}}, 4},
		},
		Style: "march", Rung: 3, Instrument: "euphonium-treble", Measures: 8, Figures: []byte("figures of a"), Loads: []byte("loads of a"),
	}
	if !reflect.DeepEqual(all[0], want) {
		t.Errorf("got  %+v\nwant %+v", all[0], want)
	}
	if p := all[2]; p.ID != third || p.Style != "piece" || p.Rung != 0 || p.Measures != 0 || p.Figures != nil || p.Loads != nil || p.Percent != 100 || p.Marked {
		t.Errorf("the piece: %+v", p)
	}
	practised, err := j.Practised(ctx)
	if err != nil || len(practised) != 1 || !practised[0].Marked || !reflect.DeepEqual(practised[0].Marks, want.Marks) {
		t.Errorf("practised %+v, %v", practised, err)
	}
}

func TestProposals(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	ids := played(t, j, Take{}, Take{})
	first := Proposal{TakeID: ids[0], Made: noon, Style: "march", Rung: 4, Coverage: 0.85, New: 1, Percent: 80,
		Pressure: []string{Panel}, Wanted: []byte(`["x"]`), Why: "because"}
	second := Proposal{TakeID: ids[1], Style: "lyrical", Rung: 1}
	for _, p := range []Proposal{{TakeID: ids[0], Style: "march", Rung: 3}, second, first} { // the last replaces the first
		if err := j.KeepProposal(ctx, p); err != nil {
			t.Fatal(err)
		}
	}
	second.Made, second.Percent = noon, 100
	all, err := reopened(t, j).Proposals(ctx)
	if want := []Proposal{first, second}; err != nil || !reflect.DeepEqual(all, want) {
		t.Errorf("got  %+v, %v\nwant %+v", all, err, want)
	}
}

func TestProposalRefused(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	id := played(t, j, Take{})[0]
	nan := 0.0
	nan /= nan
	for _, c := range []struct {
		p    Proposal
		want string
	}{
		{Proposal{TakeID: id + 1, Rung: 1}, "no such take"},
		{Proposal{TakeID: id}, "rung 0"},
		{Proposal{TakeID: id, Rung: 1, Coverage: 1.1}, "coverage 1.1"},
		{Proposal{TakeID: id, Rung: 1, Coverage: nan}, "coverage NaN"},
		{Proposal{TakeID: id, Rung: 1, New: -1}, "-1 new figures"},
		{Proposal{TakeID: id, Rung: 1, Percent: 10}, "10 %"},
		{Proposal{TakeID: id, Rung: 1, Pressure: []string{"x"}}, `pressure "x"`},
	} {
		if err := j.KeepProposal(ctx, c.p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q", c.p, err, c.want)
		}
	}
	if all, err := j.Proposals(ctx); err != nil || len(all) != 0 {
		t.Errorf("%v, %v", all, err)
	}
}
