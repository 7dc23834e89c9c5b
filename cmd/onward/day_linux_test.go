package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"onward/cmd/internal/journal"
)

// TestDayInATerminal goes through a whole day in the real program on a terminal, with the
// one forward key: warm-up, rests, a song and a march, the first with a slip and a drill of
// it. The takes are in real time, so it is for long runs.
func TestDayInATerminal(t *testing.T) {
	if os.Getenv("ONWARD_LONG") == "" {
		t.Skip("two takes in real time: set ONWARD_LONG=1")
	}
	dir := t.TempDir()
	term := newTerminal(t)
	cmd := exec.Command("onward", "today", "--minutes", "15", "--sound", "off", "--no-stand", "--journal", filepath.Join(dir, "j.db"), "--out", dir)
	term.on(cmd)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	term.until(t, "Warm-up", 20*time.Second)
	seen, marked := map[string]int{}, 0
	for end := time.Now().Add(6 * time.Minute); seen["what it means"] < 2; {
		if time.Now().After(end) {
			t.Fatalf("not through by now: %v, at %q", seen, term.place())
		}
		was := term.place()
		switch was {
		case "choose", "warm-up", "drill", "rest", "look over", "what it means":
			time.Sleep(time.Second) // the key does nothing for a moment after an arrival
			term.press("\r")
		case "slips":
			time.Sleep(time.Second)
			if marked++; marked == 1 {
				term.press("\x1b[C\x1b[B") // the second measure: pitch
				time.Sleep(200 * time.Millisecond)
			}
			term.press("\r")
		}
		for range 50 {
			if time.Sleep(100 * time.Millisecond); term.place() != was {
				seen[term.place()]++
				break
			}
		}
	}
	for range 6 {
		term.press("q")
		time.Sleep(100 * time.Millisecond)
	}
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
	for _, place := range []string{"warm-up", "rest", "look over", "count-in", "take", "slips", "what it means", "drill"} {
		if seen[place] == 0 {
			t.Errorf("never at %q: %v", place, seen)
		}
	}
	j, err := journal.Open(context.Background(), filepath.Join(dir, "j.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	takes, err := j.Takes(context.Background(), 5)
	if err != nil || len(takes) != 2 || !takes[0].Marked || !takes[1].Marked || len(takes[1].Slips) != 1 {
		t.Errorf("takes %+v, %v", takes, err)
	}
}

var header = regexp.MustCompile(`(choose|making|warm-up|drill|rest|look over|count-in|take|slips|what it means) · step \d+ of \d+`)

// place is where the room was last seen.
func (t *terminal) place() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := header.FindAllSubmatch(t.seen.Bytes(), -1)
	if len(all) == 0 {
		return ""
	}
	return string(all[len(all)-1][1])
}
