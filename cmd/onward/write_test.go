package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/musicxml"
)

// pages lists the files below a folder but for journals and exercises, hidden ones too.
func pages(t *testing.T, folder string) []string {
	t.Helper()
	var all []string
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.Contains(d.Name(), "journal.db") {
			all = append(all, filepath.ToSlash(path))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func wantFiles(t *testing.T, folder string, want ...string) {
	t.Helper()
	if got := pages(t, folder); !slices.Equal(got, want) {
		t.Errorf("files %q, want %q", got, want)
	}
}

func load(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func fine(t *testing.T, s *stage, args string) string {
	t.Helper()
	code, out, err := s.run(strings.Fields(args)...)
	if code != exitFine || err != "" {
		t.Fatalf("onward %s: exit code %d: %s", args, code, err)
	}
	return out
}

func TestWritePlainLines(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "write --instrument trumpet --tempo 90 --out pages")
	wantFiles(t, ".", "pages/march-r3-4242.json", "pages/march-r3-4242.mid", "pages/march-r3-4242.musicxml")
	for _, want := range []string{
		"march, rung 3, seed 4242\n", "for        Trumpet in B-flat, in written ", " = 90, ",
		"never seen no 12 notes in a row return from anything: it is your first read;",
		filepath.Join("pages", "march-r3-4242.musicxml") + " (.mid .json)\n",
		"onward write --style march --rung 3 --instrument trumpet --tempo 90 --out pages --seed 4242\n",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	for _, l := range strings.Split(out, "\n") {
		if len([]rune(l)) > lineWidth && !strings.HasPrefix(l, "again") {
			t.Errorf("more than %d columns: %s", lineWidth, l)
		}
	}
}

// The document is printed as it is written, and says what the other files say.
func TestWriteDocument(t *testing.T) {
	s := newStage(t)
	out := fine(t, s, "write --seed 7 --rung 8 --json")
	if text := load(t, "march-r8-7.json"); out != string(text) {
		t.Errorf("printed\n%s\nwrote\n%s", out, text)
	}
	var d compose.Document
	r := json.NewDecoder(strings.NewReader(out))
	r.DisallowUnknownFields()
	if err := r.Decode(&d); err != nil {
		t.Fatal(err)
	}
	page := string(load(t, "march-r8-7.musicxml"))
	band := load(t, "march-r8-7.mid")
	for _, want := range []string{d.Identity.Request, d.Title} {
		if want == "" || !strings.Contains(page, want) || !bytes.Contains(band, []byte(want)) {
			t.Errorf("%q is not in the page, or not in the band", want)
		}
	}
	if n := strings.Count(page, "<measure "); n != d.Measures || len(d.Load) != n {
		t.Errorf("%d measures on the page, %d in the document, load of %d", n, d.Measures, len(d.Load))
	}
	if len(d.Figures) == 0 || len(d.Chords) == 0 || len(d.Breaths) == 0 || d.Coverage != nil || d.LegalLog10 <= 0 {
		t.Errorf("figures %d, chords %d, breaths %d, coverage %v, legal %v",
			len(d.Figures), len(d.Chords), len(d.Breaths), d.Coverage, d.LegalLog10)
	}
}

// A read that was had is made again as it was, whatever has come since.
func TestWriteAgain(t *testing.T) {
	s := newStage(t)
	fine(t, s, "write --seed 5 --out first")
	fine(t, s, "write --seed 1000 --count 20 --out more")
	out := fine(t, s, "write --seed 5 --out second")
	if !strings.Contains(out, "a repeat of your read of 1 March 2026") {
		t.Errorf("not said to be a repeat:\n%s", out)
	}
	sameFiles(t, "first", "second")
	j, err := s.openJournal(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if n, err := j.Count(context.Background()); n != 21 || err != nil {
		t.Errorf("%d reads in the journal, %v, want 21", n, err)
	}
}

func sameFiles(t *testing.T, a, b string) {
	t.Helper()
	files := pages(t, a)
	if len(files) == 0 {
		t.Errorf("no files in %s", a)
	}
	for _, f := range files {
		if other := filepath.Join(b, filepath.Base(f)); !bytes.Equal(load(t, f), load(t, other)) {
			t.Errorf("%s and %s differ", f, other)
		}
	}
}

// Reads made at once, made one by one, and made again are the same reads.
func TestBatchIsOneByOne(t *testing.T) {
	s := newStage(t)
	const reads = 12
	fine(t, s, fmt.Sprintf("write --rung 1 --seed 1 --count %d --out batch", reads))
	fine(t, s, fmt.Sprintf("write --rung 1 --seed 1 --count %d --out again", reads))
	for seed := 1; seed <= reads; seed++ {
		fine(t, s, fmt.Sprintf("write --rung 1 --seed %d --out single --journal other-journal.db", seed))
	}
	sameFiles(t, "batch", "single")
	sameFiles(t, "batch", "again")
}

// Of a batch no two reads share a run; that is looked for in the pages themselves.
func TestBatchNeverRepeatsItself(t *testing.T) {
	s := newStage(t)
	fine(t, s, "write --rung 1 --style lyrical --seed 1 --count 60")
	const length = 16 // rung 1 compares runs of so many notes
	had := map[uint64]string{}
	runs := 0
	for _, f := range pages(t, ".") {
		if filepath.Ext(f) != pageSuffix {
			continue
		}
		text := load(t, f)
		page, _, err := musicxml.ReadFile(f, bytes.NewReader(text), int64(len(text)))
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range compose.Runs(&page.Parts[0], []int{length}) {
			runs++
			if other, twice := had[r.Hash]; twice && other != f {
				t.Errorf("%s and %s share a run of %d notes", other, f, length)
			}
			had[r.Hash] = f
		}
	}
	if runs < 100 {
		t.Errorf("only %d runs were compared", runs)
	}
}

// Another read of the same name gets a name of its own.
func TestWriteOverwritesNoOtherRead(t *testing.T) {
	s := newStage(t)
	fine(t, s, "write --seed 5 --instrument trumpet")
	before := load(t, "march-r3-5.musicxml")
	fine(t, s, "write --seed 5 --instrument tuba-eb")
	fine(t, s, "write --seed 5 --instrument trumpet")
	if !bytes.Equal(before, load(t, "march-r3-5.musicxml")) {
		t.Error("the trumpet's page was written over")
	}
	wantFiles(t, ".", "march-r3-5-2.json", "march-r3-5-2.mid", "march-r3-5-2.musicxml",
		"march-r3-5.json", "march-r3-5.mid", "march-r3-5.musicxml")
}

// A sheet of the player's own is told by its text: once changed it asks for another read.
func TestOwnStyleSheet(t *testing.T) {
	sheet := load(t, "../../styles/march.toml")
	s := newStage(t)
	for i, text := range []string{"# mine\n", "# mine, mended\n", "# mine\n"} {
		if err := os.WriteFile("mine.toml", append([]byte(text), sheet...), 0o666); err != nil {
			t.Fatal(err)
		}
		out := fine(t, s, "write --style mine.toml --seed 1")
		if repeat := strings.Contains(out, "a repeat"); repeat != (i == 2) {
			t.Errorf("time %d: a repeat is %v:\n%s", i+1, repeat, out)
		}
		inOrder(t, out, "onward write --style mine.toml --rung 3 ")
	}
	if page := load(t, "march-r3-1.musicxml"); !bytes.Contains(page, []byte(" sheet=")) {
		t.Error("the page does not say which sheet")
	}
	wantFiles(t, ".", "march-r3-1-2.json", "march-r3-1-2.mid", "march-r3-1-2.musicxml",
		"march-r3-1.json", "march-r3-1.mid", "march-r3-1.musicxml", "mine.toml")
}

// The instrument of the last read is the usual one.
func TestInstrumentOfLastRead(t *testing.T) {
	s := newStage(t)
	for _, c := range []struct{ args, want string }{
		{"write --seed 1", "Euphonium T.C."}, {"write --seed 2 --instrument flute", "Flute"}, {"write --seed 3", "Flute"},
	} {
		if out := fine(t, s, c.args); !strings.Contains(out, "for        "+c.want+",") {
			t.Errorf("%s: not for %s:\n%s", c.args, c.want, out)
		}
	}
}

// A seed that nobody gave makes no repeat, of this read or of those that follow.
func TestSeedsDrawnMakeNoRepeat(t *testing.T) {
	s := newStage(t)
	drawn := []uint64{500, 498, 300}
	s.random = func(uint64) uint64 {
		seed := drawn[0]
		drawn = drawn[1:]
		return seed
	}
	fine(t, s, "write --seed 500 --instrument flute")
	fine(t, s, "write --count 4")
	wantFiles(t, ".", "march-r3-300.json", "march-r3-300.mid", "march-r3-300.musicxml",
		"march-r3-301.json", "march-r3-301.mid", "march-r3-301.musicxml", "march-r3-302.json", "march-r3-302.mid", "march-r3-302.musicxml",
		"march-r3-303.json", "march-r3-303.mid", "march-r3-303.musicxml", "march-r3-500.json", "march-r3-500.mid", "march-r3-500.musicxml")
}

// A file that cannot be put in its place takes the others of its read with it.
func TestFilesAllOrNone(t *testing.T) {
	newStage(t)
	if err := os.Mkdir("a.json", 0o777); err != nil {
		t.Fatal(err)
	}
	f := &files{folder: ".", name: "a"}
	for _, suffix := range []string{pageSuffix, bandSuffix, documentSuffix} {
		if err := os.WriteFile(f.draft(suffix), []byte("x"), 0o666); err != nil {
			t.Fatal(err)
		}
		f.parts = append(f.parts, suffix)
	}
	if err := f.place(); err == nil {
		t.Error("a file took the place of a folder")
	}
	wantFiles(t, ".")
}

func TestInterruptedBatchWritesNothing(t *testing.T) {
	s := newStage(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	code, out, err := s.runIn(ctx, "write", "--count", "3")
	if code != exitInterrupted || out != "" || err != "" {
		t.Errorf("exit code %d, printed %q and %q", code, out, err)
	}
	wantFiles(t, ".")
}

func TestExitCode(t *testing.T) {
	for want, err := range map[int]error{
		exitFine: nil, exitFault: errors.New("the machine's"), exitRequest: fmt.Errorf("after 3 reads: %w", &compose.RequestError{What: "too few"}),
		exitInterrupted: fmt.Errorf("left: %w", context.Canceled),
	} {
		if got := exitCode(err); got != want {
			t.Errorf("exit code of %v is %d, want %d", err, got, want)
		}
	}
}
