package journal

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

// database makes a SQLite file with the SQL given.
func database(t *testing.T, statements string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statements); err != nil {
		t.Fatal(err)
	}
	return path
}

// versionOne makes a journal of the first schema.
func versionOne(t *testing.T) string {
	t.Helper()
	statements, err := os.ReadFile("testdata/version1.sql")
	if err != nil {
		t.Fatal(err)
	}
	return database(t, string(statements))
}

func TestOpenBringsTheFirstVersionUpToDate(t *testing.T) {
	ctx := context.Background()
	j := open(t, versionOne(t))
	reads, err := j.Recent(ctx, 10)
	if err != nil || len(reads) != 2 {
		t.Fatalf("%d reads, error %v; want 2", len(reads), err)
	}
	r := reads[0]
	made := time.Date(2026, 1, 3, 3, 4, 5, 600_000_000, time.UTC)
	if r.ID != 2 || r.Title != "Evening Air" || r.Style != "lyrical" || r.Rung != 4 || r.Instrument != "trombone" ||
		!r.Made.Equal(made) || !bytes.Equal(r.Melody, []byte{2, 2}) {
		t.Errorf("got %+v", r)
	}
	seen, err := j.Seen(ctx, 9, []uint64{4, 5, 1<<64 - 1})
	if want := []uint64{5, 1<<64 - 1}; err != nil || !slices.Equal(seen, want) {
		t.Errorf("seen %x, error %v; want %x", seen, err, want)
	}
	runs, err := j.RunsWithRhythm(ctx, 9, []uint64{1 << 63}, 0)
	if err != nil || len(runs[1<<63]) != 1 || !bytes.Equal(runs[1<<63][0], []byte{4, 5}) {
		t.Errorf("runs %v, error %v", runs, err)
	}
	if n, err := j.SharedMeasures(ctx, []uint64{1}); err != nil || len(n) != 0 {
		t.Errorf("measures %x of reads that came without any, error %v", n, err)
	}
	again := march("a new one", 1)
	again.Measures = []uint64{1, 2}
	add(t, j, again)
	if n, err := j.SharedMeasures(ctx, []uint64{1, 2, 3}); err != nil || !slices.Equal(n, []uint64{1, 2}) {
		t.Errorf("measures %x shared with a new read, error %v; want 1 and 2", n, err)
	}
	save(t, j, warmUp())
	if _, err := j.AddTake(ctx, Take{ReadID: 2, Started: noon, Outcome: KeptGoing}); err != nil {
		t.Error(err)
	}
	var version int32
	if err := j.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil || version != newest() {
		t.Errorf("version %d, error %v; want %d", version, err, newest())
	}
}

func TestOldJournalEndsLikeANewOne(t *testing.T) {
	shape := func(j *Journal) []string {
		rows, err := j.db.Query("SELECT type || ' ' || name || ' on ' || tbl_name FROM sqlite_schema ORDER BY 1")
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		var all []string
		for rows.Next() {
			var s string
			if err := rows.Scan(&s); err != nil {
				t.Fatal(err)
			}
			all = append(all, s)
		}
		return all
	}
	old, begun := shape(open(t, versionOne(t))), shape(fresh(t))
	if len(begun) < 6 || !slices.Equal(old, begun) {
		t.Errorf("brought up to date: %v\nbegun: %v", old, begun)
	}
}

func TestAJournalHasAnEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, maxSize+1); err != nil { // a hole: it takes no room
		t.Skipf("no such file can be made here: %v", err)
	}
	var refusal *Refusal
	if _, err := Open(t.Context(), path, clock); !errors.As(err, &refusal) || refusal.Fault != "is longer than any journal" {
		t.Errorf("got %v", err)
	}
}

func TestConnectionIsSafe(t *testing.T) {
	j := reopened(t, fresh(t))
	for _, c := range []struct{ pragma, want string }{
		{"journal_mode", "wal"}, {"foreign_keys", "1"}, {"busy_timeout", "5000"}, {"synchronous", "2"},
	} {
		var got string
		if err := j.db.QueryRow("PRAGMA " + c.pragma).Scan(&got); err != nil || got != c.want {
			t.Errorf("%s = %s, error %v; want %s", c.pragma, got, err, c.want)
		}
	}
	if _, err := j.db.Exec("INSERT INTO runs VALUES (9, 1, 77, 1, x'')"); err == nil {
		t.Error("a run of no read was not refused")
	}
}

func TestFailedMigrationLeavesTheVersionBefore(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	first := newest()
	steps, err := migrations(schema)
	if err != nil {
		t.Fatal(err)
	}
	steps = append(steps, "CREATE TABLE songs (id INTEGER PRIMARY KEY); INSERT INTO nowhere VALUES (1);")
	if err := j.migrate(ctx, steps, int(first)); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("schema %d to %d", first, first+1)) {
		t.Fatalf("got %v, want an error that names the step", err)
	}
	var version, songs int32
	err = j.db.QueryRow("SELECT (SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema WHERE name = 'songs')").
		Scan(&version, &songs)
	if err != nil || version != first || songs != 0 {
		t.Errorf("version %d with %d tables of the failed step, error %v; want %d, 0", version, songs, err, first)
	}
	if err := j.migrate(ctx, steps, 0); err != nil {
		t.Errorf("a step done already by another process: %v", err)
	}
}

// schema/tables.txt lists the tables and columns that the migrations make.
func TestTablesAreListed(t *testing.T) {
	db, err := sql.Open("sqlite", versionOf(t, int(newest()), ""))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	got, err := (&Journal{db: db}).tables(context.Background())
	if err != nil || got != tables {
		t.Errorf("%v; the migrations make\n%s\nschema/tables.txt has\n%s", err, got, tables)
	}
}

func TestMigrationsAreNumberedWithoutGap(t *testing.T) {
	for _, name := range []string{"schema/0002_b.sql", "schema/b.sql"} {
		files := fstest.MapFS{"schema/0001_a.sql": {}, name: {}}
		if name == "schema/0002_b.sql" {
			delete(files, "schema/0001_a.sql")
		}
		if _, err := migrations(files); err == nil {
			t.Errorf("%v was not refused", files)
		}
	}
}

// refused says that opening path is refused, in words, and leaves its folder as it was.
func refused(t *testing.T, path string, words ...string) {
	t.Helper()
	before := folder(t, filepath.Dir(path))
	j, err := Open(context.Background(), path, clock)
	if err == nil {
		j.Close()
		t.Fatal("it was not refused")
	}
	var refusal *Refusal
	if !errors.As(err, &refusal) {
		t.Errorf("%T, want a *Refusal: %v", err, err)
	}
	for _, w := range append(words, path, "--journal FILE") {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%q does not say %q", err, w)
		}
	}
	if after := folder(t, filepath.Dir(path)); after != before {
		t.Errorf("the folder was changed:\nbefore %.300q\nafter  %.300q", before, after)
	}
}

// folder is the names and bytes of the files in dir.
func folder(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, e := range entries {
		all.WriteString(e.Name() + "\n")
		if e.Type().IsRegular() {
			b, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			all.Write(b)
		}
	}
	return all.String()
}

// file writes a file into a folder of its own.
func file(t *testing.T, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "journal.db")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// closed makes a journal of 100 reads, takes and all that goes with them, and reports its
// bytes, all in its one file.
func closed(t *testing.T) []byte {
	t.Helper()
	j := fresh(t)
	takeOf(t, as(t, j, "Ann"), "of Ann")
	takeOf(t, j, "of nobody")
	for i := range 100 {
		add(t, j, march(string(rune('a'+i)), 20))
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(j.path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestOpenRefuses(t *testing.T) {
	whole := closed(t)
	newer := slices.Clone(whole)
	newer[63]++ // the user version's last byte (SQLite, "Database File Format" §1.3)
	noVersion := slices.Clone(whole)
	noVersion[63] = 0
	t.Run("a newer journal", func(t *testing.T) {
		refused(t, file(t, newer), fmt.Sprintf("written by a newer onward (schema %d; this one knows %d)", newest()+1, newest()), "update onward")
	})
	t.Run("a journal of no version", func(t *testing.T) { refused(t, file(t, noVersion), "is damaged") })
	t.Run("another program's database", func(t *testing.T) {
		refused(t, database(t, "PRAGMA journal_mode = WAL; CREATE TABLE songs (name TEXT); INSERT INTO songs VALUES ('x')"),
			"another program's database")
	})
	t.Run("text", func(t *testing.T) {
		refused(t, file(t, bytes.Repeat([]byte("not a journal\n"), 100)), "is damaged or is no journal", "move it away")
	})
	t.Run("an empty file", func(t *testing.T) { refused(t, file(t, nil), "is damaged", "it is empty", "move it away") })
	t.Run("a few bytes", func(t *testing.T) { refused(t, file(t, whole[:50]), "is damaged or is no journal") })
	t.Run("the head alone", func(t *testing.T) { refused(t, file(t, whole[:100]), "is damaged", "move it away") })
	t.Run("half of it", func(t *testing.T) { refused(t, file(t, whole[:len(whole)/2]), "is damaged", "move it away") })
	t.Run("a folder", func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "journal.db")
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, "is a folder")
	})
	t.Run("a file for a folder", func(t *testing.T) {
		plain := file(t, []byte("x"))
		_, err := Open(context.Background(), filepath.Join(plain, "journal.db"), clock)
		var refusal *Refusal
		if !errors.As(err, &refusal) || !strings.Contains(err.Error(), "--journal FILE") {
			t.Errorf("got %v", err)
		}
	})
	t.Run("no name", func(t *testing.T) {
		if _, err := Open(context.Background(), "", clock); err == nil {
			t.Error("it was not refused")
		}
	})
}

// A log that an earlier journal left does not enter the one that is begun in its place, and is
// kept.
func TestOldLogsArePutAside(t *testing.T) {
	for mode, end := range map[string]string{"WAL": "-wal", "DELETE": "-journal"} {
		earlier := fresh(t)
		add(t, earlier, march("earlier", 200))
		if _, err := earlier.db.Exec("PRAGMA journal_mode = " + mode + "; PRAGMA cache_size = 1; BEGIN; UPDATE runs SET rhythm = 1"); err != nil {
			t.Fatal(err) // the cache is too small, so the change is in the file and the log
		}
		log, err := os.ReadFile(earlier.path + end)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "journal.db")
		put(t, path+end, log)
		at(t, path, noon, "new")
		if got := readsAt(t, path); got != "new" {
			t.Errorf("%s: it has %q, want new", end, got)
		}
		if kept, err := os.ReadFile(path + end + ".1"); err != nil || !bytes.Equal(kept, log) {
			t.Errorf("%s: the old log has %d bytes, want %d; %v", end, len(kept), len(log), err)
		}
	}
}

// roots lists the pages on which tables begin, in a journal of the bytes given.
func roots(t *testing.T, whole []byte, tables ...string) (pages []int) {
	t.Helper()
	j := open(t, file(t, whole))
	for _, name := range tables {
		var page int
		if err := j.db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = ?", name).Scan(&page); err != nil {
			t.Fatal(name, err)
		}
		pages = append(pages, page)
	}
	return pages
}

func TestDamageWithinIsToldAndNotMended(t *testing.T) {
	whole := closed(t)
	all := slices.Clone(whole)
	for i := 4096; i < len(all); i++ { // all pages but the first
		all[i] = 0xa5
	}
	tables := slices.Clone(whole)
	for _, page := range roots(t, whole, "reads", "players", "takes", "marks", "slips", "proposals") {
		for i := range 4096 {
			tables[(page-1)*4096+i] = 0xa5
		}
	}
	t.Run("all pages but the first", func(t *testing.T) { wantDamaged(t, all) })
	t.Run("where tables begin", func(t *testing.T) { wantDamaged(t, tables) })
}

// wantDamaged says that a journal of these bytes, whose head is whole, is said to be damaged
// whatever is done, and not written to.
func wantDamaged(t *testing.T, b []byte) {
	t.Helper()
	ctx := context.Background()
	path := file(t, b)
	for what, do := range map[string]func(*Journal) error{
		"recent reads": func(j *Journal) error { _, err := j.Recent(ctx, 10); return err },
		"players":      func(j *Journal) error { _, _, err := j.As(ctx, "Ann"); return err },
		"takes":        func(j *Journal) error { _, err := j.Takes(ctx, 10); return err },
		"history":      func(j *Journal) error { _, err := j.History(ctx); return err },
		"proposals":    func(j *Journal) error { _, err := j.Proposals(ctx); return err },
		"a take": func(j *Journal) error {
			_, err := j.AddTake(ctx, Take{ReadID: 1, Started: noon, Outcome: Left})
			return err
		},
		"marks":      func(j *Journal) error { return j.Mark(ctx, 1, Marks{nil, NotStopped}) },
		"a proposal": func(j *Journal) error { return j.KeepProposal(ctx, Proposal{TakeID: 1, Rung: 1}) },
	} {
		j, err := Open(ctx, path, clock)
		if err == nil {
			err = do(j)
			if closing := j.Close(); closing != nil {
				t.Error(closing)
			}
		}
		var refusal *Refusal
		if !errors.As(err, &refusal) || !strings.Contains(err.Error(), "is damaged") || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: got %v", what, err)
		}
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(after, b) {
		t.Errorf("the damaged file was written to (error %v)", err)
	}
}

func TestPathsThatLookLikeSomethingElse(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{":memory:", "a?mode=memory", "file:b.db", "50%41.db", "c#d.db", "è ♭.db"} {
		j := open(t, name)
		add(t, j, march("a", 1))
		if info, err := os.Stat(name); err != nil || info.Size() == 0 {
			t.Errorf("%s: nothing was written there: %v", name, err)
		}
	}
}

func TestCancelledWorkIsSaidToBe(t *testing.T) {
	j := fresh(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := j.AddRead(ctx, march("a", 1)); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if n, err := j.Count(context.Background()); n != 0 || err != nil {
		t.Errorf("count %d, error %v; want the journal as it was", n, err)
	}
}

// versionOf makes a journal of the first schemas with the statements given.
func versionOf(t *testing.T, schemas int, statements string) string {
	t.Helper()
	steps, err := migrations(schema)
	if err != nil {
		t.Fatal(err)
	}
	return database(t, strings.Join(steps[:schemas], "")+
		fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d;", application, schemas)+statements)
}

// What a journal held before it knew marks and players is the nameless player's.
func TestOpenKeepsWhatCameBeforePlayers(t *testing.T) {
	ctx := context.Background()
	j := open(t, versionOf(t, 7, `
		INSERT INTO reads VALUES (5, 'old', 'Old', 'march', 3, 'trumpet', '2026-01-02T03:04:05Z', x'01');
		INSERT INTO read_figures VALUES (5, x'66');
		INSERT INTO takes VALUES (2, 5, '2026-01-02T03:05:05Z', '2026-01-02T03:06:05Z', 'kept going', 1, 2, 3);
		INSERT INTO lessons VALUES (1, '2026-01-01T03:05:05Z', x'67');
		INSERT INTO warmups VALUES (1, '2026-01-01', '2026-01-01T03:05:05Z', x'68', x'');
		INSERT INTO vocabularies VALUES ('b', '2026-01-01T03:05:05Z', x'69'), ('a', '2026-01-01T03:05:05Z', x'70');
		INSERT INTO drills VALUES (4, 'b', 'Drill', '2026-01-01T03:05:05Z', x'71'), (9, 'a', 'Other', '2026-01-01T03:05:05Z', x'72');
		INSERT INTO drill_runs VALUES (4, 9, 11, 12, x'73'), (9, 9, 13, 14, x'74');`))
	history, err := j.History(ctx)
	if err != nil || len(history) != 1 || history[0].Marked || history[0].StoppedAt != NotStopped || history[0].Percent != 100 ||
		history[0].Dropped != 3 || string(history[0].Figures) != "f" || history[0].Measures != 0 {
		t.Errorf("history %+v, %v", history, err)
	}
	for name, want := range map[string]string{"a": "p Other 72 13", "b": "i Drill 71 11"} {
		v, err := j.Vocabulary(ctx, name)
		if err != nil || len(v.Drills) != 1 || len(v.Drills[0].Runs) != 1 {
			t.Fatalf("vocabulary %s: %+v, %v", name, v, err)
		}
		d := v.Drills[0]
		if got := fmt.Sprintf("%s %s %x %d", v.Sheet, d.Title, d.Melody, d.Runs[0].Hash); got != want {
			t.Errorf("vocabulary %s: got %s, want %s", name, got, want)
		}
	}
	warmups, err := j.Warmups(ctx, 10)
	practised, err2 := j.Practised(ctx)
	if len(warmups) != 1 || len(practised) != 2 || errors.Join(err, err2) != nil {
		t.Errorf("%d warm-ups, %d times practised, %v, %v", len(warmups), len(practised), err, err2)
	}
	if err := j.Mark(ctx, 2, Marks{[]Slip{{90, true, false}}, 99}); err != nil { // how long the page was nobody knows
		t.Error(err)
	}
	var verdict string
	if err := j.db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Errorf("integrity: %s, %v", verdict, err)
	}
}
