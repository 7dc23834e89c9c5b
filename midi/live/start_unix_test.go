//go:build unix

package live

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A signal ends the take in silence with exit code 130; the signals of a terminal
// that goes away do not touch it.
func TestSignals(t *testing.T) {
	t.Parallel()
	for _, sig := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
		path := t.TempDir() + "/heard"
		take := start(t, t.Context(), prepared(t, march(60, 120)), "file:"+path)
		<-take.Beats()
		for _, deaf := range deafTo {
			take.cmd.Process.Signal(deaf)
		}
		time.Sleep(100 * time.Millisecond)
		take.cmd.Process.Signal(sig)
		rep, err := take.Wait()
		if err != nil || !rep.Left || !rep.Silent || rep.Played < 80*time.Millisecond {
			t.Errorf("%v: got %+v, %v", sig, rep, err)
		}
		if code := take.cmd.ProcessState.ExitCode(); code != 130 {
			t.Errorf("%v: exit code %d, want 130", sig, code)
		}
		if in, closed := readHeard(t, path); !closed || in.hanging() != "" {
			t.Errorf("%v: closed %v, hanging %q", sig, closed, in.hanging())
		}
	}
}

// A take that was stopped for a second goes on at the right place and ends when it
// should.
func TestStoppedTakeGoesOn(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	r := prepared(t, march(3, 120))
	take := start(t, t.Context(), r, "file:"+path)
	began := time.Now()
	time.Sleep(600 * time.Millisecond)
	take.cmd.Process.Signal(syscall.SIGSTOP)
	time.Sleep(time.Second)
	take.cmd.Process.Signal(syscall.SIGCONT)
	rep, err := take.Wait()
	if err != nil || rep.Left || !rep.Silent || rep.Events != len(r.Events) || rep.Dropped == 0 || rep.Max < 500*time.Millisecond {
		t.Errorf("got %+v, %v", rep, err)
	}
	if took := time.Since(began); took < 3*time.Second {
		t.Errorf("the take of 3 s took %v", took)
	}
	in, closed := readHeard(t, path)
	if end := in.heard[len(in.heard)-1].at; end > 3500*time.Millisecond {
		t.Errorf("the take of 3 s ended after %v", end)
	}
	if !closed || in.hanging() != "" {
		t.Errorf("closed %v, hanging %q", closed, in.hanging())
	}
	// The horn's long note of the third measure is due at 2 s, well after the stop;
	// the first message, from which the times are counted, may itself be late.
	if h := lastStrike(in, [3]byte{noteOn | 1, 53, 70}); h < 1900*time.Millisecond || h > 2300*time.Millisecond {
		t.Errorf("the third measure began at %v", h)
	}
}

func lastStrike(in *instrument, msg [3]byte) (at time.Duration) {
	for _, h := range in.heard {
		if h.msg == msg {
			at = h.at
		}
	}
	return at
}

// When the parent is killed the band plays on to the end and closes its notes.
func TestParentDies(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	cmd := as("parent", path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if line, _ := bufio.NewReader(out).ReadString('\n'); line != "started\n" {
		t.Fatalf("the parent says %q", line)
	}
	time.Sleep(300 * time.Millisecond)
	cmd.Process.Kill()
	cmd.Wait()
	var in *instrument
	closed := false
	for wait := time.Now(); !closed && time.Since(wait) < 6*time.Second; time.Sleep(50 * time.Millisecond) {
		in, closed = readHeard(t, path)
	}
	if !closed || in.hanging() != "" || !in.hushed(allNotesOff) {
		t.Fatalf("closed %v, hanging %q", closed, in.hanging())
	}
	if end := in.heard[len(in.heard)-1].at; end < 1900*time.Millisecond {
		t.Errorf("the take of 2 s ended after %v", end)
	}
	if got := kept(t, path+" kept"); got != "2s false <nil>" {
		t.Errorf("kept as %q", got)
	}
}

// kept waits for what Keep writes by a note.
func kept(t *testing.T, note string) string {
	t.Helper()
	for wait := time.Now(); time.Since(wait) < 10*time.Second; time.Sleep(10 * time.Millisecond) {
		if text, err := os.ReadFile(note); err == nil && len(text) > 0 {
			return string(text)
		}
	}
	return "nothing"
}

// The take's own process has a take kept, whatever ended it.
func TestTakeIsKept(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		sink string
		end  func(*Take)
		want string
	}{
		{"off", func(*Take) {}, "2s false <nil>"},
		{"off", (*Take).Leave, "0s true <nil>"},
		{"off", func(t *Take) { t.cmd.Process.Signal(syscall.SIGTERM) }, "0s true <nil>"},
		{"blocked", (*Take).Leave, "0s false " + errBlocked.Error()},
	} {
		note := t.TempDir() + "/kept"
		take, err := Start(t.Context(), as("take"), prepared(t, march(2, 120)), c.sink, note)
		if err != nil {
			t.Fatal(err)
		}
		c.end(take)
		take.Wait()
		if got := kept(t, note); got != c.want {
			t.Errorf("%s: kept as %q, want %q", c.sink, got, c.want)
		}
	}
}

// A reader of the lines that reads none holds nothing up.
func TestStuckReader(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	unread, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer unread.Close()
	fill(t, w)
	var in bytes.Buffer
	fmt.Fprintf(&in, "%q\n\"\"\n", "file:"+path)
	Encode(&in, prepared(t, march(1, 120)))
	cmd := as("take")
	cmd.Stdin, cmd.Stdout = &in, w
	if err := cmd.Run(); err != nil {
		t.Error(err)
	}
	got, closed := readHeard(t, path)
	if !closed || got.hanging() != "" {
		t.Errorf("closed %v, hanging %q", closed, got.hanging())
	}
	if end := got.heard[len(got.heard)-1].at; end > 1500*time.Millisecond {
		t.Errorf("the take of 1 s ended after %v", end)
	}
}

// fill fills the pipe.
func fill(t *testing.T, w *os.File) {
	t.Helper()
	w.SetWriteDeadline(time.Now().Add(50 * time.Millisecond))
	for {
		if _, err := w.Write(make([]byte, 4096)); errors.Is(err, os.ErrDeadlineExceeded) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// A killed take is reported as one that may leave notes sounding.
func TestKilledTake(t *testing.T) {
	t.Parallel()
	take := start(t, t.Context(), prepared(t, march(60, 120)), "off")
	take.cmd.Process.Kill()
	if _, err := take.Wait(); !errors.Is(err, ErrHanging) {
		t.Errorf("got %v", err)
	}
}

// What a killed take leaves sounding is silenced by the process that watches it, be the
// parent there or not.
func TestKilledTakeIsSilenced(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	r := prepared(t, march(60, 120))
	take := start(t, t.Context(), r, "file:"+path)
	for beat := range take.Beats() {
		if beat >= 3 {
			break
		}
	}
	take.cmd.Process.Kill()
	if _, err := take.Wait(); !errors.Is(err, ErrHanging) {
		t.Errorf("got %v", err)
	}
	closed := false
	for wait := time.Now(); !closed && time.Since(wait) < 10*time.Second; time.Sleep(10 * time.Millisecond) {
		_, closed = readHeard(t, path)
	}
	checkHushed(t, r, path)
}

// The watcher does nothing after a take that ended in silence, and nothing where the take
// did not come to begin.
func TestWatcherOfATakeThatEnded(t *testing.T) {
	t.Parallel()
	var whole bytes.Buffer
	fmt.Fprintln(&whole, "\"opens\"\n\"\"")
	Encode(&whole, prepared(t, march(1, 120)).keys())
	for _, c := range []struct {
		in   string
		want int
	}{{whole.String() + string(byte(orderLeave)), 0}, {whole.String()[:whole.Len()-1], 1}, {"", 1}} {
		cmd := as("watch")
		cmd.Stdin = strings.NewReader(c.in)
		cmd.Run()
		if got := cmd.ProcessState.ExitCode(); got != c.want {
			t.Errorf("%d bytes: exit code %d, want %d", len(c.in), got, c.want)
		}
	}
}
