package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/live"
)

// takes reads the takes of the stage's journal.
func takes(t *testing.T, s *stage) []journal.Take {
	t.Helper()
	j, err := s.openJournal(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	all, err := j.Takes(context.Background(), 10)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// inOrder wants the texts in that order.
func inOrder(t *testing.T, out string, want ...string) {
	t.Helper()
	rest := out
	for _, w := range want {
		i := strings.Index(rest, w)
		if i < 0 {
			t.Fatalf("no %q after what goes before it, in\n%s", w, out)
		}
		rest = rest[i+len(w):]
	}
}

func TestReadPlainLines(t *testing.T) {
	s := newStage(t)
	began := s.clock
	out := fine(t, s, "read --seed 7 --measures 8 --meter 2/4")
	wantFiles(t, ".", "reads/march-r3-7.json", "reads/march-r3-7.mid", "reads/march-r3-7.musicxml")
	inOrder(t, out, "march, rung 3, seed 7\n", "page ", "march-r3-7.musicxml\n", "sound      a loudspeaker\n",
		"Look it over:\n", "clef, key ", "meter      2/4: 2 beats in a measure, each a quarter\n", "tempo ", "form ",
		"the count-in comes in 30s\n", "in 10s\n", "in 5s\n",
		"tonic chord\n", "count-in 1\n", "count-in 2\n", "measure 1 of 8\n", "measure 2 of 8\n", "measure 8 of 8\n",
		"The end.", "most in    measure ", "rest ", "where it hurts, stop",
		"again      onward read --style march --rung 3 --instrument euphonium-tc --meter 2/4 --measures 8 --seed 7\n")
	if strings.Count(out, "measure 2 of 8\n") != 1 || strings.Contains(out, "\r") {
		t.Errorf("not one line for each measure:\n%q", out)
	}
	if len(s.rolls) != 1 || s.sink != "font:auto" {
		t.Fatalf("%d takes, the last on %q", len(s.rolls), s.sink)
	}
	if passed := s.clock.Sub(began); passed != 30*time.Second+s.rolls[0].End {
		t.Errorf("it took %v, want 30s and the take's %v", passed, s.rolls[0].End)
	}
	all := takes(t, s)
	if len(all) != 1 || all[0].Outcome != journal.KeptGoing || all[0].ReadID != 1 || all[0].Ended.Sub(all[0].Started) != s.rolls[0].End {
		t.Errorf("takes %+v", all)
	}
}

// On a terminal the look-over's clock and the beat stand on one line each.
func TestReadOnATerminal(t *testing.T) {
	s := newStage(t)
	s.terminal = true
	out := fine(t, s, "read --seed 7 --measures 4 --look-over 3s")
	inOrder(t, out, "\rthe count-in comes in 3s", "\rthe count-in comes in 2s", "\rthe count-in comes in 1s",
		"\rtonic chord  beat 1", "\rmeasure 1 of 4  beat 1", "\rmeasure 1 of 4  beat 2", "The end.")
	if strings.Contains(out, "measure 1 of 4\n") {
		t.Errorf("a line for a measure:\n%q", out)
	}
	for _, l := range strings.FieldsFunc(out, func(r rune) bool { return r == '\n' || r == '\r' }) {
		if len([]rune(l)) > lineWidth && !strings.HasPrefix(l, "again") {
			t.Errorf("more than %d columns: %q", lineWidth, l)
		}
	}
}

func TestReadWithoutLookOver(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "read --seed 7 --look-over 0 --count 2")
	if strings.Contains(out, "Look it over") || strings.Contains(out, "comes in") || len(s.rolls) != 2 {
		t.Errorf("%d takes:\n%s", len(s.rolls), out)
	}
}

func TestReadSaysThatThereIsNoSound(t *testing.T) {
	s := newStage(t)
	s.tried = found{words: "no sound device", silent: true}
	inOrder(t, fine(t, s, "read --look-over 0"), "sound      none: no sound device. The take runs in silence, in real time.\n", "tonic chord\n", "The end.")
}

// With --json the document alone is printed; the words go to standard error.
func TestReadDocument(t *testing.T) {
	s := newStage(t)
	code, out, words := s.run("read", "--json", "--look-over", "0")
	var d any
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != exitFine {
		t.Errorf("exit code %d, %v in\n%s", code, err, out)
	}
	inOrder(t, words, "tonic chord", "The end.")
}

func TestReadsThatEndEarly(t *testing.T) {
	for _, c := range []struct {
		set     func(*stage)
		code    int
		said    string
		outcome journal.Outcome
	}{
		{func(s *stage) { s.report.Left, s.beats = true, 8 }, exitInterrupted, "left at measure 1; the band is silent\n", journal.Left},
		{func(s *stage) { s.report.Left, s.beats = true, 3 }, exitInterrupted, "left at the start; the band is silent\n", journal.Left},
		{func(s *stage) { s.fails = errors.New("the port died") }, exitFault, "onward: the port died\n", journal.Failed},
		{func(s *stage) { s.refuses, s.tried.named = errors.New("no such port"), true }, exitRequest, "onward: no such port\n", ""},
		{func(s *stage) { s.refuses = errors.New("no memory") }, exitFault, "onward: no memory\n", ""},
	} {
		s := newStage(t)
		c.set(s)
		code, out, err := s.run("read", "--look-over", "0", "--meter", "2/4")
		if code != c.code || !strings.HasSuffix(out+err, c.said) || strings.Contains(out, "The end.") {
			t.Errorf("exit code %d, want %d; printed %q and %q, want %q", code, c.code, out, err, c.said)
		}
		all := takes(t, s)
		if c.outcome == "" && len(all) > 0 || c.outcome != "" && (len(all) != 1 || all[0].Outcome != c.outcome) {
			t.Errorf("%q: takes %+v, want %q", c.said, all, c.outcome)
		}
	}
}

func TestReadLeftDuringTheLookOver(t *testing.T) {
	s := newStage(t)
	ctx, cancel := context.WithCancel(context.Background())
	wait := s.wait
	s.wait = func(ctx context.Context, d time.Duration) error {
		cancel()
		return wait(ctx, d)
	}
	code, _, _ := s.runIn(ctx, "read")
	if code != exitInterrupted || len(s.rolls) > 0 || len(pages(t, "reads")) != 3 {
		t.Errorf("exit code %d, %d takes, files %v", code, len(s.rolls), pages(t, "reads"))
	}
}

// Lateness that is worth a word is said, and kept in the journal.
func TestReadTellsOfABusyMachine(t *testing.T) {
	s := newStage(t)
	s.report = live.Report{VeryLate: 2, Hopeless: 1, Dropped: 1, P50: time.Millisecond, Max: 250 * time.Millisecond}
	inOrder(t, fine(t, s, "read --look-over 0"), "this machine was busy: 3 events came late, 1 note left out")
	if all := takes(t, s); all[0].LateMedian != time.Millisecond || all[0].LateMax != 250*time.Millisecond || all[0].Dropped != 1 {
		t.Errorf("take %+v", all[0])
	}
}

// What is played is what the file holds.
func TestTakeIsTheFile(t *testing.T) {
	s := newStage(t)
	plain := fmt.Sprint(len(rollOf(t, s, "read --seed 3 --look-over 0").Events))
	guide := fmt.Sprint(len(rollOf(t, s, "read --seed 3 --look-over 0 --guide").Events))
	click := fmt.Sprint(len(rollOf(t, s, "read --seed 3 --look-over 0 --click").Events))
	if plain == guide || plain == click {
		t.Errorf("%s events, with the guide %s, with the click %s", plain, guide, click)
	}
}

func rollOf(t *testing.T, s *stage, args string) *live.Roll {
	t.Helper()
	fine(t, s, args)
	return s.rolls[len(s.rolls)-1]
}
