package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose/musicxml"
)

// apart is an env like the stage's whose words go nowhere.
func (s *stage) apart() *env {
	e := *s.env
	e.out, e.err = io.Discard, io.Discard
	return &e
}

// A read that another program's touches before it is kept is made again; one that the other
// made is the same page.
func TestReadMadeAgainBeforeItIsKept(t *testing.T) {
	s := newStage(t)
	o := &requestOptions{Style: usualStyle, Rung: 5, Count: 1, Seed: 1, Seeded: true, Out: "a"}
	a, err := openStudio(t.Context(), s.env, o)
	if err != nil {
		t.Fatal(err)
	}
	defer a.close()
	first, err := a.compose(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	row, err := a.row(first)
	if err != nil {
		t.Fatal(err)
	}
	row.Identity, row.Past = "another", nil
	if _, err := a.journal.AddRead(t.Context(), row); err != nil {
		t.Fatal(err)
	}
	fine(t, s, "write --rung 5 --seed 2 --out b")
	second, err := a.compose(t.Context(), 2)
	if err != nil {
		t.Fatal(err)
	}
	if kept, err := a.keep(t.Context(), []*made{first, second}); err != nil || kept != 0 {
		t.Fatalf("%d kept, %v", kept, err)
	}
	if first, err = a.compose(t.Context(), 1); err != nil || first.repeat || first.document.Certificate.Earlier != 2 {
		t.Fatalf("made again: repeat %v, %v", first.repeat, err)
	}
	if again, err := a.row(first); err != nil || string(again.Melody) == string(row.Melody) {
		t.Errorf("it is the melody that another has, %v", err)
	}
	if second, err = a.compose(t.Context(), 2); err != nil || !second.repeat {
		t.Fatalf("the other program's read was made anew, %v", err)
	}
	if kept, err := a.keep(t.Context(), []*made{second, first}); err != nil || kept != 2 || first.id != 3 {
		t.Errorf("%d kept, the first as %d, %v", kept, first.id, err)
	}
}

// A read that other programs' reads touch each time is given up.
func TestReadThatIsTouchedEachTime(t *testing.T) {
	s := newStage(t)
	o := &requestOptions{Style: usualStyle, Rung: 5, Count: 1, Seed: 1, Seeded: true, Out: "a"}
	a, err := openStudio(t.Context(), s.env, o)
	if err != nil {
		t.Fatal(err)
	}
	defer a.close()
	tries := 0
	_, _, err = a.deliverOne(t.Context(), func() (*made, *files, error) {
		tries++
		m, err := a.compose(t.Context(), 1)
		if err != nil {
			return nil, nil, err
		}
		row, err := a.row(m)
		if err != nil {
			return nil, nil, err
		}
		row.Identity, row.Measures = fmt.Sprint("another ", tries), nil // its runs touch it; measures that are used up take long
		if _, err := a.journal.AddReads(t.Context(), []journal.Read{row}); err != nil {
			return nil, nil, err
		}
		d := a.draft(m, nil)
		return m, d.files, d.err
	})
	if err == nil || !strings.Contains(err.Error(), "other programs add reads") || exitCode(err) != exitRequest || tries != keepTries {
		t.Errorf("after %d tries: %v", tries, err)
	}
	if left := pages(t, "."); len(left) > 0 {
		t.Errorf("files %q", left)
	}
}

// Programs that write to one journal at once never share nine notes or make two pages of one
// identity, and each read is made again byte for byte, also out of a merged journal.
func TestProgramsWriteAtOnce(t *testing.T) {
	s := newStage(t)
	const each = 6
	var writers sync.WaitGroup
	for i, seed := range []int{1, 1, 4, 100} { // all but the last meet
		writers.Go(func() {
			o := &requestOptions{Style: usualStyle, Rung: 5, Instrument: "trombone", Count: each, Seed: uint64(seed), Seeded: true,
				Out: fmt.Sprint("out", i), Sound: usualSound, Journal: "one.db"}
			if err := runWrite(context.Background(), s.apart(), o); err != nil {
				t.Error(err)
			}
		})
	}
	writers.Wait()
	s.clock = s.clock.Add(time.Hour)
	fine(t, s, "write --rung 5 --instrument trombone --seed 3 --count 6 --journal two.db --out two")
	fine(t, s, "journal export one.jsonl --journal one.db")
	fine(t, s, "journal import one.jsonl --journal two.db")
	onePage(t, "out0", "out1", "out2", "out3")
	for n := 1; n <= 9+each; n++ {
		fine(t, s, fmt.Sprintf("write --again %d --journal one.db --out one-again", n))
	}
	for n := each + 1; n <= each+9+each; n++ {
		fine(t, s, fmt.Sprintf("write --again %d --journal two.db --out two-again", n))
	}
	for _, folder := range []string{"out0", "out1", "out2", "out3"} {
		sameFiles(t, folder, "one-again")
		sameFiles(t, folder, "two-again")
	}
}

// onePage says that files of one name are the same in all folders, and that no nine notes
// that follow each other are in two pages: by an own reading of the pages.
func onePage(t *testing.T, folders ...string) {
	t.Helper()
	texts, runs := map[string]string{}, map[string]string{}
	for _, folder := range folders {
		paths, _ := filepath.Glob(filepath.Join(folder, "*"))
		if len(paths) == 0 {
			t.Errorf("no files in %s", folder)
		}
		for _, path := range paths {
			name, text := filepath.Base(path), string(load(t, path))
			if was, had := texts[name]; had && was != text {
				t.Errorf("there are two of %s", name)
			}
			texts[name] = text
			if filepath.Ext(path) != pageSuffix {
				continue
			}
			for _, run := range nineNotes(t, path) {
				if was, had := runs[run]; had && was != name {
					t.Errorf("%s and %s share nine notes", was, name)
				}
				runs[run] = name
			}
		}
	}
}

// nineNotes lists the runs of nine notes of a page, as written: intervals, and starts in
// ticks from the first note.
func nineNotes(t *testing.T, path string) (runs []string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	page, _, err := musicxml.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	var pitches, starts []int
	at, held := 0, false
	for _, m := range page.Parts[0].Measures {
		for _, n := range m.Notes {
			if !n.Rest && !held {
				pitches, starts = append(pitches, n.Pitch.MIDI()), append(starts, at+int(n.At))
			}
			held = !n.Rest && n.TieStart
		}
		at += int(m.Length)
	}
	for i := 0; i+9 <= len(pitches); i++ {
		var run []byte
		for k := 1; k < 9; k++ {
			run = fmt.Appendf(run, "%d %d,", pitches[i+k]-pitches[i], starts[i+k]-starts[i])
		}
		runs = append(runs, string(run))
	}
	return runs
}
