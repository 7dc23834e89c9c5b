package journal

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// sealed makes a journal of some reads that was closed, and reports its path and bytes.
func sealed(t *testing.T, reads ...Read) (string, []byte) {
	t.Helper()
	j := fresh(t)
	if len(reads) == 0 {
		reads = []Read{march("a", 20), march("b", 20), march("c", 20)}
	}
	takeOf(t, as(t, j, "Ann"), "of Ann")
	add(t, j, reads...)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(j.path)
	if err != nil {
		t.Fatal(err)
	}
	return j.path, whole
}

// put writes a file that is there.
func put(t *testing.T, path string, content []byte) {
	t.Helper()
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
}

// A bit that flips anywhere in a journal is noticed before anything is written to it, and the
// copy is named. ONWARD_LONG=1 flips 1,000.
func TestFlippedBitIsNoticed(t *testing.T) {
	flips := 50
	if os.Getenv("ONWARD_LONG") != "" {
		flips = 1000
	}
	path, whole := sealed(t)
	seed := uint64(time.Now().UnixNano())
	rng := rand.New(rand.NewPCG(seed, 0))
	noticed := 0
	for range flips {
		bit := rng.IntN(8 * len(whole))
		flipped := bytes.Clone(whole)
		flipped[bit/8] ^= 1 << (bit % 8)
		put(t, path, flipped)
		j, err := Open(context.Background(), path, clock)
		if err == nil {
			j.Close()
			t.Errorf("seed %d: bit %d of byte %d: not noticed", seed, bit%8, bit/8)
			continue
		}
		noticed++
		var refusal *Refusal
		if !errors.As(err, &refusal) || bit/8 >= 100 && !strings.Contains(err.Error(), "a copy of 1 March 2026, ") || bit/8 >= 100 && !strings.Contains(err.Error(), path+".copy") {
			t.Errorf("seed %d: bit %d of byte %d: %v", seed, bit%8, bit/8, err)
		}
		if after, err := os.ReadFile(path); err != nil || !bytes.Equal(after, flipped) {
			t.Errorf("seed %d: bit %d of byte %d: the file was written to, %v", seed, bit%8, bit/8, err)
		}
	}
	t.Logf("%d of %d noticed", noticed, flips)
	put(t, path, whole)
	open(t, path)
}

// Without its seal a journal is checked by SQLite, which sees what is wrong with its pages and
// its indexes.
func TestUnsealedJournalIsChecked(t *testing.T) {
	path, whole := sealed(t)
	if err := os.Remove(path + ".seal"); err != nil {
		t.Fatal(err)
	}
	open(t, path).Close()
	run := march("b", 20).Runs[7].Intervals
	for from, done := 0, false; !done; {
		i := bytes.Index(whole[from:], run)
		if i < 0 {
			t.Fatal("the run stands nowhere")
		}
		from += i
		whole[from] ^= 4
		done = true // in one of the two trees that hold it
	}
	put(t, path, whole)
	refused(t, path, "is damaged", path+".copy")
}

// A killed process leaves a log beside the file. A bit that flips in the file is noticed all
// the same, and neither is written to: neither where the file is as it was sealed nor where some
// of the log was folded in since.
func TestDamageBesideALogIsNoticed(t *testing.T) {
	path, _ := sealed(t)
	j := open(t, path)
	add(t, j, march("logged", 20))
	killed := map[string]string{"as sealed": asKilled(t, j)}
	if _, err := j.db.Exec("PRAGMA wal_checkpoint(FULL)"); err != nil {
		t.Fatal(err)
	}
	if err := j.KeepLesson(context.Background(), noon, []byte("later")); err != nil {
		t.Fatal(err)
	}
	killed["folded in"] = asKilled(t, j)
	for from, path := range killed {
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		flipped := bytes.Clone(whole)
		flipped[bytes.Index(whole, march("b", 20).Runs[7].Intervals)] ^= 4 // in one of the two trees that hold it
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		put(t, path, flipped)
		if err := os.Chtimes(path, info.ModTime(), info.ModTime()); err != nil { // a disk says nothing
			t.Fatal(err)
		}
		log, err := os.ReadFile(path + "-wal")
		if err != nil || len(log) == 0 {
			t.Fatal(len(log), err)
		}
		var refusal *Refusal
		if j, err := Open(context.Background(), path, clock); !errors.As(err, &refusal) || !strings.Contains(err.Error(), "is damaged") {
			t.Errorf("%s: %v", from, err)
			if err == nil {
				j.Close()
			}
		}
		file, err := os.ReadFile(path)
		logged, err2 := os.ReadFile(path + "-wal")
		if err != nil || err2 != nil || !bytes.Equal(file, flipped) || !bytes.Equal(logged, log) {
			t.Errorf("%s: it was written to, %v, %v", from, err, err2)
		}
		put(t, path, whole)
		if got := readsAt(t, path); !strings.Contains(got, "logged") {
			t.Errorf("%s: whole it has %q", from, got)
		}
	}
}

// A larger file is read through where its size or date has changed, and once a day.
func TestLargeFileIsReadNowAndThen(t *testing.T) {
	path, whole := sealed(t, Read{Identity: "long", Melody: bytes.Repeat([]byte("la"), quickly)})
	info, err := os.Stat(path)
	if err != nil || info.Size() <= quickly {
		t.Fatal(info.Size(), err)
	}
	changed := bytes.Clone(whole)
	changed[len(whole)-5000] ^= 1
	put(t, path, changed)
	refused(t, path, "is damaged")
	if err := os.Chtimes(path, info.ModTime(), info.ModTime()); err != nil {
		t.Fatal(err)
	}
	open(t, path).Close()
	j, err := Open(context.Background(), path, func() time.Time { return noon.Add(often) })
	if err == nil {
		j.Close()
		t.Error("a day later it was not read")
	}
	put(t, path, whole)
	later, err := Open(context.Background(), path, func() time.Time { return noon.Add(often) })
	if err != nil {
		t.Fatal(err)
	}
	later.Close()
	if s, ok := readSeal(path); !ok || !s.Compared.Equal(noon.Add(often)) || s.Modified.Equal(info.ModTime()) {
		t.Errorf("what was compared is not told: %+v, %v", s, ok)
	}
}

// at opens the journal at a time, adds a read, and closes it.
func at(t *testing.T, path string, when time.Time, identity string) {
	t.Helper()
	j, err := Open(context.Background(), path, func() time.Time { return when })
	if err != nil {
		t.Fatal(err)
	}
	add(t, j, march(identity, 3))
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
}

// reads says what reads the journal at path has.
func readsAt(t *testing.T, path string) (all string) {
	t.Helper()
	j := open(t, path)
	defer j.Close()
	reads, err := j.Reads(context.Background(), 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range reads {
		all += r.Identity
	}
	return all
}

// A copy is made once a day, after a write, and is a journal as it was then, which can take
// the place of the one it is of.
func TestCopyOnceADay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	at(t, path, noon, "a")
	at(t, path, noon.Add(often-time.Second), "b")
	if got := readsAt(t, path+".copy"); got != "a" {
		t.Errorf("the copy has %q, want a", got)
	}
	at(t, path, noon.Add(often), "c")
	open(t, path).Close()
	copied, err := os.ReadFile(path + ".copy")
	if err != nil {
		t.Fatal(err)
	}
	at(t, path, noon.Add(often+time.Hour), "d")
	if got := readsAt(t, path); got != "dcba" {
		t.Errorf("the journal has %q, want dcba", got)
	}
	put(t, path, copied)
	if got := readsAt(t, path); got != "cba" {
		t.Errorf("put back it has %q, want cba", got)
	}
	at(t, path, noon.Add(often+2*time.Hour), "e")
	if got := readsAt(t, path); got != "ecba" {
		t.Errorf("put back and written to it has %q, want ecba", got)
	}
}

// The copy of a journal that was moved away is not lost to the one begun in its place.
func TestCopyOfAnotherJournalStays(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	at(t, path, noon, "a")
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	at(t, path, noon.Add(2*often), "b")
	at(t, path, noon.Add(4*often), "c")
	for name, want := range map[string]string{path + ".copy": "cb", path + ".copy.1": "a"} {
		if got := readsAt(t, name); got != want {
			t.Errorf("%s has %q, want %q", name, got, want)
		}
	}
	if _, err := os.Stat(path + ".copy.2"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("its own copy was put aside, %v", err)
	}
}

// No copy is made of a damaged journal, and that it is damaged is told when it is closed.
func TestDamagedJournalIsNotCopied(t *testing.T) {
	path, _ := sealed(t)
	copied, err := os.ReadFile(path + ".copy")
	if err != nil {
		t.Fatal(err)
	}
	j, err := Open(context.Background(), path, func() time.Time { return noon.Add(2 * often) })
	if err != nil {
		t.Fatal(err)
	}
	add(t, j, march("d", 1))
	if _, err := j.db.Exec(`PRAGMA writable_schema = 1; UPDATE sqlite_schema SET sql = replace(sql, 'runs (length, rhythm', 'runs (rhythm, length')
		WHERE name = 'runs_rhythm'; PRAGMA writable_schema = RESET`); err != nil {
		t.Fatal(err)
	}
	var refusal *Refusal
	if err := j.Close(); !errors.As(err, &refusal) || !strings.Contains(err.Error(), "is damaged") {
		t.Errorf("closed: %v", err)
	}
	if after, err := os.ReadFile(path + ".copy"); err != nil || !bytes.Equal(after, copied) {
		t.Errorf("the copy is another, %v", err)
	}
}

// While others have the journal open, it is closed and sealed, and what they write is well.
func TestSealBesideOthers(t *testing.T) {
	path, _ := sealed(t)
	a, b := open(t, path), open(t, path)
	add(t, a, march("of a", 1))
	if err := a.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, path).Close()
	add(t, b, march("of b", 1))
	open(t, path).Close()
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if s, ok := readSeal(path); !ok {
		t.Error("it is not sealed")
	} else if info, err := os.Stat(path); err != nil || !s.Modified.Equal(info.ModTime()) {
		t.Errorf("the seal is not of the last state, %v", err)
	}
	if got := readsAt(t, path); !strings.Contains(got, "of a") || !strings.Contains(got, "of b") {
		t.Errorf("it has %q", got)
	}
}

// A file whose version does not go with its tables is refused in words.
func TestVersionOutOfStep(t *testing.T) {
	for _, c := range []struct {
		schemas, says int
	}{{len(tablesOf(t)), 7}, {8, len(tablesOf(t))}, {3, 2}} {
		path := versionOf(t, c.schemas, fmt.Sprintf("PRAGMA user_version = %d", c.says))
		t.Run(fmt.Sprintf("%d for %d", c.says, c.schemas), func(t *testing.T) {
			refused(t, path, fmt.Sprintf("is damaged: it says that its schema is number %d, and its tables are not those of that", c.says))
		})
	}
}

// tablesOf lists the schemas.
func tablesOf(t *testing.T) []string {
	t.Helper()
	steps, err := migrations(schema)
	if err != nil {
		t.Fatal(err)
	}
	return steps
}

// What killed processes left of a journal that they were beginning, of a seal or of a copy is
// removed, and what is in the making, or another's, is left alone.
func TestSweeps(t *testing.T) {
	path, _ := sealed(t)
	dir := filepath.Dir(path)
	old := []string{".journal.db.begun-1", ".journal.db.begun-1-journal", ".journal.db.seal-1", ".journal.db.copy-1"}
	young := []string{".journal.db.begun-2", ".journal.db.seal-2", ".journal.db.copy-2"}
	other := []string{".k.db.begun-1", ".k.db.seal-1", ".journal.db.swp"}
	for _, name := range slices.Concat(old, young, other) {
		put(t, filepath.Join(dir, name), []byte("x"))
	}
	long := time.Now().Add(-2 * oldLeftover)
	for _, name := range slices.Concat(old, other) {
		if err := os.Chtimes(filepath.Join(dir, name), long, long); err != nil {
			t.Fatal(err)
		}
	}
	open(t, path)
	for _, name := range slices.Concat(old, young, other) {
		if _, err := os.Stat(filepath.Join(dir, name)); (err == nil) == slices.Contains(old, name) {
			t.Errorf("%s: there %v", name, err == nil)
		}
	}
}
