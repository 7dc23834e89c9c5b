package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"
)

// pending is a take that is over, of a read that is added to j, as another process has it.
func pending(t *testing.T, j *Journal, identity string) *Pending {
	t.Helper()
	r := march(identity, 10)
	r.Length, r.Figures, r.Loads = 8, []byte(`{"f":1}`), []byte(`[1.5]`)
	r.Request, r.Drilled = []byte(`{"seed":7}`), []byte("drilled")
	return pendingOf(t, j, add(t, j, r)[0])
}

func pendingOf(t *testing.T, j *Journal, read int64) *Pending {
	t.Helper()
	p, err := j.Pending(t.Context(), read)
	if err != nil {
		t.Fatal(err)
	}
	p.Take = wholeTake
	text, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var other Pending
	if err := json.Unmarshal(text, &other); err != nil {
		t.Fatal(err)
	}
	return &other
}

// wholeTake has a value in each field of a take that is not marked.
var wholeTake = Take{Started: noon.Add(time.Minute), Ended: noon.Add(2 * time.Minute), Outcome: Left, LateMedian: 5, LateMax: 7, Dropped: 3,
	Percent: 80, Rubato: true, Pressure: []string{Panel, Cold}}

func takes(t *testing.T, j *Journal) []Take {
	t.Helper()
	all, err := j.Takes(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func write(t *testing.T, p *Pending) (path string) {
	t.Helper()
	path, err := p.Write()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// What enters by way of a file beside the journal, or by Keep, is what AddTake would have
// added, and can be marked.
func TestPendingTakeHoldsWhatATakeHolds(t *testing.T) {
	for name, enter := range map[string]func(*Journal, *Pending) error{
		"Keep": func(j *Journal, p *Pending) error {
			_, _, err := j.Keep(t.Context(), p)
			return err
		},
		"Write and TakeUp": func(j *Journal, p *Pending) error {
			write(t, p)
			for _, up := range j.TakeUp(t.Context()) {
				if up.Err != nil {
					return up.Err
				}
			}
			return nil
		},
	} {
		for _, player := range []string{"", "Ann"} {
			j := as(t, fresh(t), player)
			p := pending(t, j, "one")
			if err := enter(j, p); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			want := wholeTake
			want.ID, want.ReadID, want.Marks = 1, 1, Marks{StoppedAt: NotStopped}
			if got := takes(t, j); len(got) != 1 || !reflect.DeepEqual(got[0], want) {
				t.Errorf("%s, player %q: got %+v, want %+v", name, player, got, want)
			}
			if n, err := j.Count(t.Context()); err != nil || n != 1 {
				t.Errorf("%s: %d reads, %v", name, n, err)
			}
			if err := j.Mark(t.Context(), 1, upTo(2)); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if left := takesBeside(j.path); len(left) > 0 {
				t.Errorf("%s: left %q", name, left)
			}
		}
	}
}

// Eight programs that take up the same files at once, and those whose takes they are, add
// each take once.
func TestPendingTakesEnterOnce(t *testing.T) {
	j := fresh(t)
	var all []*Pending
	for i := range 10 {
		p := pending(t, j, fmt.Sprint("read ", i))
		write(t, p)
		p.Take.Ended = p.Take.Ended.Add(time.Second) // another process looks at the clock later
		all = append(all, p)
	}
	var programs sync.WaitGroup
	for n := range 8 {
		other := open(t, j.path)
		programs.Go(func() {
			if n%2 == 0 {
				for _, up := range other.TakeUp(t.Context()) {
					if up.Err != nil {
						t.Error(up.Err)
					}
				}
				return
			}
			for _, p := range all {
				if _, read, err := other.Keep(t.Context(), p); err != nil || read < 1 {
					t.Error(read, err)
				}
			}
		})
	}
	programs.Wait()
	of := map[int64]int{}
	for _, take := range takes(t, j) {
		of[take.ReadID]++
	}
	if n, err := j.Count(t.Context()); err != nil || n != 10 || len(of) != 10 || len(takes(t, j)) != 10 {
		t.Errorf("%d reads, %v; takes of each %v", n, err, of)
	}
	if left := takesBeside(j.path); len(left) > 0 {
		t.Errorf("left %q", left)
	}
}

// A program that is killed after a take entered and before its file is gone leaves a file
// that adds nothing. A second take of the read is another take.
func TestPendingTakeThatIsThere(t *testing.T) {
	j := fresh(t)
	p := pending(t, j, "one")
	if _, _, err := j.Keep(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	write(t, p)
	p.Take.Started = p.Take.Started.Add(time.Nanosecond)
	write(t, p)
	if ups := j.TakeUp(t.Context()); len(ups) != 2 || ups[0].Err != nil || ups[1].Err != nil || len(takes(t, j)) != 2 {
		t.Errorf("took up %v; takes %+v", ups, takes(t, j))
	}
}

// A take enters a journal that does not have its read with all of that but the runs; its
// players come along.
func TestPendingTakeInAnotherJournal(t *testing.T) {
	first := fresh(t)
	read := pending(t, as(t, first, "Bob"), "two") // others' reads are before it
	p := pendingOf(t, as(t, first, "Ann"), 1)
	other := as(t, fresh(t), "Ann")
	add(t, other, march("another", 3))
	p.Path = other.path
	take, id, err := other.Keep(t.Context(), p)
	if err != nil || take != 1 || id != 2 {
		t.Fatalf("take %d of read %d, %v", take, id, err)
	}
	if r, found, err := other.Find(t.Context(), read.Read); err != nil || !found || !bytes.Equal(r.Melody, []byte("two")) {
		t.Errorf("read %+v, %v, %v", r, found, err)
	}
	if request, drilled, err := other.Request(t.Context(), id); err != nil || string(request) != `{"seed":7}` || string(drilled) != "drilled" {
		t.Errorf("request %s, drilled %s, %v", request, drilled, err)
	}
	if past, err := other.History(t.Context()); err != nil || len(past) != 1 || string(past[0].Figures) != `{"f":1}` || string(past[0].Loads) != "[1.5]" {
		t.Errorf("history %+v, %v", past, err)
	}
}

// A damaged file is told and set aside, keeps no other from being taken up, and is not told
// again.
func TestDamagedTakesBeside(t *testing.T) {
	j := fresh(t)
	for name, damage := range map[string]func(path string, text []byte){
		"a bit flipped":  func(path string, text []byte) { text[len(text)/2] ^= 1; os.WriteFile(path, text, 0o600) },
		"cut short":      func(path string, text []byte) { os.WriteFile(path, text[:len(text)-9], 0o600) },
		"empty":          func(path string, text []byte) { os.WriteFile(path, nil, 0o600) },
		"a folder":       func(path string, text []byte) { os.Remove(path); os.Mkdir(path, 0o700) },
		"a link":         func(path string, text []byte) { os.Remove(path); os.Symlink("/dev/zero", path) },
		"another's name": func(path string, text []byte) { os.Rename(path, path[:len(path)-8]+"00000000") },
	} {
		before := len(takes(t, j))
		path := write(t, pending(t, j, name))
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		damage(path, text)
		whole := pending(t, j, name+", whole")
		whole.Take.Started = whole.Take.Started.Add(time.Second)
		write(t, whole)
		told := 0
		for _, up := range j.TakeUp(t.Context()) {
			var line *LineError
			if up.Err == nil {
				continue
			}
			told++
			if _, err := os.Lstat(up.Aside); !errors.As(up.Err, &line) || err != nil || !strings.HasSuffix(up.Aside, ".damaged") {
				t.Errorf("%s: %+v, %v", name, up, err)
			}
		}
		if told != 1 || len(takes(t, j)) != before+1 || len(j.TakeUp(t.Context())) > 0 {
			t.Errorf("%s: told %d times, takes %d and %d", name, told, before, len(takes(t, j)))
		}
	}
}

// What the journal cannot take up now stays for the next time.
func TestTakeUpOfALockedJournal(t *testing.T) {
	j := fresh(t)
	path := write(t, pending(t, j, "one"))
	inSQL := func(statement string) {
		t.Helper()
		if _, err := j.db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	inSQL("CREATE TRIGGER full BEFORE INSERT ON takes BEGIN SELECT RAISE(ABORT, 'no room'); END")
	if ups := j.TakeUp(t.Context()); len(ups) != 1 || ups[0].Err == nil || ups[0].Aside != "" {
		t.Errorf("took up %v", ups)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
	inSQL("DROP TRIGGER full")
	if ups := j.TakeUp(t.Context()); len(ups) != 1 || ups[0].Err != nil || len(takes(t, j)) != 1 {
		t.Errorf("took up %v", ups)
	}
}

// A take that none can be is not written; nothing is left where there is no folder.
func TestPendingThatCannotBeWritten(t *testing.T) {
	j := fresh(t)
	p := pending(t, j, "one")
	p.Take.Outcome = "won"
	if _, err := p.Write(); err == nil || !strings.Contains(err.Error(), `outcome "won"`) {
		t.Errorf("got %v", err)
	}
	if _, _, err := j.Keep(t.Context(), p); err == nil {
		t.Error("it was kept")
	}
	p.Take = wholeTake
	p.Path = filepath.Join(t.TempDir(), "none", "j.db")
	if path, err := p.Write(); err == nil {
		t.Errorf("written as %s", path)
	}
	if _, err := j.Pending(t.Context(), 99); err == nil {
		t.Error("a read that is not there has a take")
	}
}

// What a process that was killed left of a file that it was writing is removed, unless it may
// be one that is being written.
func TestDraftsOfTakesBeside(t *testing.T) {
	j := fresh(t)
	left := map[string]bool{}
	for _, age := range []time.Duration{time.Minute, 2 * time.Hour} {
		path := filepath.Join(filepath.Dir(j.path), draftBeside(j.path)+age.String())
		if err := os.WriteFile(path, []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
		then := time.Now().Add(-age)
		if err := os.Chtimes(path, then, then); err != nil {
			t.Fatal(err)
		}
		ups := j.TakeUp(t.Context())
		_, err := os.Stat(path)
		left[age.String()] = err == nil && len(ups) == 0
	}
	if !left["1m0s"] || left["2h0m0s"] {
		t.Errorf("left %v", left)
	}
}

// A journal whose file was removed, or another put in its place, is known, and opened anew
// by its path for the same player.
func TestReplaced(t *testing.T) {
	j := as(t, fresh(t), "Ann")
	p := pending(t, j, "one")
	if j.Replaced() {
		t.Error("it is where it was")
	}
	another := fresh(t)
	add(t, another, march("of another", 5), march("of another, too", 5))
	another.Close()
	for _, c := range []struct {
		replace func() error
		reads   int // that the file then has
	}{
		{func() error { return os.Remove(j.path) }, 0},
		{func() error { return os.Rename(another.path, j.path) }, 2},
		{func() error { return os.RemoveAll(filepath.Dir(j.path)) }, 0},
	} {
		if err := c.replace(); err != nil {
			t.Fatal(err)
		}
		if !j.Replaced() {
			t.Error("it was replaced")
		}
		other, err := j.Anew(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := other.Keep(t.Context(), p); err != nil || other.Player() != "Ann" || len(takes(t, other)) != 1 || other.Replaced() {
			t.Errorf("player %q, takes %v, %v", other.Player(), takes(t, other), err)
		}
		if n, err := other.Count(t.Context()); err != nil || n != c.reads+1 {
			t.Errorf("%d reads, %v; want %d and that of the take", n, err, c.reads)
		}
		j = other
	}
	j.Close()
}
