package main

import (
	"context"
	"os"
	"strings"
	"testing"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/midi/live"
)

// removeInATake removes the journal's file during the first take.
func (s *stage) removeInATake(t *testing.T) {
	begin := s.begin
	s.env.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
		if note == "" {
			t.Error("the take's process has no note to keep it by")
		}
		if len(s.rolls) == 0 {
			if err := os.Remove("journal.db"); err != nil {
				t.Error(err)
			}
		}
		return begin(ctx, r, sink, note)
	}
}

// A practice whose journal is removed during a take goes on with a new one: it has the read,
// the take and its marks, and then those that follow.
func TestPracticeOfARemovedJournal(t *testing.T) {
	s := newStage(t)
	s.removeInATake(t)
	var words []string
	lessons := 0
	s.practise(t, func(_ *session.Session, st session.State) *session.Action {
		switch {
		case st.Place == session.Slips && lessons < 2:
			words = append(words, st.Take.Words...)
			lessons++
			return &session.Action{Do: session.DoKeep}
		case st.Place == session.Meaning && lessons == 1:
			return &session.Action{Do: session.DoAgain}
		case st.Place == session.Meaning:
			return &session.Action{Do: session.DoQuit}
		}
		return nil
	}, "read", "--rung", "3", "--seed", "5", "--look-over", "0")
	if text := strings.Join(words, "; "); strings.Count(text, "was removed or replaced") != 1 {
		t.Errorf("told %q", text)
	}
	s.hasTakes(t, 1, 2, true)
}

// Reads that follow are kept clear of those that the new journal has.
func TestReadsOfARemovedJournal(t *testing.T) {
	s := newStage(t)
	s.removeInATake(t)
	_, errors := s.fineErr(t, "read --rung 3 --seed 5 --count 3")
	if strings.Count(errors, "was removed or replaced") != 1 {
		t.Errorf("told %q", errors)
	}
	s.hasTakes(t, 3, 3, false)
}

func (s *stage) fineErr(t *testing.T, line string) (out, errors string) {
	t.Helper()
	code, out, errors := s.run(strings.Fields(line)...)
	if code != exitFine {
		t.Fatalf("exit %d: %s", code, errors)
	}
	return out, errors
}

// hasTakes wants the journal to have so many reads and takes, all marked or none.
func (s *stage) hasTakes(t *testing.T, reads, takes int, marked bool) {
	t.Helper()
	j, err := journal.Open(t.Context(), "journal.db", s.now)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	n, fault := j.Count(t.Context())
	all, err := j.Takes(t.Context(), 100)
	if n != reads || fault != nil || len(all) != takes || err != nil {
		t.Errorf("%d reads, %v; takes %+v, %v", n, fault, all, err)
	}
	for _, take := range all {
		if take.Marked != marked {
			t.Errorf("take %+v", take)
		}
	}
}

// A damaged file of a take is said and set aside, and the program does what was asked.
func TestDamagedTakeIsSaid(t *testing.T) {
	s := newStage(t)
	if err := os.WriteFile("journal.db.take-12-00000000", []byte("{}"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, errors := s.fineErr(t, "journal")
	inOrder(t, errors, "onward: ", "journal.db.take-12-00000000:1: its check sum is not that in its name", "lies aside now, as ", "journal.db.take-12-00000000.damaged")
	if _, errors := s.fineErr(t, "journal"); errors != "" {
		t.Errorf("told again: %s", errors)
	}
}
