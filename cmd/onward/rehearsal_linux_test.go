package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/file"
	"onward/midi/live"

	"golang.org/x/sys/unix"
)

// rehearsed is what the faults befall: a few seconds of march.
var rehearsed = []string{"read", "--seed", "7", "--rung", "5", "--style", "march", "--meter", "2/4", "--measures", "8",
	"--tempo", "160", "--look-over", "0", "--journal", "j.db", "--out", "out"}

// near is how far from its time a note may be heard by a test that is not kept from
// hearing, and missing what share of the notes, one in so many, may be left out as too
// late. A machine that is busy with other tests is late, but a band that is a measure off,
// which is 750 ms, is wrong.
const (
	near    = 600 * time.Millisecond
	missing = 8
	// busy is how long this test is kept from its turn by a machine that it can't judge a
	// fault's moment on.
	busy = 100 * time.Millisecond
)

// starves reports whether other programs can keep a take from its turn for long: where
// SCHED_FIFO is not permitted. Notes that are then left out are no fault of the program.
var starves = sync.OnceValue(func() bool {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	old, err := unix.SchedGetAttr(0, 0)
	if err != nil || unix.SchedSetAttr(0, &unix.SchedAttr{Policy: unix.SCHED_FIFO, Priority: 1}, 0) != nil {
		return true
	}
	return unix.SchedSetAttr(0, &unix.SchedAttr{Policy: old.Policy, Nice: old.Nice}, 0) != nil
})

// A rehearsal is the real program, with its take in a process of its own, on a named
// pipe that the test hears. It starts with start.
type rehearsal struct {
	*testing.T
	dir, pipe string
	cmd       *exec.Cmd
	words     bytes.Buffer // what the program printed
	ears      *ears
}

// rehearse makes a rehearsal by the program and arguments that come before onward's own.
func rehearse(t *testing.T, before ...string) *rehearsal {
	t.Helper()
	r := &rehearsal{T: t, dir: t.TempDir()}
	r.pipe = filepath.Join(r.dir, "midi")
	if err := unix.Mkfifo(r.pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	args := slices.Concat(before, []string{"onward"}, rehearsed, []string{"--port", "raw:" + r.pipe})
	r.cmd = exec.Command(args[0], args[1:]...)
	r.cmd.Dir = r.dir
	r.cmd.Env = append(os.Environ(), "HOME="+r.dir)
	r.cmd.Stdout, r.cmd.Stderr = &r.words, &r.words
	r.ears = listen(t, r.pipe)
	return r
}

// start starts the program.
func (r *rehearsal) start() *rehearsal {
	r.Helper()
	if err := r.cmd.Start(); err != nil {
		r.Fatal(err)
	}
	r.Cleanup(func() { r.cmd.Process.Kill() })
	return r
}

// until waits until so many note-ons were heard.
func (r *rehearsal) until(ons int) *rehearsal {
	r.Helper()
	for wait := 0; r.ears.ons() < ons; wait++ {
		if wait > 3000 || r.ears.over() {
			if starves() {
				r.Skipf("this machine is too busy: %d note-ons heard", r.ears.ons())
			}
			r.Fatalf("%d note-ons in a take or half a minute, want %d; the program says:\n%s", r.ears.ons(), ons, &r.words)
		}
		time.Sleep(10 * time.Millisecond)
	}
	return r
}

// takePID reports the process of the take.
func (r *rehearsal) takePID() int {
	r.Helper()
	all, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, path := range all {
		text, err := os.ReadFile(path)
		if err != nil {
			continue // it has ended
		}
		_, after, _ := strings.Cut(string(text), ") ") // the name may hold anything
		fields := strings.Fields(after)
		if len(fields) > 1 && fields[1] == fmt.Sprint(r.cmd.Process.Pid) {
			pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(path)))
			return pid
		}
	}
	if r.ears.over() {
		r.Skip("this machine is too busy: the take was over before the fault befell it")
	}
	r.Fatal("the take has no process")
	return 0
}

// ended waits for the program's end and wants this exit code.
func (r *rehearsal) ended(code int) *rehearsal {
	r.Helper()
	err := r.cmd.Wait()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		r.Fatal(err)
	}
	if got := r.cmd.ProcessState.ExitCode(); got != code {
		r.Errorf("exit code %d, want %d; the program says:\n%s", got, code, &r.words)
	}
	return r
}

// says wants these words from the program, in this order, wherever it breaks lines.
func (r *rehearsal) says(words ...string) {
	r.Helper()
	inOrder(r.T, strings.Join(strings.Fields(r.words.String()), " "), words...)
}

// roll is what was to be played, by the file that the program wrote.
func (r *rehearsal) roll() *live.Roll {
	r.Helper()
	paths, _ := filepath.Glob(filepath.Join(r.dir, "out", "*.mid"))
	if len(paths) != 1 {
		r.Fatalf("MIDI files: %q", paths)
	}
	f, err := os.Open(paths[0])
	if err != nil {
		r.Fatal(err)
	}
	defer f.Close()
	tl, err := file.Read(f)
	if err != nil {
		r.Fatal(err)
	}
	roll, err := live.Prepare(tl)
	if err != nil {
		r.Fatal(err)
	}
	return roll
}

// A struck note is a note-on and when it was heard or due, from the first one.
type struck struct {
	at           time.Duration
	channel, key byte
}

// due are the note-ons to be heard after a time.
func (r *rehearsal) due(after time.Duration) (all []struck) {
	zero := time.Duration(-1)
	for _, e := range r.roll().Events {
		if e.Msg[0]&0xF0 != 0x90 {
			continue
		}
		if zero < 0 {
			zero = e.At
		}
		if e.At-zero >= after {
			all = append(all, struck{e.At - zero, e.Msg[0] & 15, e.Msg[1]})
		}
	}
	return all
}

// end is when the take ends, from the first note-on.
func (r *rehearsal) end() time.Duration {
	roll := r.roll()
	for _, e := range roll.Events {
		if e.Msg[0]&0xF0 == 0x90 {
			return roll.End - e.At
		}
	}
	return roll.End
}

// silent waits until nobody writes to the pipe, and wants every note let go as often as
// it was struck, by a count of its own, and the last word on each channel to be that all
// notes are off.
func (r *rehearsal) silent() *rehearsal {
	r.Helper()
	r.ears.close(r.T)
	if hanging := r.ears.hanging(); hanging != "" {
		r.Errorf("hanging: %s", hanging)
	}
	return r
}

// takenUp wants the take to lie beside the journal, and the next start to take it up, once.
func (r *rehearsal) takenUp(outcome journal.Outcome) {
	r.Helper()
	for wait := 0; len(r.beside()) == 0; wait++ { // a moment after the last note
		if wait > 1000 {
			r.Fatal("the take is not kept")
		}
		time.Sleep(10 * time.Millisecond)
	}
	for _, want := range []string{"a take that had ended without entering the journal is in it now", ""} {
		next := exec.Command("onward", "journal", "--journal", "j.db")
		next.Dir, next.Env = r.dir, r.cmd.Env
		var said bytes.Buffer
		next.Stderr = &said
		if err := next.Run(); err != nil || !strings.Contains(said.String(), want) || want == "" && said.Len() > 0 {
			r.Errorf("the next start says %q, %v; want %q", &said, err, want)
		}
	}
	r.has(outcome)
}

// has wants the journal to have the take, of the one read, a moment after the last note, and
// nothing to lie beside it.
func (r *rehearsal) has(outcome journal.Outcome) {
	r.Helper()
	j, err := journal.Open(r.Context(), filepath.Join(r.dir, "j.db"), time.Now)
	if err != nil {
		r.Fatal(err)
	}
	defer j.Close()
	var all []journal.Take
	for wait := 0; wait < 1000 && len(all) == 0 && err == nil; wait++ {
		time.Sleep(10 * time.Millisecond)
		j.TakeUp(r.Context())
		all, err = j.Takes(r.Context(), 10)
	}
	reads, fault := j.Count(r.Context())
	if err != nil || fault != nil || reads != 1 || len(all) != 1 || all[0].Outcome != outcome || len(r.beside()) > 0 {
		r.Errorf("%d reads, takes %+v, %v, %v; beside them %q", reads, all, err, fault, r.beside())
	}
}

// beside are the files of takes beside the journal.
func (r *rehearsal) beside() []string {
	paths, _ := filepath.Glob(filepath.Join(r.dir, "j.db.take-*"))
	return paths
}

// hushedAt wants that no key sounds soon after a time, the last word being that.
func (r *rehearsal) hushedAt(at time.Duration) {
	r.Helper()
	for what := r.ears.sounds(); what != ""; what = r.ears.sounds() {
		if now := r.ears.now(); now > at+near {
			r.Fatalf("%v after the fault: %s", now-at, what)
		}
		time.Sleep(time.Millisecond)
	}
	r.Logf("silent after %v", r.ears.now()-at)
}

// right wants the note-ons heard after a time to be those that are due then, in their order
// and near their time, and no other; after 0 that is the whole take.
func (r *rehearsal) right(after time.Duration) {
	r.Helper()
	if starves() && !r.ears.first(r.due(0)[0]) {
		r.Skip("this machine is too busy: the first note was left out")
	}
	near := near + r.ears.deaf
	due, heard := r.due(after-near), r.ears.since(after)
	matched := make([]bool, len(due))
	next := 0
	for i, h := range heard {
		at := next
		for at < len(due) && (h.channel != due[at].channel || h.key != due[at].key || (h.at-due[at].at).Abs() > near) {
			at++
		}
		if at == len(due) {
			r.Fatalf("note-on %d of %d heard after %v: %v is not due then, of %v", i, len(heard), after, h, due[next:])
		}
		matched[at] = true
		next = at + 1
	}
	wanted, lacking := 0, 0
	for i, d := range due {
		if d.at < after+near && after > 0 {
			continue // it may have been heard before
		}
		wanted++
		if !matched[i] {
			lacking++
		}
	}
	switch {
	case wanted == 0 && r.ears.deaf > busy:
		r.Skipf("this machine is too busy: the fault befell a take that was over")
	case wanted > 0 && lacking*missing <= wanted:
	case wanted > 0 && starves():
		r.Logf("after %v %d note-ons of %d were not heard: this machine is busy", after, lacking, wanted)
	default:
		r.Errorf("after %v %d note-ons of %d were not heard", after, lacking, wanted)
	}
	if end := r.end(); r.ears.hushed < end-near || !starves() && r.ears.hushed > end+near {
		r.Errorf("the last word is heard at %v, the end is at %v", r.ears.hushed, end)
	}
}

// ears hear a named pipe: they know what each key of each channel was told, and when.
type ears struct {
	lock sync.Mutex
	fd   int // -1 while nobody reads
	quit chan struct{}
	done chan struct{}
	zero time.Time // of the first note-on
	all  []struck
	keys map[[2]byte]int
	last map[byte][2]byte // of each channel, its last controller
	// hushed is when all notes were last switched off, from the first note-on.
	hushed time.Duration
	rest   []byte
	wrong  error
	// deaf is the longest time between two looks at the pipe: a machine that is busy with
	// other tests keeps this one from its turn, and it hears late by so much at most.
	deaf time.Duration
}

func listen(t *testing.T, pipe string) *ears {
	t.Helper()
	e := &ears{quit: make(chan struct{}), done: make(chan struct{}), keys: map[[2]byte]int{}, last: map[byte][2]byte{}}
	e.open(t, pipe)
	go e.listen()
	return e
}

// open begins to read.
func (e *ears) open(t *testing.T, pipe string) {
	t.Helper()
	fd, err := unix.Open(pipe, unix.O_RDONLY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	e.lock.Lock()
	defer e.lock.Unlock()
	e.fd, e.rest = fd, nil
}

// shut stops reading: whoever writes has an error.
func (e *ears) shut() {
	e.lock.Lock()
	defer e.lock.Unlock()
	unix.Close(e.fd)
	e.fd = -1
	e.keys = map[[2]byte]int{} // an instrument that is pulled falls silent
}

// deafen hears nothing, but leaves the pipe open, until the function that it returns is
// called.
func (e *ears) deafen() (hear func()) {
	e.lock.Lock()
	return e.lock.Unlock
}

func (e *ears) listen() {
	defer close(e.done)
	for looked := time.Now(); ; {
		ended := e.hear()
		now := time.Now()
		looked, e.deaf = now, max(e.deaf, now.Sub(looked))
		select {
		case <-e.quit:
			if ended {
				return
			}
		default:
		}
		time.Sleep(time.Millisecond)
	}
}

// hear takes what is there and reports whether nobody writes.
func (e *ears) hear() (ended bool) {
	e.lock.Lock()
	defer e.lock.Unlock()
	if e.fd < 0 {
		return false
	}
	var b [4096]byte
	n, err := unix.Read(e.fd, b[:])
	if err == nil && n == 0 {
		return true
	}
	for _, c := range b[:max(n, 0)] {
		e.take(c)
	}
	return false
}

// take takes a byte of the wire.
func (e *ears) take(c byte) {
	e.rest = append(e.rest, c)
	want := 3
	if e.rest[0]&0xF0 == 0xC0 {
		want = 2
	}
	if e.rest[0] < 0x80 || len(e.rest) > 1 && c >= 0x80 {
		e.wrong = fmt.Errorf("% x is no message", e.rest)
	}
	if len(e.rest) < want {
		return
	}
	m := e.rest
	e.rest = nil
	ch, key := m[0]&15, [2]byte{m[0] & 15, m[1]}
	switch m[0] & 0xF0 {
	case 0x90:
		if e.zero.IsZero() {
			e.zero = time.Now()
		}
		e.keys[key]++
		e.all = append(e.all, struck{time.Since(e.zero), ch, m[1]})
	case 0x80:
		e.keys[key] = max(0, e.keys[key]-1) // a note-off too many harms nobody
	case 0xB0:
		e.last[ch] = [2]byte{m[1], m[2]}
		if m[1] == 123 && !e.zero.IsZero() {
			e.hushed = time.Since(e.zero)
		}
	}
}

func (e *ears) ons() int {
	e.lock.Lock()
	defer e.lock.Unlock()
	return len(e.all)
}

// over reports whether every channel's last word is that all notes are off.
func (e *ears) over() bool {
	e.lock.Lock()
	defer e.lock.Unlock()
	for _, c := range e.last {
		if c[0] != 123 && c[0] != 120 {
			return false
		}
	}
	return len(e.last) > 0
}

// sounds is what hangs now.
func (e *ears) sounds() string {
	e.lock.Lock()
	defer e.lock.Unlock()
	return e.hanging()
}

// first reports whether d was heard first, or something else in its place.
func (e *ears) first(d struck) bool {
	e.lock.Lock()
	defer e.lock.Unlock()
	return len(e.all) > 0 && e.all[0].channel == d.channel && e.all[0].key == d.key
}

// now reports the time since the first note-on.
func (e *ears) now() time.Duration {
	e.lock.Lock()
	defer e.lock.Unlock()
	return time.Since(e.zero)
}

// since reports the note-ons heard from a time on, those of one moment in the order in
// which they came.
func (e *ears) since(at time.Duration) (all []struck) {
	e.lock.Lock()
	defer e.lock.Unlock()
	for _, s := range e.all {
		if s.at >= at {
			all = append(all, s)
		}
	}
	return all
}

// close stops hearing when nobody writes any more.
func (e *ears) close(t *testing.T) {
	t.Helper()
	close(e.quit)
	select {
	case <-e.done:
	case <-time.After(30 * time.Second):
		t.Fatal("the take still has the port after half a minute")
	}
	if e.wrong != nil {
		t.Error(e.wrong)
	}
}

// hanging says which keys sound, and which channels were not told that all notes are off.
func (e *ears) hanging() string {
	var s []string
	for k, n := range e.keys {
		if n != 0 {
			s = append(s, fmt.Sprintf("channel %d key %d, struck %d times more than let go", k[0], k[1], n))
		}
	}
	for ch, c := range e.last {
		if c != [2]byte{123, 0} && c != [2]byte{120, 0} {
			s = append(s, fmt.Sprintf("channel %d ends with controller %d", ch, c[0]))
		}
	}
	if len(e.last) == 0 {
		s = append(s, "no channel was told anything")
	}
	return strings.Join(s, ", ")
}

// fill fills the pipe with program changes on channel 16, which no band uses.
func (r *rehearsal) fill() {
	r.Helper()
	fd, err := unix.Open(r.pipe, unix.O_WRONLY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		r.Fatal(err)
	}
	defer unix.Close(fd)
	chunk := bytes.Repeat([]byte{0xCF, 1}, 2048)
	for len(chunk) > 0 {
		if _, err := unix.Write(fd, chunk); err == unix.EAGAIN {
			chunk = chunk[:len(chunk)/4*2]
		} else if err != nil {
			r.Fatal(err)
		}
	}
}

// terminal gives the program a terminal of its own, as its only one, and returns the
// other end.
func (r *rehearsal) terminal() io.WriteCloser {
	r.Helper()
	far := newTerminal(r.T)
	env := r.cmd.Env
	far.on(r.cmd)
	r.cmd.Env = append(env, "TERM=xterm-256color", "LANG=C.UTF-8")
	return far.master
}
