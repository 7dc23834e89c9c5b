package journal

import (
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"testing"
	"time"
)

// refusing has the journal refuse what is written into a table until done is called.
func refusing(t *testing.T, j *Journal, table string) (done func()) {
	t.Helper()
	act := "INSERT"
	if table == "state" {
		act = "UPDATE"
	}
	if _, err := j.db.Exec("CREATE TRIGGER refusing BEFORE " + act + " ON " + table + " BEGIN SELECT RAISE(ABORT, 'no room'); END"); err != nil {
		t.Fatal(err)
	}
	return func() {
		if _, err := j.db.Exec("DROP TRIGGER refusing"); err != nil {
			t.Fatal(err)
		}
	}
}

// What cannot be written, in whichever table, is told, and nothing else of it is kept.
func TestWhatCannotBeWrittenIsTold(t *testing.T) {
	ctx := context.Background()
	j := full(t)
	past := now(t, j)
	r := march("a new one", 2)
	r.Measures, r.Figures, r.Loads, r.Request, r.Drilled, r.Past = []uint64{8}, []byte("f"), []byte("l"), []byte("r"), []byte("d"), past
	takes, err := j.Takes(ctx, 10)
	if err != nil || len(takes) == 0 {
		t.Fatal(err)
	}
	take := takes[0]
	add := func() error { _, err := j.AddRead(ctx, r); return err }
	mark := func() error { return j.Mark(ctx, take.ID, Marks{[]Slip{{1, true, false}}, NotStopped}) }
	save := func() error {
		return j.SaveVocabulary(ctx, Vocabulary{Name: "new", Drills: []Drill{{Title: "x", Runs: r.Runs}}})
	}
	for table, write := range map[string]func() error{
		"reads": add, "runs": add, "measures": add, "read_figures": add, "read_loads": add, "requests": add, "drilled": add, "pasts": add,
		"marks": mark, "slips": mark, "vocabularies": save, "drills": save, "drill_runs": save,
		"players": func() error {
			_, err := as(t, j, "Cy").AddTake(ctx, Take{ReadID: take.ReadID, Started: noon, Outcome: Left})
			return err
		},
		"takes": func() error {
			_, err := j.AddTake(ctx, Take{ReadID: take.ReadID, Started: noon, Outcome: Left})
			return err
		},
		"lessons":   func() error { return j.KeepLesson(ctx, noon, []byte("x")) },
		"warmups":   func() error { _, err := j.AddWarmup(ctx, Warmup{Day: "2026-03-01"}); return err },
		"latencies": func() error { return j.KeepLatency(ctx, "new", time.Millisecond) },
		"proposals": func() error {
			return j.KeepProposal(ctx, Proposal{TakeID: take.ID, Style: "march", Rung: 2, Percent: 100})
		},
		"state": func() error { return j.KeepLesson(ctx, noon, []byte("x")) },
	} {
		before := exported(t, j)
		done := refusing(t, j, table)
		if err := write(); err == nil || !strings.Contains(err.Error(), "no room") || !strings.Contains(err.Error(), j.path) {
			t.Errorf("%s: got %v", table, err)
		}
		done()
		if after := exported(t, j); after != before {
			t.Errorf("%s: something was kept", table)
		}
	}
}

// So it is of an import.
func TestWhatCannotBeImportedIsTold(t *testing.T) {
	from := full(t)
	r := march("with a past", 1)
	r.Past = now(t, from)
	add(t, from, r)
	text := exported(t, from)
	for table := range strings.SplitSeq("players reads runs measures read_figures read_loads requests drilled pasts takes marks slips lessons warmups vocabularies drills drill_runs latencies proposals state", " ") {
		j := fresh(t)
		refusing(t, j, table)
		_, err := j.Import(context.Background(), "j.jsonl", strings.NewReader(text))
		var line *LineError
		if err == nil || !strings.Contains(err.Error(), "import j.jsonl: ") || !strings.Contains(err.Error(), "no room") || errors.As(err, &line) && isAnswer(line.Err) {
			t.Errorf("%s: got %v", table, err)
		}
		if after := exported(t, j); after != strings.ReplaceAll(portable(), `"version":1`, `"version":2`) {
			t.Errorf("%s: something was imported", table)
		}
	}
}

// Why a read cannot be made again is told.
func TestRequestThatIsNotThere(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	r := march("with", 1)
	r.Request = []byte("what made it")
	ids := add(t, j, march("without", 1), r)
	for id, want := range map[int64]string{
		ids[0]: "read 1 was made before the journal kept what made it: its files are what is left of it",
		99:     "no read 99 in the journal: `onward journal reads` lists them",
	} {
		_, _, err := j.Request(ctx, id)
		var no *NoReadError
		if !errors.As(err, &no) || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
	if request, drilled, err := j.Request(ctx, ids[1]); err != nil || string(request) != "what made it" || drilled != nil {
		t.Errorf("%q, %q, %v", request, drilled, err)
	}
}

// What stands in the file and makes no sense is told by who needs it, and not passed over.
func TestWhatCannotBeReadIsTold(t *testing.T) {
	ctx := context.Background()
	base := full(t)
	r := march("with a past", 1)
	r.Past, r.Request = now(t, base), []byte("r")
	read := add(t, base, r)[0]
	if err := base.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(base.path)
	if err != nil {
		t.Fatal(err)
	}
	readers := map[string]func(*Journal) error{
		"export":       func(j *Journal) error { return j.Export(ctx, io.Discard) },
		"takes":        func(j *Journal) error { _, err := j.Takes(ctx, 100); return err },
		"history":      func(j *Journal) error { _, err := j.History(ctx); return err },
		"practised":    func(j *Journal) error { _, err := j.Practised(ctx); return err },
		"reads":        func(j *Journal) error { _, err := j.Reads(ctx, 100); return err },
		"vocabulary":   func(j *Journal) error { _, err := j.Vocabulary(ctx, "z"); return err },
		"vocabularies": func(j *Journal) error { _, err := j.Vocabularies(ctx); return err },
		"players":      func(j *Journal) error { _, err := j.Players(ctx); return err },
		"proposals":    func(j *Journal) error { _, err := j.Proposals(ctx); return err },
		"warmups":      func(j *Journal) error { _, err := j.Warmups(ctx, 100); return err },
		"past":         func(j *Journal) error { _, err := j.PastOf(ctx, read); return err },
		"import": func(j *Journal) error {
			_, err := j.Import(ctx, "j.jsonl", strings.NewReader(exported(t, full(t))))
			return err
		},
	}
	for column, needs := range map[string]string{
		"reads.made": "reads export", "reads.rung": "reads export", "reads.measures": "history export",
		"takes.started": "takes history practised export", "takes.ended": "takes history export", "takes.dropped": "takes export",
		"slips.measure": "takes history export", "marks.stopped_at": "takes export", "marks.marked": "export",
		"lessons.learned": "practised export", "warmups.made": "warmups export", "vocabularies.saved": "vocabularies vocabulary export import",
		"drills.learned": "vocabulary export", "drill_runs.hash": "vocabulary export", "runs.rhythm": "export",
		"players.added": "players export import", "proposals.made": "proposals export", "proposals.new": "proposals export",
		"latencies.millis": "export", "latencies.kept": "export import", "pasts.past": "past export",
	} {
		j := open(t, file(t, whole))
		table, name, _ := strings.Cut(column, ".")
		if _, err := j.db.Exec("PRAGMA ignore_check_constraints = 1; UPDATE OR IGNORE " + table + " SET " + name + " = 'no sense'"); err != nil {
			t.Fatal(column, err)
		}
		for reader := range strings.SplitSeq(needs, " ") {
			if err := readers[reader](j); err == nil || !strings.Contains(err.Error(), j.path) {
				t.Errorf("%s, %s: got %v", column, reader, err)
			}
		}
	}
}
