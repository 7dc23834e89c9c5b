package journal

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

// as is j as the player of the name has it.
func as(t testing.TB, j *Journal, name string) *Journal {
	t.Helper()
	own, _, err := j.As(context.Background(), name)
	if err != nil {
		t.Fatal(err)
	}
	return own
}

// takeOf adds a read and a take of it, with all else that a player may have, and marks it.
func takeOf(t *testing.T, j *Journal, identity string) int64 {
	t.Helper()
	ctx := context.Background()
	r := march(identity, 2)
	r.Figures = []byte("figures of " + identity)
	id, err := j.AddTake(ctx, Take{ReadID: add(t, j, r)[0], Started: noon, Ended: noon, Outcome: KeptGoing})
	_, warm := j.AddWarmup(ctx, Warmup{Day: "2026-03-01", Request: []byte(identity)})
	err = errors.Join(err, warm,
		j.Mark(ctx, id, Marks{nil, NotStopped}),
		j.KeepProposal(ctx, Proposal{TakeID: id, Style: "march", Rung: 2, Why: identity}),
		j.KeepLesson(ctx, noon, []byte("lesson of "+identity)),
		j.SaveVocabulary(ctx, Vocabulary{Name: "warm-up", Sheet: []byte(identity), Drills: []Drill{{Title: identity, Runs: []Run{{9, 1, 1, nil}}}}}))
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// The last read is the player's own, or one that they played, and no printed piece.
func TestLastRead(t *testing.T) {
	ctx := context.Background()
	ann := fresh(t)
	bob, _, err := ann.As(ctx, "Bob")
	if err != nil {
		t.Fatal(err)
	}
	last := func(j *Journal) string {
		r, had, err := j.LastRead(ctx)
		if err != nil || !had && r.Identity != "" {
			t.Fatalf("got %+v, %v, error %v", r, had, err)
		}
		return r.Identity
	}
	piece := march("a piece", 1)
	piece.Rung = 0
	if add(t, ann, piece); last(ann) != "" {
		t.Errorf("%q, want none", last(ann))
	}
	ids := add(t, ann, march("a", 1), march("b", 1))
	piece.Identity = "another piece"
	add(t, ann, piece)
	if last(ann) != "b" || last(bob) != "" {
		t.Errorf("got %q and of another %q, want b and none", last(ann), last(bob))
	}
	if _, err := bob.AddTake(ctx, Take{ReadID: ids[0], Started: noon, Ended: noon, Outcome: KeptGoing}); err != nil {
		t.Fatal(err)
	}
	if last(bob) != "a" {
		t.Errorf("got %q, want the read that was played", last(bob))
	}
}

// belongings says what a player has.
func belongings(t *testing.T, j *Journal) string {
	t.Helper()
	ctx := context.Background()
	takes, err1 := j.Takes(ctx, 10)
	history, err2 := j.History(ctx)
	practised, err3 := j.Practised(ctx)
	warmups, err4 := j.Warmups(ctx, 10)
	proposals, err5 := j.Proposals(ctx)
	saved, err6 := j.Vocabularies(ctx)
	reads, err7 := j.Reads(ctx, 10)
	if err := errors.Join(err1, err2, err3, err4, err5, err6, err7); err != nil {
		t.Fatal(err)
	}
	words := fmt.Sprintf("%d takes, %d past:", len(takes), len(history))
	for _, p := range practised {
		words += fmt.Sprintf(" %s;", p.Figures)
	}
	for _, w := range warmups {
		words += fmt.Sprintf(" warm-up %s;", w.Request)
	}
	for _, p := range proposals {
		words += fmt.Sprintf(" proposed %s;", p.Why)
	}
	for _, v := range saved {
		v, err := j.Vocabulary(ctx, v.Name)
		if err != nil {
			t.Fatal(err)
		}
		words += fmt.Sprintf(" saved %s of %s;", v.Sheet, v.Drills[0].Title)
	}
	for _, r := range reads {
		words += " read " + r.Identity + ";"
	}
	return words
}

const all = "1 takes, 1 past: lesson of %[1]s; figures of %[1]s; warm-up %[1]s; proposed %[1]s; saved %[1]s of %[1]s; read %[1]s;"

// What players do is theirs, and reads are seen for all.
func TestPlayersAreApart(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	ann, bo := as(t, j, "Ann"), as(t, j, "bo")
	ids := map[*Journal]int64{ann: takeOf(t, ann, "a"), bo: takeOf(t, bo, "b"), j: takeOf(t, j, "c")}
	for name, p := range map[string]*Journal{"a": ann, "b": bo, "c": j} {
		if got := belongings(t, p); got != fmt.Sprintf(all, name) {
			t.Errorf("player %q has %s\nwant %s", p.Player(), got, fmt.Sprintf(all, name))
		}
		seen, err := p.Seen(ctx, 9, append(hashes(march("a", 2).Runs), hashes(march("b", 2).Runs)...))
		if n, err2 := p.Count(ctx); len(seen) != 4 || n != 3 || errors.Join(err, err2) != nil {
			t.Errorf("player %q: %d runs seen of 4, %d reads of 3, %v, %v", p.Player(), len(seen), n, err, err2)
		}
	}
	if err := bo.Mark(ctx, ids[ann], Marks{nil, NotStopped}); err == nil || !strings.Contains(err.Error(), "the player has no such take") {
		t.Errorf("bo marks Ann's take: %v", err)
	}
	if err := bo.KeepProposal(ctx, Proposal{TakeID: ids[ann], Rung: 1}); err == nil {
		t.Error("a proposal to bo after Ann's take was kept")
	}
	if _, err := bo.AddTake(ctx, Take{ReadID: ids[ann], Started: noon, Ended: noon, Outcome: KeptGoing}); err != nil {
		t.Error(err)
	}
	if got := belongings(t, bo); !strings.HasSuffix(got, " read b; read a;") {
		t.Errorf("bo played Ann's read: %s", got)
	}
}

func TestAs(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	listed := func() (names string) {
		all, err := j.Players(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range all {
			if !p.Added.Equal(noon) {
				t.Errorf("%s was added %v", p.Name, p.Added)
			}
			names += p.Name + " "
		}
		return names
	}
	usual := func(want string) {
		t.Helper()
		if got := as(t, j, "").Player(); got != want {
			t.Errorf("where nobody is named %q plays, want %q", got, want)
		}
	}
	usual("")
	ann, isNew, err := j.As(ctx, " Ann ")
	if err != nil || !isNew || ann.Player() != "Ann" || listed() != "" {
		t.Errorf("Ann: %q, new %v, %v, listed %q", ann.Player(), isNew, err, listed())
	}
	if err := ann.KeepLesson(ctx, noon, nil); err != nil {
		t.Fatal(err)
	}
	if listed() != "Ann " {
		t.Errorf("listed %q", listed())
	}
	if again, isNew, err := j.As(ctx, "aNN"); err != nil || isNew || again.Player() != "Ann" {
		t.Errorf("aNN: %q, new %v, %v", again.Player(), isNew, err)
	}
	usual("Ann") // the only one
	bo := as(t, j, "bo")
	if err := bo.KeepLesson(ctx, noon, nil); err != nil {
		t.Fatal(err)
	}
	usual("Ann") // nobody has played
	read := add(t, bo, march("a", 1))[0]
	if _, err := bo.AddTake(ctx, Take{ReadID: read, Started: noon, Ended: noon.Add(time.Minute), Outcome: Left}); err != nil {
		t.Fatal(err)
	}
	usual("bo") // played last
	if err := j.KeepLesson(ctx, noon, nil); err != nil {
		t.Fatal(err)
	}
	usual("") // has no name, and something in the journal
	if listed() != "Ann bo " {
		t.Errorf("listed %q", listed())
	}
	for _, name := range []string{"a\nb", "\xff", strings.Repeat("ä", 41)} {
		var refusal *NameError
		if _, _, err := j.As(ctx, name); !errors.As(err, &refusal) || !strings.Contains(err.Error(), "player ") {
			t.Errorf("%q: %v", name, err)
		}
	}
}
