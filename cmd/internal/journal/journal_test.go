package journal

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"
)

// noon is the time of every test's clock.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 123456789, time.UTC)

func clock() time.Time { return noon }

// open opens the journal at path and closes it when the test ends.
func open(t testing.TB, path string) *Journal {
	t.Helper()
	j, err := Open(context.Background(), path, clock)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	t.Cleanup(func() { j.Close() })
	return j
}

// reopened closes a journal and opens its file anew.
func reopened(t *testing.T, j *Journal) *Journal {
	t.Helper()
	if err := j.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
	return open(t, j.path)
}

// fresh opens a journal in a folder of its own that is not there yet.
func fresh(t testing.TB) *Journal {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "of the player", "50% #1?", "journal.db"))
}

// march is a made-up read, of runs of 9 notes drawn from its identity alone. A run's
// rhythm is one of 50.
func march(identity string, runs int) Read {
	r := Read{
		Identity: identity, Title: "March of " + identity, Style: "march", Rung: 3,
		Instrument: "euphonium-treble", Made: noon.Add(-time.Hour), Melody: []byte(identity),
	}
	for i := range runs {
		h := fnv.New64a()
		fmt.Fprintf(h, "%s run %d", identity, i)
		hash := h.Sum64()
		r.Runs = append(r.Runs, Run{9, hash, hash % 50 << 58, binary.LittleEndian.AppendUint64(nil, hash)})
	}
	return r
}

// hashes lists the hashes of runs.
func hashes(runs []Run) []uint64 {
	all := make([]uint64, len(runs))
	for i, r := range runs {
		all[i] = r.Hash
	}
	return all
}

// add adds reads or ends the test.
func add(t testing.TB, j *Journal, reads ...Read) []int64 {
	t.Helper()
	ids, err := j.AddReads(context.Background(), reads)
	if err != nil {
		t.Fatal(err)
	}
	return ids
}

func TestReadComesBackAsItWasAdded(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	want := march("seed 1", 3)
	id, err := j.AddRead(ctx, want)
	if err != nil {
		t.Fatal(err)
	}
	undated := march("seed 2", 0)
	undated.Made, undated.Melody = time.Time{}, nil
	add(t, j, undated)

	j = reopened(t, j)
	got, found, err := j.Find(ctx, "seed 1")
	if err != nil || !found {
		t.Fatalf("found %v, error %v", found, err)
	}
	want.ID, want.Runs = id, nil
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if got, _, err := j.Find(ctx, "seed 2"); err != nil || !got.Made.Equal(noon) {
		t.Errorf("a read without a date was made %v (error %v), want the clock's %v", got.Made, err, noon)
	}
	if _, found, err := j.Find(ctx, "seed 3"); err != nil || found {
		t.Errorf("found a read never added: %v, error %v", found, err)
	}
}

func TestReadsNewestFirst(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	add(t, j, march("a", 1), march("b", 1), march("c", 1))
	for _, c := range []struct {
		list   func(context.Context, int) ([]Read, error)
		melody bool
	}{{j.Reads, false}, {j.Recent, true}} {
		reads, err := c.list(ctx, 2)
		if err != nil || len(reads) != 2 || reads[0].Identity != "c" || reads[1].Identity != "b" {
			t.Fatalf("got %+v, error %v; want c, b", reads, err)
		}
		if got := string(reads[0].Melody) == "c"; got != c.melody {
			t.Errorf("melody %q: want it there: %v", reads[0].Melody, c.melody)
		}
		if _, err := c.list(ctx, -1); err == nil {
			t.Error("a negative number of reads was not refused")
		}
	}
	if n, err := j.Count(ctx); n != 3 || err != nil {
		t.Errorf("count %d, error %v; want 3", n, err)
	}
}

func TestAddReadsIsAllOrNothing(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	bad := march("bad", 2)
	bad.Runs[1].Length = 0
	if _, err := j.AddReads(ctx, []Read{march("good", 2), bad}); err == nil {
		t.Fatal("a run of no notes was not refused")
	}
	seen, err := j.Seen(ctx, 9, hashes(march("good", 2).Runs))
	n, countErr := j.Count(ctx)
	if n != 0 || len(seen) != 0 || err != nil || countErr != nil {
		t.Errorf("count %d, seen %x, errors %v, %v; want nothing kept", n, seen, err, countErr)
	}
	if ids, err := j.AddReads(ctx, nil); err != nil || len(ids) != 0 {
		t.Errorf("no reads: %v, %v", ids, err)
	}
}

func TestSeen(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	a, b := march("a", 60), march("b", 60)
	edge := []uint64{0, 1, 1<<63 - 1, 1 << 63, 1<<64 - 1}
	for _, h := range edge {
		a.Runs = append(a.Runs, Run{9, h, 7, nil}, Run{9, h, 7, nil}) // twice in one read
		b.Runs = append(b.Runs, Run{9, h, 7, nil})                    // and in another
	}
	a.Runs = append(a.Runs, Run{7, 42, 7, nil})
	add(t, j, a, b)
	unseen := march("c", 60).Runs
	for _, c := range []struct {
		name   string
		length int
		ask    []uint64
		want   []uint64
	}{
		{"all of a read", 9, hashes(b.Runs), hashes(b.Runs)},
		{"none", 9, hashes(unseen), nil},
		{"nothing asked", 9, nil, nil},
		{"at the edges of 64 bits", 9, edge, edge},
		{"another length", 9, []uint64{42}, nil},
		{"that length", 7, []uint64{42, 1}, []uint64{42}},
		{"each once, in the order asked", 9,
			[]uint64{b.Runs[5].Hash, unseen[0].Hash, a.Runs[3].Hash, b.Runs[5].Hash},
			[]uint64{b.Runs[5].Hash, a.Runs[3].Hash}},
	} {
		got, err := j.Seen(ctx, c.length, c.ask)
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: got %x, error %v; want %x", c.name, got, err, c.want)
		}
	}
}

func TestRunsWithRhythm(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	const dotted, even = 1 << 63, 5
	first := Read{Identity: "first", Runs: []Run{{9, 1, dotted, []byte{1}}, {9, 2, even, []byte{2}}, {8, 3, even, []byte{3}}}}
	second := Read{Identity: "second", Runs: []Run{{9, 4, dotted, []byte{4}}, {9, 5, dotted, []byte{0}}}}
	add(t, j, first, second)
	for _, c := range []struct {
		length  int
		rhythms []uint64
		limit   int
		want    map[uint64][][]byte
	}{
		{9, []uint64{dotted, even, dotted, 77}, 0, map[uint64][][]byte{dotted: {{0}, {4}, {1}}, even: {{2}}}},
		{9, []uint64{dotted}, 2, map[uint64][][]byte{dotted: {{0}, {4}}}},
		{8, []uint64{dotted, even}, 0, map[uint64][][]byte{even: {{3}}}},
		{9, nil, 0, map[uint64][][]byte{}},
	} {
		got, err := j.RunsWithRhythm(ctx, c.length, c.rhythms, c.limit)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("length %d, rhythms %x, limit %d: got %v, error %v; want %v", c.length, c.rhythms, c.limit, got, err, c.want)
		}
	}
	if _, err := j.RunsWithRhythm(ctx, 9, nil, -1); err == nil {
		t.Error("a negative limit was not refused")
	}
}

func TestSearchesUseAnIndex(t *testing.T) {
	j := fresh(t)
	for _, c := range []struct{ query, want string }{
		{seenRuns, "SEARCH runs USING PRIMARY KEY (length=? AND hash=? AND read_id>? AND read_id<?)"},
		{runsAlike, "SEARCH runs USING COVERING INDEX runs_rhythm (length=? AND rhythm=? AND read_id>? AND read_id<?)"},
	} {
		var id, parent, spare int
		var plan string
		arguments := append(j.All().limits(), sql.Named("length", 9), sql.Named("hashes", "[1]"), sql.Named("rhythm", 1), sql.Named("limit", 5))
		if err := j.db.QueryRow("EXPLAIN QUERY PLAN "+c.query, arguments...).Scan(&id, &parent, &spare, &plan); err != nil {
			t.Fatal(err)
		}
		if plan != c.want {
			t.Errorf("%s\ngot  %s\nwant %s", c.query, plan, c.want)
		}
	}
}

func TestSharedMeasuresSearchAnIndex(t *testing.T) {
	j := fresh(t)
	rows, err := j.db.Query("EXPLAIN QUERY PLAN "+sharedMeasures, append(j.All().limits(), sql.Named("asked", "[1,2]"))...)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var plan []string
	for rows.Next() {
		var id, parent, spare int
		var step string
		if err := rows.Scan(&id, &parent, &spare, &step); err != nil {
			t.Fatal(err)
		}
		plan = append(plan, step)
	}
	if want := "SEARCH measures USING PRIMARY KEY (hash=? AND read_id>? AND read_id<?)"; !slices.Contains(plan, want) {
		t.Errorf("got  %q\nwant %s among it", plan, want)
	}
}

func TestTakes(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	read := add(t, j, march("a", 1))[0]
	want := Take{ReadID: read, Started: noon.Add(-time.Minute), Outcome: KeptGoing,
		LateMedian: 40 * time.Microsecond, LateMax: 3 * time.Millisecond, Dropped: 2}
	left := Take{ReadID: read, Started: noon.Add(-time.Hour), Ended: noon.Add(-59 * time.Minute), Outcome: Left}
	for _, take := range []*Take{&left, &want} {
		id, err := j.AddTake(ctx, *take)
		if err != nil {
			t.Fatal(err)
		}
		take.ID = id
	}
	want.Ended = noon
	for _, take := range []*Take{&left, &want} {
		take.Percent, take.StoppedAt = 100, NotStopped
	}
	j = reopened(t, j)
	got, err := j.Takes(ctx, 10)
	if err != nil || !reflect.DeepEqual(got, []Take{want, left}) {
		t.Errorf("got %+v, error %v\nwant %+v", got, err, []Take{want, left})
	}
	for _, c := range []struct {
		take Take
		want string
	}{
		{Take{ReadID: 99, Started: noon, Outcome: Left},
			"journal " + j.path + ": add a take of read 99: this read is not in the journal: add it first"},
		{Take{ReadID: read, Started: noon, Outcome: "paused"},
			"journal " + j.path + `: add a take of read 1: outcome "paused": want "kept going", "left" or "failed"`},
		{Take{ReadID: read, Outcome: Left}, "journal " + j.path + ": add a take of read 1: it has no start"},
	} {
		if _, err := j.AddTake(ctx, c.take); err == nil || err.Error() != c.want {
			t.Errorf("got  %v\nwant %s", err, c.want)
		}
	}
}

func TestDefaultPath(t *testing.T) {
	home := func() (string, error) { return "/home/player", nil }
	homeless := func() (string, error) { return "", os.ErrNotExist }
	for _, c := range []struct {
		system string
		env    map[string]string
		home   func() (string, error)
		want   string // empty: an error
	}{
		{"linux", nil, home, "/home/player/.local/share/onward/journal.db"},
		{"linux", map[string]string{"XDG_DATA_HOME": "/data"}, homeless, "/data/onward/journal.db"},
		{"linux", map[string]string{"XDG_DATA_HOME": "data"}, home, "/home/player/.local/share/onward/journal.db"},
		{"linux", nil, homeless, ""},
		{"darwin", map[string]string{"XDG_DATA_HOME": "/data"}, home, "/home/player/Library/Application Support/Onward/journal.db"},
		{"darwin", nil, homeless, ""},
		{"windows", map[string]string{"LocalAppData": "/local"}, homeless, "/local/Onward/journal.db"},
		{"windows", nil, home, ""},
	} {
		got, err := defaultPath(c.system, func(name string) string { return c.env[name] }, c.home)
		if filepath.ToSlash(got) != c.want || (err == nil) == (c.want == "") {
			t.Errorf("%s %v: got %q, error %v; want %q", c.system, c.env, got, err, c.want)
		}
	}
}
