package main

import (
	"strings"
	"testing"
)

// Players who share a journal have instrument, rung and what they know apart, and never
// read the same.
func TestPlayersShareAJournal(t *testing.T) {
	s := newStage(t)
	code, _, said := s.run("read", "--player", "Ann", "--seed", "1", "--rung", "2", "--instrument", "trumpet", "--look-over", "0")
	if code != exitFine || strings.Count(said, "Ann is a new player") != 1 || !strings.Contains(said, "the journal has no other") {
		t.Fatalf("exit code %d: %s", code, said)
	}
	code, _, said = s.run("read", "--player", "bo", "--seed", "2", "--rung", "5", "--instrument", "tuba-bb", "--look-over", "0")
	if code != exitFine || !strings.Contains(said, "bo is a new player") || !strings.Contains(said, "the journal has Ann") {
		t.Errorf("bo: %s", said)
	}
	for _, c := range []struct{ args, instrument string }{
		{"write --seed 3 --player ann", "trumpet"}, {"write --seed 4 --player bo", "b-flat tuba"}, {"write --seed 5", "b-flat tuba"}, // bo played last
	} {
		code, out, said := s.run(strings.Fields(c.args)...)
		if code != exitFine || said != "" {
			t.Errorf("%s: exit code %d: %s", c.args, code, said)
		}
		inOrder(t, strings.ToLower(out), c.instrument)
	}
	if a, b := fine(t, s, "figures --known --player Ann"), fine(t, s, "figures --known --player bo"); a == b || !strings.Contains(a, "%") || !strings.Contains(b, "%") {
		t.Errorf("Ann knows\n%s\nbo knows\n%s", a, b)
	}
	if out := fine(t, s, "read --player Ann --seed 2 --rung 5 --instrument tuba-bb --look-over 0"); !strings.Contains(out, "a repeat of your read") {
		t.Errorf("bo's read, asked by Ann, is not said to be had:\n%s", out)
	}
	if code, _, said := s.run("styles", "--player", "x"); code != exitFine || said != "" {
		t.Errorf("a verb without a journal: %d, %s", code, said)
	}
	code, _, said = s.run("write", "--player", strings.Repeat("x", 99))
	if code != exitRequest || !strings.Contains(said, "at most 40 letters") {
		t.Errorf("a long name: %d, %s", code, said)
	}
}
