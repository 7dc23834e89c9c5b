package journal

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// childRuns is how many runs each read of a child process has.
const childRuns = 20

// TestMain lets the test binary be a second process: with ONWARD_JOURNAL_CHILD set it plays
// that many reads in the journal ONWARD_JOURNAL_FILE.
func TestMain(m *testing.M) {
	if count, err := strconv.Atoi(os.Getenv("ONWARD_JOURNAL_CHILD")); err == nil {
		if err := child(os.Getenv("ONWARD_JOURNAL_FILE"), count, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// childWrites is how often the child writes for each read.
const childWrites = 5

// child adds count reads to the journal at path, one by one, and of each a take, marks,
// others in their place, and a proposal. It says each once the journal has taken it.
func child(path string, count int, out io.Writer) error {
	ctx := context.Background()
	all, err := Open(ctx, path, time.Now)
	if err != nil {
		return err
	}
	j, _, err := all.As(ctx, fmt.Sprint("player ", os.Getpid()%2))
	if err != nil {
		return err
	}
	for i := range count {
		identity := fmt.Sprintf("process %d read %d", os.Getpid(), i)
		r := march(identity, childRuns)
		r.Figures, r.Loads = []byte(identity), []byte(identity)
		read, err := j.AddRead(ctx, r)
		if err != nil {
			return err
		}
		fmt.Fprintln(out, identity)
		take, err := j.AddTake(ctx, Take{ReadID: read, Started: time.Now(), Outcome: KeptGoing})
		if err != nil {
			return err
		}
		fmt.Fprintln(out, "take", take)
		for _, stopped := range []int{1, 4} {
			if err := j.Mark(ctx, take, upTo(stopped)); err != nil {
				return err
			}
			fmt.Fprintln(out, "marks", take, stopped)
		}
		if err := j.KeepProposal(ctx, Proposal{TakeID: take, Style: "march", Rung: 3, Why: identity}); err != nil {
			return err
		}
		fmt.Fprintln(out, "proposal", take)
	}
	return j.Close()
}

// upTo is a slip in each measure up to that at which the player stopped, so that marks that
// were written in part show.
func upTo(stopped int) Marks {
	m := Marks{StoppedAt: stopped}
	for i := range stopped + 1 {
		m.Slips = append(m.Slips, Slip{i, true, i%2 == 0})
	}
	return m
}

// process is a child that is to add count reads to the journal at path.
func process(t testing.TB, path string, count int) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), "ONWARD_JOURNAL_CHILD="+strconv.Itoa(count), "ONWARD_JOURNAL_FILE="+path)
	return c
}

// holds says that j has all that the lines of said name, and reports how many these are.
func holds(t *testing.T, j *Journal, said string) (writes int) {
	t.Helper()
	ctx := context.Background()
	for lines := bufio.NewScanner(strings.NewReader(said)); lines.Scan(); writes++ {
		identity := lines.Text()
		if strings.HasPrefix(identity, "process ") {
			if _, found, err := j.Find(ctx, identity); err != nil || !found {
				t.Errorf("%s: found %v, error %v", identity, found, err)
			}
			seen, err := j.Seen(ctx, 9, hashes(march(identity, childRuns).Runs))
			if err != nil || len(seen) != childRuns {
				t.Errorf("%s: %d runs of %d, error %v", identity, len(seen), childRuns, err)
			}
			continue
		}
		var what string
		var take, stopped int64
		fmt.Sscan(identity, &what, &take, &stopped) // only marks have three
		query := map[string]string{
			"take":     "SELECT EXISTS (SELECT 1 FROM takes WHERE id = ?1 AND ?2 = 0)",
			"marks":    "SELECT EXISTS (SELECT 1 FROM marks WHERE take_id = ?1 AND stopped_at >= ?2)",
			"proposal": "SELECT EXISTS (SELECT 1 FROM proposals WHERE take_id = ?1 AND ?2 = 0)",
		}[what]
		var there bool
		if err := j.db.QueryRow(query, take, stopped).Scan(&there); err != nil || !there {
			t.Errorf("%s: found %v, error %v", identity, there, err)
		}
	}
	return writes
}

// written counts the writes of children that the journal shows.
func written(t *testing.T, j *Journal) (writes int) {
	t.Helper()
	err := j.db.QueryRow(`SELECT (SELECT count(*) FROM reads) + (SELECT count(*) FROM takes) + (SELECT count(*) FROM proposals)
		+ (SELECT count(*) FROM marks) + (SELECT count(*) FROM marks WHERE stopped_at = 4)`).Scan(&writes)
	if err != nil {
		t.Fatal(err)
	}
	return writes
}

// sound says that the file of j is whole by SQLite's own full check, and that nothing a
// child wrote is there in part.
func sound(t *testing.T, j *Journal) {
	t.Helper()
	var verdict string
	if err := j.db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Errorf("integrity: %s, error %v", verdict, err)
	}
	for what, query := range map[string]string{
		"rows of nothing":       "SELECT count(*) FROM pragma_foreign_key_check",
		"reads without runs":    fmt.Sprintf("SELECT count(*) FROM reads WHERE (SELECT count(*) FROM runs WHERE read_id = reads.id) != %d", childRuns),
		"reads without figures": "SELECT count(*) FROM reads WHERE id NOT IN (SELECT read_id FROM read_figures) OR id NOT IN (SELECT read_id FROM read_loads)",
		"marks without slips":   "SELECT count(*) FROM marks WHERE (SELECT count(*) FROM slips WHERE slips.take_id = marks.take_id) != stopped_at + 1",
		"takes of nobody":       "SELECT count(*) FROM takes WHERE player NOT IN (SELECT name FROM players)",
	} {
		var torn int
		if err := j.db.QueryRow(query).Scan(&torn); err != nil || torn != 0 {
			t.Errorf("%d %s, error %v", torn, what, err)
		}
	}
}

func TestProcessesWriteAtOnce(t *testing.T) {
	const processes, each = 4, 10
	earlier := fresh(t)
	add(t, earlier, march("of an earlier journal", childRuns))
	path := asKilled(t, earlier) // they race to make another, too
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	var said, complaints [processes]bytes.Buffer
	var children [processes]*exec.Cmd
	for i := range children {
		children[i] = process(t, path, each)
		children[i].Stdout, children[i].Stderr = &said[i], &complaints[i]
		if err := children[i].Start(); err != nil {
			t.Fatal(err)
		}
	}
	for i, c := range children {
		if err := c.Wait(); err != nil {
			t.Errorf("process %d: %v: %s", i, err, complaints[i].String())
		}
	}
	j := open(t, path)
	for i := range said {
		if n := holds(t, j, said[i].String()); n != each*childWrites {
			t.Errorf("process %d: %d writes said to be kept, want %d", i, n, each*childWrites)
		}
	}
	if n := written(t, j); n != processes*each*childWrites {
		t.Errorf("%d writes, want %d", n, processes*each*childWrites)
	}
	sound(t, j)
}

// asKilled copies the files of an open journal as a kill would leave them, the seal too, and
// reports the copy's path.
func asKilled(t *testing.T, j *Journal) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "killed.db")
	for _, end := range []string{"", "-wal", ".seal"} {
		b, err := os.ReadFile(j.path + end)
		if err != nil && (end != ".seal" || !errors.Is(err, os.ErrNotExist)) {
			t.Fatal(err)
		}
		if err == nil {
			put(t, path+end, b)
		}
	}
	info, err := os.Stat(j.path)
	if err == nil {
		err = os.Chtimes(path, info.ModTime(), info.ModTime())
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestKilledProcessLosesAtMostItsLastWrite kills writers at random moments, from before
// the file is made on. ONWARD_LONG=1 kills 1,000.
func TestKilledProcessLosesAtMostItsLastWrite(t *testing.T) {
	kills := 25
	if os.Getenv("ONWARD_LONG") != "" {
		kills = 1000
	}
	seed := uint64(time.Now().UnixNano())
	rng := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	kept, before := 0, 0
	for i := range kills {
		path := filepath.Join(dir, fmt.Sprint(i/5), "journal.db") // a new file every fifth time
		if i%5 == 0 {
			before = 0
		}
		wait := time.Duration(rng.IntN(40)) * time.Millisecond
		writing := rng.IntN(3) > 0
		said := killed(t, path, writing, wait)
		j := open(t, path)
		n := holds(t, j, said)
		sound(t, j)
		count := written(t, j)
		if lost := before + n - count; lost > 0 || lost < -1 {
			t.Errorf("seed %d, kill %d, writing %v, after %v: %d writes; want %d, or 1 more", seed, i, writing, wait, count, before+n)
		}
		kept, before = kept+n, count
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills, %d writes said before them", kills, kept)
	if kept < kills {
		t.Errorf("only %d things were written before %d kills: the kills came too early to tell anything", kept, kills)
	}
}

// killed starts a writer and kills it after a wait, from its start or from when it is
// writing, and reports the lines it said till then.
func killed(t *testing.T, path string, writing bool, wait time.Duration) string {
	t.Helper()
	c := process(t, path, 1_000_000)
	said, complaints := voice{began: make(chan struct{})}, bytes.Buffer{}
	c.Stdout, c.Stderr = &said, &complaints
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if writing {
		select {
		case <-said.began:
		case <-time.After(2 * patience):
		}
	}
	time.Sleep(wait)
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	var exit *exec.ExitError
	if err := c.Wait(); !errors.As(err, &exit) || exit.Exited() {
		t.Fatalf("the writer ended by itself: %v: %s", err, complaints.String())
	}
	words := said.words.String()
	return words[:strings.LastIndexByte(words, '\n')+1] // a line cut short was not said
}

// A voice keeps what a process says, and closes began at its first word.
type voice struct {
	began chan struct{}
	words bytes.Buffer
}

// Write keeps p.
func (v *voice) Write(p []byte) (int, error) {
	if v.words.Len() == 0 {
		close(v.began)
	}
	return v.words.Write(p)
}
