package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/styles"
	"onward/theory"
)

// BenchmarkBatch measures a batch of 1,000 snippets, files and journal included, into an
// empty journal and into one of 1,000 reads and more.
func BenchmarkBatch(b *testing.B) {
	b.ReportAllocs()
	b.Chdir(b.TempDir())
	for i := 0; b.Loop(); i++ {
		bench(b, "write", "--count", "1000", "--seed", fmt.Sprint(1000*i), "--journal", "j.db", "--out", "out")
	}
}

// BenchmarkProcess measures the whole program, from start to end, as it writes a snippet.
func BenchmarkProcess(b *testing.B) {
	program := built(b)
	b.Chdir(b.TempDir())
	processes(b, program, "--journal", "j.db")
}

// BenchmarkLongJournal measures what the program does for a player who has drilled 100
// exercises and had 10,000 reads.
func BenchmarkLongJournal(b *testing.B) {
	program := built(b)
	b.Chdir(b.TempDir())
	drilling(b, 100)
	remember(b, 10_000)
	asked := []string{"--rung", fmt.Sprint(benchRung), "--figures", "drills", "--journal", "j.db"}
	b.Run("SixteenMeasures", func(b *testing.B) {
		composing(b, &requestOptions{Style: "march", Rung: benchRung, Measures: 16})
	})
	b.Run("WholeMarch", func(b *testing.B) {
		composing(b, &requestOptions{Style: "march", Rung: benchRung, Form: "march"})
	})
	b.Run("Song", func(b *testing.B) {
		composing(b, &requestOptions{Style: "lyrical", Rung: benchRung, Form: "song"})
	})
	b.Run("Process", func(b *testing.B) { processes(b, program, asked...) })
	b.Run("Batch", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			bench(b, append([]string{"write", "--count", "1000", "--seed", fmt.Sprint(1_000_000 + 1000*i), "--out", "out"}, asked...)...)
		}
	})
}

// benchRung is the rung of the benchmarks that ask for one: runs of nine notes count there.
const benchRung = 6

// bench runs the program and wants it to succeed.
func bench(b *testing.B, args ...string) {
	b.Helper()
	e := thisMachine()
	var faults bytes.Buffer
	e.out, e.err = &bytes.Buffer{}, &faults
	if code := run(context.Background(), e, args); code != exitFine {
		b.Fatalf("onward %q: exit code %d: %s", args, code, faults.String())
	}
}

// built builds the program and reports its path.
func built(b *testing.B) string {
	b.Helper()
	program := filepath.Join(b.TempDir(), "onward")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	return program
}

// processes measures the program as it writes a snippet, from start to end.
func processes(b *testing.B, program string, flags ...string) {
	for i := 0; b.Loop(); i++ {
		args := append([]string{"write", "--seed", fmt.Sprint(i), "--out", "out"}, flags...)
		if out, err := exec.Command(program, args...).CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
	}
}

// composing measures the composing of reads, one after the other, in one invocation. What
// is asked is completed: the drills, and the journal j.db, to which nothing is added.
func composing(b *testing.B, o *requestOptions) {
	ctx := context.Background()
	o.Instrument, o.Journal, o.Figures = "euphonium-tc", "j.db", []string{"drills"}
	o.Seed, o.Seeded, o.Count = 5_000_000, true, 1
	s, err := openStudio(ctx, thisMachine(), o)
	if err != nil {
		b.Fatal(err)
	}
	defer s.close()
	if s.earlier < 10_000 || len(s.req.Drills) < 100 {
		b.Fatalf("%d earlier reads, %d lines drilled", s.earlier, len(s.req.Drills))
	}
	b.ReportAllocs()
	for seed := o.Seed; b.Loop(); seed++ {
		if _, err := s.compose(ctx, seed); err != nil {
			b.Fatal(err)
		}
	}
}

// drilling has the program learn so many exercises, and saves them as "drills" in j.db.
func drilling(b *testing.B, count int) {
	b.Helper()
	bench(b, "write", "--count", fmt.Sprint(count), "--rung", fmt.Sprint(benchRung), "--seed", "2000000", "--journal", "other.db", "--out", "drills")
	pages, err := filepath.Glob(filepath.Join("drills", "*"+pageSuffix))
	if err != nil || len(pages) != count {
		b.Fatalf("%d exercises, %v", len(pages), err)
	}
	bench(b, append([]string{"learn", "--save", "drills", "--journal", "j.db"}, pages...)...)
}

// remember fills j.db with earlier reads: snippets, each of which stands for many of the
// same rhythm and other pitches.
func remember(b *testing.B, count int) {
	b.Helper()
	const each = 50
	w := compose.World{Catalogue: figure.Default()}
	var err error
	if w.Ladder, err = ladder.Default(w.Catalogue); err != nil {
		b.Fatal(err)
	}
	j, err := thisMachine().openJournal(context.Background(), "j.db")
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	for first := 0; first < count; first += 20 * each {
		var rows []journal.Read
		for n := first; n < first+20*each && n < count; n += each {
			lines, measures := earlierLines(b, &w, uint64(3_000_000+n))
			for i := range each {
				rows = append(rows, earlierRead(lines, measures, n+i, w.Ladder.Runs()))
			}
		}
		if _, err := j.AddReads(context.Background(), rows); err != nil {
			b.Fatal(err)
		}
	}
}

// earlierLines composes a snippet of the benchmarks' rung and reports its lines and
// measures.
func earlierLines(b *testing.B, w *compose.World, seed uint64) ([]compose.Line, []uint64) {
	b.Helper()
	sheet, err := styles.Shipped(styles.Names()[seed/50%2])
	if err != nil {
		b.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		b.Fatal(err)
	}
	r, err := compose.Compose(w, compose.Request{Style: sheet, Rung: benchRung, Instrument: in, Seed: seed})
	if err != nil {
		b.Fatal(err)
	}
	return compose.Lines(&r.Score.Parts[0], longestRun(w.Ladder)-1), compose.MeasuresOf(&r.Score.Parts[0])
}

// earlierRead is a read of the same rhythm as the lines, a third of its notes moved.
// Two of its measures stay.
func earlierRead(lines []compose.Line, measures []uint64, n int, lengths []int) journal.Read {
	rng := rand.New(rand.NewPCG(uint64(n), 5))
	measures = slices.Clone(measures)
	for _, i := range rng.Perm(len(measures))[min(2, len(measures)):] {
		measures[i] = rng.Uint64()
	}
	r := journal.Read{Identity: fmt.Sprint("earlier ", n), Title: "Earlier", Style: "march", Rung: benchRung, Instrument: "euphonium-tc", Measures: measures}
	moved := make([]compose.Line, len(lines))
	for i, l := range lines {
		moved[i] = compose.Line{MIDI: append([]int(nil), l.MIDI...), At: l.At}
		for k := range l.MIDI {
			if rng.IntN(3) == 0 {
				moved[i].MIDI[k] += 1 + rng.IntN(4)
			}
		}
		for _, length := range lengths {
			r.Runs = append(r.Runs, journalRuns(moved[i].Runs(length))...)
		}
	}
	r.Melody = encodeLines(moved)
	return r
}
