package main

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/report"
	"onward/compose/figure"
)

func TestJournalFlags(t *testing.T) {
	for args, want := range map[string]journalOptions{
		"":                        {Weeks: 4, Journal: "j.db"},
		"--weeks 12 --html x.htm": {Weeks: 12, HTML: "x.htm", Journal: "j.db"},
		"--json":                  {Weeks: 4, JSON: true, Journal: "j.db"},
	} {
		var got *journalOptions
		path := "j.db"
		execute(t, newJournal(&env{}, &path, func(o *journalOptions) error { got = o; return nil }), args)
		if got == nil || !reflect.DeepEqual(*got, want) {
			t.Errorf("journal %s: got %+v, want %+v", args, got, want)
		}
	}
}

// practisedTwice plays two reads, marks the first, and keeps what was proposed after it.
func practisedTwice(t *testing.T, s *stage) {
	t.Helper()
	fine(t, s, "read --plain --rung 4 --measures 8 --meter 2/4 --key Eb --seed 3 --look-over 0 --instrument trombone")
	s.clock = s.clock.Add(time.Minute)
	fine(t, s, "read --plain --rung 2 --style lyrical --seed 4 --look-over 0 --instrument trombone --slower 80%")
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	past, err := j.History(t.Context())
	if err != nil || len(past) != 2 {
		t.Fatalf("%d takes, %v", len(past), err)
	}
	m := journal.Marks{StoppedAt: journal.NotStopped, Slips: []journal.Slip{{Measure: 1, Pitch: true}, {Measure: 2, Rhythm: true}}}
	err = errors.Join(j.Mark(t.Context(), past[0].ID, m), j.KeepProposal(t.Context(), journal.Proposal{TakeID: past[0].ID,
		Style: "march", Rung: 5, Coverage: 0.9, New: 1, Pressure: []string{journal.Cover}, Why: "You read enough.\nGo on."}), j.Close())
	if err != nil {
		t.Fatal(err)
	}
}

func TestJournalShowsWeeks(t *testing.T) {
	s := newStage(t)
	inOrder(t, fine(t, s, "journal"), "Your journal: 4 weeks to 1 March 2026", "23 Feb", "streak     none yet", "next       nothing is proposed yet")
	practisedTwice(t, s)
	inOrder(t, fine(t, s, "journal --weeks 1"), "Your journal: 1 week to 1 March 2026\n", "23 Feb", "2    78 %\n", // 7 of 9: an upbeat, too
		"streak     1 day running", "in 2 takes, and 1 min of rest", "78 % of 9 measures, in 1 take that is marked",
		"march      rung 4; 1 take, 78 % right", "right, take by take", "lyrical    rung 2; 1 take\n",
		"next       march, rung 5, 90 % of the notes in figures you know, 1 new figure,\n           with cover. You read enough. Go on.\n")
	var got report.Summary
	if err := json.Unmarshal([]byte(fine(t, s, "journal --json")), &got); err != nil {
		t.Fatal(err)
	}
	if got.Takes != 2 || len(got.Weeks) != 4 || got.Right != 7 || got.Of != 9 || got.Styles[0].Heard[0].Load <= 0 || len(got.Next.Why) != 2 {
		t.Errorf("got %+v", got)
	}
	if _, out, _ := s.run("journal", "--player", "Ann"); !strings.Contains(out, "Journal of Ann") || strings.Contains(out, "march") {
		t.Errorf("another player's:\n%s", out)
	}
}

// Figures and keys are told in words, and those that slipped.
func TestJournalWords(t *testing.T) {
	s := newStage(t)
	practisedTwice(t, s)
	j, err := s.openJournal(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	sum, err := summarize(t.Context(), s.env, j, 1)
	if err != nil {
		t.Fatal(err)
	}
	past, err := j.History(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	take, err := takeOf(&past[0], figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range take.Figures {
		if f.Key != "E-flat major" || !strings.Contains(f.Figure, ", on ") {
			t.Errorf("figure %+v", f)
		}
	}
	if len(take.Figures) == 0 || len(take.Loads) != take.Measures || sum.Marked != 1 {
		t.Errorf("take %+v", take)
	}
	for name, want := range map[string]string{"triad up": "three notes up the chord, on two eighths", "own 1": "own 1, on two eighths"} {
		if got := metWords(figure.Default(), metFigure{Shape: name, Cell: "two eighths"}); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

func TestJournalPage(t *testing.T) {
	s := newStage(t)
	practisedTwice(t, s)
	if out := fine(t, s, "journal --html report.html"); out != "written    report.html\n" {
		t.Errorf("said %q", out)
	}
	page, err := os.ReadFile("report.html")
	if err != nil {
		t.Fatal(err)
	}
	for d := xml.NewDecoder(strings.NewReader(string(page))); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	inOrder(t, string(page), "<!DOCTYPE html>", "4 weeks to 1 March 2026", "<svg", "Load read right", "Weak keys")
}

// What is exported and imported elsewhere is the same there, and again makes nothing more.
func TestJournalExportAndImport(t *testing.T) {
	s := newStage(t)
	practisedTwice(t, s)
	writeDrill(t, "scales.musicxml")
	fine(t, s, "learn --save mine scales.musicxml")
	if code, _, said := s.run("warmup", "--player", "Ann"); code != exitFine || !strings.Contains(said, "Ann is a new player") {
		t.Errorf("Ann's warm-up: %d, %s", code, said)
	}
	fine(t, s, "journal export a.jsonl")
	a, err := os.ReadFile("a.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	if out := fine(t, s, "journal export"); out != string(a) {
		t.Error("the file is not what is printed")
	}
	inOrder(t, fine(t, s, "journal import a.jsonl --journal other.db"),
		"added      1 player, 2 reads, 2 takes, 1 marked take, 1 lesson, 1 warm-up, 1", "saved name, 1 proposal", "had        nothing")
	inOrder(t, fine(t, s, "journal import a.jsonl --journal other.db"), "added      nothing", "had        1 player, 2 reads,")
	if out := fine(t, s, "journal export --journal other.db"); out != string(a) {
		t.Errorf("exported there:\n%.2000s\nhere:\n%.2000s", out, a)
	}
	if here, there := fine(t, s, "journal"), fine(t, s, "journal --journal other.db"); here != there {
		t.Errorf("here\n%s\nthere\n%s", here, there)
	}
	if here, there := fine(t, s, "figures --known"), fine(t, s, "figures --known --journal other.db"); here != there {
		t.Errorf("known here\n%s\nthere\n%s", here, there)
	}
}

func TestJournalRefusals(t *testing.T) {
	s := newStage(t)
	practisedTwice(t, s)
	fine(t, s, "journal export a.jsonl")
	text, err := os.ReadFile("a.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	lines[2] = lines[2][:len(lines[2])/2] + "\n"
	if err := errors.Join(os.WriteFile("torn.jsonl", []byte(strings.Join(lines, "")), 0o600), os.Mkdir("folder", 0o700)); err != nil {
		t.Fatal(err)
	}
	for args, want := range map[string]string{
		"journal --weeks 0":                        "--weeks 0: write 1 to 520",
		"journal --html":                           "flag needs an argument",
		"journal --html x.html --json":             "choose one",
		"journal now":                              "unknown command",
		"journal import":                           "accepts 1 arg",
		"journal import nowhere.jsonl":             "file nowhere.jsonl: no such file",
		"journal import torn.jsonl --journal n.db": "torn.jsonl:3: the line is no JSON object: unexpected end of JSON input\nnothing was imported",
		"journal --html no/x.html":                 "file no/x.html: no such file or directory: name a file",
		"journal export folder":                    "file folder: file exists: name a file",
		"journal export no/x.jsonl":                "file no/x.jsonl: ",
	} {
		code, out, said := s.run(strings.Fields(args)...)
		if code != exitRequest || out != "" || !strings.Contains(said, want) {
			t.Errorf("%s: exit code %d, %q, %q; want %q", args, code, out, said, want)
		}
	}
	if left, err := filepath.Glob(".onward-*"); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
