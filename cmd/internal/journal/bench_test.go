package journal

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// long fills a journal with 10,000 reads of 60 runs of 9 notes and 8 measures, and reports its path.
func long(b *testing.B) string {
	b.Helper()
	j := fresh(b)
	for batch := range 10 {
		reads := make([]Read, 1000)
		for i := range reads {
			reads[i] = march(fmt.Sprintf("batch %d read %d", batch, i), 60)
			reads[i].Measures = bars(reads[i])
		}
		start := time.Now()
		add(b, j, reads...)
		b.Logf("batch %d of 1,000 reads: %v", batch, time.Since(start))
	}
	start := time.Now()
	if err := j.Close(); err != nil {
		b.Fatal(err)
	}
	info, err := os.Stat(j.path)
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("closed in %v, %d MB", time.Since(start), info.Size()>>20)
	return j.path
}

// bars are 8 made-up measures of a read, each of which stands in one read of a hundred.
func bars(r Read) []uint64 {
	var all []uint64
	for _, run := range r.Runs[:8] {
		all = append(all, run.Hash%800)
	}
	return all
}

// BenchmarkTenThousandReads measures what composing asks of a journal of 10,000 reads.
func BenchmarkTenThousandReads(b *testing.B) {
	ctx := context.Background()
	path := long(b)
	unseen := hashes(march("unseen", 60).Runs)
	b.Run("Process", func(b *testing.B) { processes(b, path) })
	b.Run("Open", func(b *testing.B) {
		for b.Loop() {
			if err := open(b, path).Close(); err != nil {
				b.Fatal(err)
			}
		}
	})
	j := open(b, path)
	b.Run("Seen", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if found, err := j.Seen(ctx, 9, unseen); err != nil || len(found) > 0 {
				b.Fatal(found, err)
			}
		}
	})
	b.Run("SharedMeasures", func(b *testing.B) {
		b.ReportAllocs()
		asked := bars(march("unseen", 60))
		for b.Loop() {
			if n, err := j.SharedMeasures(ctx, asked); err != nil || len(n) == 0 {
				b.Fatal(n, err)
			}
		}
	})
	b.Run("Recent100", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if reads, err := j.Recent(ctx, 100); err != nil || len(reads) != 100 {
				b.Fatal(len(reads), err)
			}
		}
	})
	b.Run("RunsWithRhythm1000", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if runs, err := j.RunsWithRhythm(ctx, 9, []uint64{7 << 58}, 1000); err != nil || len(runs[7<<58]) != 1000 {
				b.Fatal(len(runs[7<<58]), err)
			}
		}
	})
	b.Run("AddRead", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			add(b, j, march(fmt.Sprintf("one %d of %d", i, b.N), 60))
		}
	})
}

// BenchmarkBegin measures the making of a journal that is not there yet.
func BenchmarkBegin(b *testing.B) {
	dir := b.TempDir()
	for i := 0; b.Loop(); i++ {
		if err := open(b, filepath.Join(dir, fmt.Sprint(i), "journal.db")).Close(); err != nil {
			b.Fatal(err)
		}
	}
}

// processes measures a whole process that opens the journal at path, adds nothing, and
// ends.
func processes(b *testing.B, path string) {
	for b.Loop() {
		if out, err := process(b, path, 0).CombinedOutput(); err != nil {
			b.Fatalf("%v: %s", err, out)
		}
	}
}
