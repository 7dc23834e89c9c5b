package journal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestPastEndsBeforeItsRead(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	old := Read{Identity: "old", Melody: []byte{1}, Runs: []Run{{9, 10, 7, []byte{1}}, {9, 11, 7, []byte{2}}}}
	again := Read{Identity: "again", Melody: []byte{2}, Runs: []Run{{9, 11, 7, []byte{2}}, {9, 12, 7, []byte{3}}}}
	ids := add(t, j, old, again)
	for _, c := range []struct {
		past      Past
		seen      []uint64
		intervals [][]byte
		recent    []string
	}{
		{j.Before(ids[0]), nil, nil, nil},
		{j.Before(ids[1]), []uint64{10, 11}, [][]byte{{1}, {2}}, []string{"old"}},
		{j.All(), []uint64{10, 11, 12}, [][]byte{{2}, {3}, {1}, {2}}, []string{"again", "old"}},
	} {
		seen, err := c.past.Seen(ctx, 9, []uint64{10, 11, 12, 13})
		if err != nil || !slices.Equal(seen, c.seen) {
			t.Errorf("past %v: seen %v, %v, want %v", c.past.spans, seen, err, c.seen)
		}
		runs, err := c.past.RunsWithRhythm(ctx, 9, []uint64{7}, 0)
		if err != nil || !slices.EqualFunc(runs[7], c.intervals, slices.Equal) {
			t.Errorf("past %v: runs %v, %v, want %v", c.past.spans, runs[7], err, c.intervals)
		}
		reads, err := c.past.Recent(ctx, 5)
		if n, err := c.past.Count(ctx); err != nil || n != len(c.recent) {
			t.Errorf("past %v: %d reads, %v, want %d", c.past.spans, n, err, len(c.recent))
		}
		var got []string
		for _, r := range reads {
			got = append(got, r.Identity)
		}
		if err != nil || !slices.Equal(got, c.recent) {
			t.Errorf("past %v: recent %v, %v, want %v", c.past.spans, got, err, c.recent)
		}
	}
}

// now is what there is to keep clear of.
func now(t *testing.T, j *Journal) *Past {
	t.Helper()
	p, err := j.Now(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return &p
}

// A read that what came in since touches is not added, nor are those after it.
func TestReadsThatCameInBetween(t *testing.T) {
	ctx := context.Background()
	read := func(identity string, past *Past) Read {
		return Read{Identity: identity, Past: past, Clear: 9, Shared: 1, Measures: []uint64{21, 22, 21},
			Runs: []Run{{9, 1, 7, nil}, {9, 2, 7, nil}, {8, 5, 7, nil}}}
	}
	for _, c := range []struct {
		name    string
		between Read
		added   int // of three
	}{
		{"the same identity", Read{Identity: "b"}, 1},
		{"a run", Read{Identity: "x", Runs: []Run{{9, 2, 7, nil}}}, 0},
		{"a shorter run", Read{Identity: "x", Runs: []Run{{8, 5, 7, nil}}}, 3},
		{"another run", Read{Identity: "x", Runs: []Run{{9, 5, 7, nil}, {12, 1, 7, nil}}}, 3},
		{"as many measures as may be", Read{Identity: "x", Measures: []uint64{22, 23}}, 3},
		{"too many measures", Read{Identity: "x", Measures: []uint64{21}}, 0},
	} {
		j := fresh(t)
		add(t, j, read("before", nil))
		past := now(t, j)
		add(t, j, c.between)
		ids, err := j.AddReads(ctx, []Read{read("a", past), read("b", past), read("c", past)})
		if n, _ := j.Count(ctx); err != nil || len(ids) != c.added || n != 2+c.added {
			t.Errorf("%s: %d of 3 added, %d reads in the journal, %v; want %d", c.name, len(ids), n, err, c.added)
		}
		if ids, err := j.AddReads(ctx, []Read{read("a", now(t, j))}); err != nil || len(ids) != 1 {
			t.Errorf("%s: made again: %v, %v", c.name, ids, err)
		}
	}
}

// identities lists a past's latest reads, the latest first.
func identities(t *testing.T, j *Journal, read int64) string {
	t.Helper()
	p, err := j.PastOf(context.Background(), read)
	if err != nil {
		t.Fatal(err)
	}
	recent, err := p.Recent(context.Background(), 50)
	if n, err := p.Count(context.Background()); err != nil || n != len(recent) {
		t.Fatalf("%d of %d reads, %v", len(recent), n, err)
	}
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, r := range recent {
		all = append(all, r.Identity)
	}
	return strings.Join(all, " ")
}

// What a read was kept clear of stays what it was, whoever writes beside it.
func TestPastOfAReadIsKept(t *testing.T) {
	ctx := context.Background()
	j := fresh(t)
	add(t, j, march("1", 1))
	mine, theirs := now(t, j), now(t, j)
	both := func(p *Past, names ...string) (ids []int64) {
		var reads []Read
		for _, n := range names {
			r := march(n, 1)
			r.Past = p
			reads = append(reads, r)
		}
		return add(t, j, reads...)
	}
	first, second := both(mine, "a", "b", "c"), both(theirs, "x", "y")
	both(now(t, j), "last")
	for id, want := range map[int64]string{1: "", first[0]: "1", first[2]: "b a 1", second[0]: "1", second[1]: "x 1", 7: "y x c b a 1"} {
		if got := identities(t, j, id); got != want {
			t.Errorf("read %d: past %q, want %q", id, got, want)
		}
	}
	past, err := j.PastOf(ctx, second[1])
	seen, err2 := past.Seen(ctx, 9, hashes(append(march("b", 1).Runs, march("x", 1).Runs...)))
	if err != nil || err2 != nil || !slices.Equal(seen, hashes(march("x", 1).Runs)) {
		t.Errorf("seen %x, %v, %v", seen, err, err2)
	}
}

// A busyReader has another program add a read at each reading.
type busyReader struct {
	io.ReadSeeker
	write func()
}

func (b busyReader) Read(p []byte) (int, error) {
	b.write()
	return b.ReadSeeker.Read(p[:min(len(p), pieceSize/2)])
}

// While a journal is imported others write, and what each read was kept clear of comes along.
func TestImportWhileOthersWrite(t *testing.T) {
	ctx := context.Background()
	from := fresh(t)
	const reads = 400
	for i := range reads {
		r := march(fmt.Sprint("read ", i), 60)
		r.Past = now(t, from)
		add(t, from, r)
	}
	j := fresh(t)
	other := open(t, j.path)
	add(t, other, march("there before", 1), march("read 3", 60))
	n := 0
	text := exported(t, from)
	if len(text) < 2*pieceSize {
		t.Fatalf("%d bytes are one piece", len(text))
	}
	got, err := j.Import(ctx, "j.jsonl", busyReader{strings.NewReader(text), func() {
		n++
		add(t, other, march(fmt.Sprint("other ", n), 1))
	}})
	if err != nil || got.Added.Reads != reads-1 || got.Had.Reads != 1 {
		t.Fatalf("%+v, %v", got, err)
	}
	var between int
	err = j.db.QueryRow(`SELECT count(*) FROM reads WHERE identity LIKE 'other %'
		AND id > (SELECT id FROM reads WHERE identity = 'read 0') AND id < (SELECT id FROM reads WHERE identity = 'read 399')`).Scan(&between)
	if err != nil || between == 0 {
		t.Errorf("%d reads came in meanwhile, %v", between, err)
	}
	for _, i := range []int{0, 1, 5, 40, reads - 1} {
		r, had, err := j.Find(ctx, fmt.Sprint("read ", i))
		if err != nil || !had {
			t.Fatal(i, had, err)
		}
		past, err := j.PastOf(ctx, r.ID)
		if err != nil {
			t.Fatal(err)
		}
		recent, err := past.Recent(ctx, inOrder)
		if count, err2 := past.Count(ctx); count != i || err != nil || err2 != nil {
			t.Errorf("read %d: a past of %d reads, %v, %v", i, count, err, err2)
		}
		for k, r := range recent {
			if want := fmt.Sprint("read ", i-1-k); r.Identity != want {
				t.Fatalf("read %d: %q is the latest but %d, want %q", i, r.Identity, k, want)
			}
		}
	}
}

// An import that ends in between leaves no vocabulary in part, and the next one adds the rest.
func TestVocabulariesAreImportedWhole(t *testing.T) {
	from := fresh(t)
	var drills []Drill
	for range 10 {
		drills = append(drills, Drill{Title: "long", Melody: make([]byte, pieceSize/4)})
	}
	names := []string{"a", "b", "c"}
	for _, name := range names {
		if err := from.SaveVocabulary(t.Context(), Vocabulary{Name: name, Drills: drills}); err != nil {
			t.Fatal(err)
		}
	}
	text := exported(t, from)
	j := fresh(t)
	other := open(t, j.path)
	ctx, end := context.WithCancel(t.Context())
	_, err := j.Import(ctx, "j.jsonl", busyReader{strings.NewReader(text), func() {
		if some, err := other.Vocabularies(t.Context()); err != nil || len(some) > 0 {
			end()
		}
	}})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("it was imported in one go, %v", err)
	}
	got, err := j.Import(t.Context(), "j.jsonl", strings.NewReader(text))
	if err != nil || got.Had.Vocabularies == 0 || got.Added.Vocabularies == 0 {
		t.Errorf("%+v, %v", got, err)
	}
	for _, name := range names {
		if v, err := j.Vocabulary(t.Context(), name); err != nil || len(v.Drills) != len(drills) {
			t.Errorf("%s has %d drills, %v", name, len(v.Drills), err)
		}
	}
}

// listed lists the IDs of spans in order.
func listed(spans []span) (ids []int64) {
	for _, s := range spans {
		for id := s[0]; id <= s[1]; id++ {
			ids = append(ids, id)
		}
	}
	return ids
}

// The past of a read that was imported is its past in the file, read by read: the newest in
// their order, and few spans.
func TestPastIsImportedReadByRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p places
		var ids []int64 // by number less 1
		for id := int64(1); len(ids) < 150; id++ {
			if rapid.IntRange(0, 4).Draw(t, "passed over") > 0 {
				ids = append(ids, id)
			}
		}
		if i := rapid.IntRange(0, len(ids)-2).Draw(t, "had elsewhere"); i > 0 {
			ids[i-1], ids[i+1] = ids[i+1], ids[i-1]
		}
		for _, id := range ids {
			p.add(id)
		}
		if p.count() != len(ids) {
			t.Fatalf("%d places, want %d", p.count(), len(ids))
		}
		a, b := rapid.Int64Range(1, 70).Draw(t, "a"), rapid.Int64Range(71, 150).Draw(t, "b")
		numbers := []span{{b, 150}, {1, a}, {a + 1, b - 1}}[:rapid.IntRange(1, 3).Draw(t, "spans")]
		var want []int64
		for _, n := range listed(numbers) {
			want = append(want, ids[n-1])
		}
		got := listed(p.past(numbers))
		newest := min(len(want), inOrder)
		if len(got) != len(want) || !slices.Equal(got[len(got)-newest:], want[len(want)-newest:]) {
			t.Fatalf("got %d\nwant %d", got, want)
		}
		older := slices.Sorted(slices.Values(want[:len(want)-newest]))
		if !slices.Equal(got[:len(got)-newest], older) {
			t.Fatalf("the older ones: got %d\nwant %d", got[:len(got)-newest], older)
		}
		breaks := 1
		for i := range got[1:] {
			if got[i]+1 != got[i+1] {
				breaks++
			}
		}
		if n := len(p.past(numbers)); n != breaks {
			t.Fatalf("%d spans for %d stretches", n, breaks)
		}
	})
}
