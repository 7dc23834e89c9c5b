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

// TestMain lets the test binary be a second process: with ONWARD_JOURNAL_CHILD set it adds
// that many reads to the journal ONWARD_JOURNAL_FILE, and prints each identity once the
// journal has taken it.
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

// child adds count reads to the journal at path, one by one.
func child(path string, count int, out io.Writer) error {
	ctx := context.Background()
	j, err := Open(ctx, path, time.Now)
	if err != nil {
		return err
	}
	for i := range count {
		identity := fmt.Sprintf("process %d read %d", os.Getpid(), i)
		if _, err := j.AddRead(ctx, march(identity, childRuns)); err != nil {
			return err
		}
		fmt.Fprintln(out, identity)
	}
	return j.Close()
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

// holds says that j has each read named in the lines of said, with all its runs.
func holds(t *testing.T, j *Journal, said string) (reads int) {
	t.Helper()
	ctx := context.Background()
	for lines := bufio.NewScanner(strings.NewReader(said)); lines.Scan(); reads++ {
		identity := lines.Text()
		if _, found, err := j.Find(ctx, identity); err != nil || !found {
			t.Errorf("%s: found %v, error %v", identity, found, err)
		}
		seen, err := j.Seen(ctx, 9, hashes(march(identity, childRuns).Runs))
		if err != nil || len(seen) != childRuns {
			t.Errorf("%s: %d runs of %d, error %v", identity, len(seen), childRuns, err)
		}
	}
	return reads
}

// sound says that the file of j is whole by SQLite's own full check, and that every read
// has all its runs.
func sound(t *testing.T, j *Journal) {
	t.Helper()
	var verdict string
	if err := j.db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Errorf("integrity: %s, error %v", verdict, err)
	}
	var torn int
	err := j.db.QueryRow(`SELECT count(*) FROM reads
		WHERE (SELECT count(*) FROM runs WHERE read_id = reads.id) != ?`, childRuns).Scan(&torn)
	if err != nil || torn != 0 {
		t.Errorf("%d reads lack runs, error %v", torn, err)
	}
}

func TestProcessesWriteAtOnce(t *testing.T) {
	const processes, each = 4, 25
	path := filepath.Join(t.TempDir(), "new", "journal.db") // they race to make it, too
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
		if n := holds(t, j, said[i].String()); n != each {
			t.Errorf("process %d: %d reads said to be kept, want %d", i, n, each)
		}
	}
	if n, err := j.Count(context.Background()); n != processes*each || err != nil {
		t.Errorf("%d reads, error %v; want %d", n, err, processes*each)
	}
	sound(t, j)
}

// TestKilledProcessLosesAtMostItsLastWrite kills writers at random moments, from before
// the file is made on. ONWARD_LONG=1 kills 500.
func TestKilledProcessLosesAtMostItsLastWrite(t *testing.T) {
	kills := 30
	if os.Getenv("ONWARD_LONG") != "" {
		kills = 500
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
		count, err := j.Count(context.Background())
		if lost := before + n - count; err != nil || lost > 0 || lost < -1 {
			t.Errorf("seed %d, kill %d, writing %v, after %v: %d reads, error %v; want %d, or 1 more", seed, i, writing, wait, count, err, before+n)
		}
		kept, before = kept+n, count
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if kept < kills {
		t.Errorf("only %d reads were written before %d kills: the kills came too early to tell anything", kept, kills)
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
