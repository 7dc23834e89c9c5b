package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Reads that are kept some at a time are those that are made one by one.
func TestBatchKeptInPieces(t *testing.T) {
	s := newStage(t)
	const reads = readsAtOnce + 4
	fine(t, s, fmt.Sprintf("write --rung 2 --style lyrical --seed 1 --count %d --out batch", reads))
	for seed := 1; seed <= reads; seed++ {
		fine(t, s, fmt.Sprintf("write --rung 2 --style lyrical --seed %d --out single --journal other-journal.db", seed))
	}
	sameFiles(t, "batch", "single")
}

// What a batch has kept is in the journal, and no longer in memory.
func TestBatchHoldsFewReads(t *testing.T) {
	s := newStage(t)
	o := &requestOptions{Style: usualStyle, Rung: usualRung, Count: 2*readsAtOnce + 5, Seed: 1, Seeded: true, Out: "pages"}
	studio, err := openStudio(t.Context(), s.env, o)
	if err != nil {
		t.Fatal(err)
	}
	defer studio.close()
	b := &batch{studio: studio}
	if err := b.write(t.Context()); err != nil || b.written != o.Count {
		t.Fatalf("%d reads, %v", b.written, err)
	}
	if n := studio.memory.reads; n > readsAtOnce {
		t.Errorf("it remembers %d reads, want %d at most", n, readsAtOnce)
	}
}

// The real program collects in time where a read takes much memory.
func TestMemoryIsBounded(t *testing.T) {
	hoard := exec.Command("hoard")
	out, err := hoard.Output()
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`VmHWM:\s+(\d+) kB`).FindStringSubmatch(string(out))
	if found == nil {
		t.Skip("this system does not say how much memory a process has had")
	}
	if kilobytes, _ := strconv.Atoi(found[1]); kilobytes > 300<<10 {
		t.Errorf("it took %d MB, want 300 at most", kilobytes>>10)
	}
}

// hoard holds 90 MB, as the hardest reads do while they are made, lets go of ten times as
// much, and says what memory it has had.
func hoard() {
	collectLess()
	held := make([][]byte, 90)
	for i := range 10 * len(held) {
		held[i%len(held)] = bytes.Repeat([]byte{1}, 1<<20)
	}
	text, _ := os.ReadFile("/proc/self/status")
	os.Stdout.Write(text)
	runtime.KeepAlive(held)
}

// A batch that the player ends keeps what it has made, and says how to make the rest, which
// comes out as if it had not been ended.
func TestInterruptedBatchKeepsWhatIsMade(t *testing.T) {
	s := newStage(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	zero, asked := s.env.clock, 0
	s.env.clock = func() time.Duration {
		if asked++; asked == readsAtOnce+4 { // it is asked once at the start, and after each read
			cancel()
		}
		return zero()
	}
	code, out, said := s.runIn(ctx, "write", "--seed", "1", "--count", "30", "--out", "pages")
	const made = readsAtOnce + 3
	if want := fmt.Sprintf("%d of 30 reads are written and kept; the others: --seed %d --count %d\n", made, made+1, 30-made); code != exitInterrupted || said != want {
		t.Errorf("exit code %d, said %q, want %q", code, said, want)
	}
	if got := strings.Count(out, "\n"); got != made {
		t.Errorf("%d reads told, want %d", got, made)
	}
	if got := pages(t, "pages"); len(got) != 3*made {
		t.Errorf("%d files, want %d: %q", len(got), 3*made, got)
	}
	fine(t, s, fmt.Sprintf("write --seed %d --count %d --out pages", made+1, 30-made))
	fine(t, s, "write --seed 1 --count 30 --out whole --journal other-journal.db")
	sameFiles(t, "whole", "pages")
}

// A long batch says now and then how far it is.
func TestBatchSaysHowFarItIs(t *testing.T) {
	s := newStage(t)
	zero := s.env.clock
	s.env.clock = func() time.Duration {
		s.clock = s.clock.Add(2 * time.Second)
		return zero()
	}
	code, _, said := s.run("write", "--seed", "1", "--count", "7")
	if want := "3 of 7 reads\n6 of 7 reads\n"; code != exitFine || said != want {
		t.Errorf("exit code %d, said %q, want %q", code, said, want)
	}
}
