package live

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"
)

// role names, in the environment of a copy of the test program, what the copy is.
const role = "ONWARD_TEST_ROLE"

func TestMain(m *testing.M) {
	switch os.Getenv(role) {
	case "take":
		os.Exit(Serve(os.Stdin, os.Stdout, hostForTest))
	case "watch":
		os.Exit(Watch(os.Stdin, openForTest))
	case "parent":
		parent(os.Args[1])
	case "litter":
		litter()
	default:
		os.Exit(m.Run())
	}
}

// litter makes garbage as fast as it can, for half a minute at most.
func litter() {
	var kept [1000][]byte
	for i, end := 0, time.Now().Add(30*time.Second); time.Now().Before(end); i++ {
		kept[i%len(kept)] = make([]byte, 1+i%100_000)
	}
}

// as is a command that runs the test program in a role.
func as(name string, args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), role+"="+name)
	return cmd
}

// parent starts a take and waits to be killed.
func parent(path string) {
	r, err := Prepare(march(2, 120))
	if err == nil {
		var t *Take
		if t, err = Start(context.Background(), as("take"), r, "file:"+path, path+" kept"); err == nil {
			fmt.Println("started")
			t.Wait()
		}
	}
	fmt.Println(err)
	os.Exit(1)
}

// hostForTest has takes on files watched, and keeps a take in the file that is its note.
var hostForTest = Host{Open: openForTest, Watch: func(sink string) *exec.Cmd {
	if strings.HasPrefix(sink, "file:") {
		return as("watch")
	}
	return nil
}, Keep: func(note string, r Report, fault error) {
	os.WriteFile(note, fmt.Appendf(nil, "%v %v %v", r.Played.Truncate(time.Second), r.Left, fault), 0o600)
}}

// openForTest opens the sinks "off", "blocked", "panics", "stays open" and "file:PATH".
func openForTest(spec string) (Sender, error) {
	path, isFile := strings.CutPrefix(spec, "file:")
	switch {
	case isFile:
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
		return fileSender{f}, err
	case spec == "off":
		return Off{}, nil
	case spec == "blocked":
		return blocked{}, nil
	case spec == "panics":
		return panics{}, nil
	case spec == "stays open":
		return staysOpen{}, nil
	}
	return nil, errors.New("there are off, blocked, panics and file:PATH")
}

// A fileSender writes each message with the wall clock's time, and last "closed".
type fileSender struct{ *os.File }

func (f fileSender) Send(msg []byte) error {
	_, err := fmt.Fprintf(f.File, "%d %x\n", time.Now().UnixNano(), msg)
	return err
}

func (f fileSender) Close() error {
	fmt.Fprintln(f.File, "closed")
	return f.File.Close()
}

type blocked struct{}

func (blocked) Send([]byte) error { select {} }

type panics struct{}

func (panics) Send([]byte) error { panic("a fault in the driver") }

type staysOpen struct{ Off }

func (staysOpen) Close() error { return errors.New("messages are still on their way") }

// readHeard reads what a fileSender wrote, times from the first message.
func readHeard(t *testing.T, path string) (in *instrument, closed bool) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	in = newInstrument()
	zero := int64(-1)
	for line := range strings.Lines(string(text)) {
		if line == "closed\n" {
			return in, true
		}
		var ns int64
		var digits string
		if _, err := fmt.Sscan(line, &ns, &digits); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if zero < 0 {
			zero = ns
		}
		msg, err := hex.DecodeString(digits)
		if err != nil {
			t.Fatal(err)
		}
		in.Send(msg)
		in.heard[len(in.heard)-1].at = time.Duration(ns - zero)
	}
	return in, false
}

func start(t *testing.T, ctx context.Context, r *Roll, sink string) *Take {
	t.Helper()
	take, err := Start(ctx, as("take"), r, sink, "")
	if err != nil {
		t.Fatal(err)
	}
	return take
}

func TestTakeInAProcessOfItsOwn(t *testing.T) {
	t.Parallel()
	path := t.TempDir() + "/heard"
	r := prepared(t, march(2, 120))
	take := start(t, t.Context(), r, "file:"+path)
	last, told := -1, 0
	for beat := range take.Beats() {
		if beat <= last {
			t.Errorf("beat %d after beat %d", beat, last)
		}
		last = beat
		told++
	}
	rep, err := take.Wait()
	if err != nil || rep.Left || !rep.Silent || rep.Events != len(r.Events) || rep.Played != 2*time.Second {
		t.Errorf("got %+v, %v", rep, err)
	}
	if last != len(r.Beats)-1 || told < 3 {
		t.Errorf("told %d beats, the last %d of %d", told, last, len(r.Beats))
	}
	in, closed := readHeard(t, path)
	if !closed || in.hanging() != "" || !in.hushed(allNotesOff) {
		t.Errorf("closed %v, hanging %q", closed, in.hanging())
	}
	t.Log(rep)
}

func TestSinkThatDoesNotOpen(t *testing.T) {
	t.Parallel()
	_, err := Start(t.Context(), as("take"), prepared(t, march(1, 120)), "trombone", "")
	want := `take, sink "trombone": there are off, blocked, panics and file:PATH`
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestCommandThatIsNoTake(t *testing.T) {
	t.Parallel()
	_, err := Start(t.Context(), exec.Command(os.Args[0], "-test.run=^$"), prepared(t, march(1, 120)), "off", "")
	if err == nil || !strings.Contains(err.Error(), "without a report") {
		t.Errorf("got %v", err)
	}
}

// Leave, and a context that is done, end the take in silence.
func TestLeave(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	for name, leave := range map[string]func(*Take){"Leave": (*Take).Leave, "context": func(*Take) { cancel() }} {
		path := t.TempDir() + "/heard"
		take := start(t, ctx, prepared(t, march(60, 120)), "file:"+path)
		<-take.Beats()
		time.Sleep(100 * time.Millisecond)
		leave(take)
		rep, err := take.Wait()
		if err != nil || !rep.Left || !rep.Silent || rep.Played > 2*time.Second {
			t.Errorf("%s: got %+v, %v", name, rep, err)
		}
		if in, closed := readHeard(t, path); !closed || in.hanging() != "" || !in.hushed(allSoundOff) {
			t.Errorf("%s: closed %v, hanging %q", name, closed, in.hanging())
		}
	}
}

// A sink that blocks for ever against its contract cannot keep the process.
func TestBlockedSink(t *testing.T) {
	t.Parallel()
	take := start(t, t.Context(), prepared(t, march(60, 120)), "blocked")
	take.Leave()
	if _, err := take.Wait(); !errors.Is(err, ErrHanging) {
		t.Errorf("got %v", err)
	}
}

// A port that does not close may not have had its last note-offs.
func TestPortThatDoesNotClose(t *testing.T) {
	t.Parallel()
	take := start(t, t.Context(), prepared(t, march(1, 240)), "stays open")
	if rep, err := take.Wait(); rep.Silent || !errors.Is(err, ErrHanging) {
		t.Errorf("got %+v, %v", rep, err)
	}
}

func TestPanicInTheTakeIsReported(t *testing.T) {
	t.Parallel()
	take := start(t, t.Context(), prepared(t, march(60, 120)), "panics")
	if _, err := take.Wait(); !errors.Is(err, ErrHanging) || !strings.Contains(err.Error(), "a fault in the driver") {
		t.Errorf("got %v", err)
	}
}

// The collector does not run during a take, not though asked to run at every turn and
// though other programs collect on every core; nor does the take make it work: beats are
// told without allocating, as is all that comes with an event.
func TestNothingIsCollectedDuringATake(t *testing.T) {
	t.Parallel()
	for range runtime.NumCPU() {
		litterer := as("litter")
		if err := litterer.Start(); err != nil {
			t.Fatal(err)
		}
		defer litterer.Wait()
		defer litterer.Process.Kill()
	}
	r := prepared(t, march(6, 240))
	cmd := as("take")
	cmd.Env = append(cmd.Env, "GOGC=1")
	take, err := Start(t.Context(), cmd, r, "off", "")
	if err != nil {
		t.Fatal(err)
	}
	rep, err := take.Wait()
	if err != nil || rep.Events != len(r.Events) || rep.Collected != 0 {
		t.Fatalf("got %+v, %v", rep, err)
	}
	// What the runtime's own threads and timers take comes to some dozens.
	if rep.Allocated > 150 {
		t.Errorf("%d allocations in a take of %d events", rep.Allocated, rep.Events)
	}
	t.Logf("%d allocations; %v", rep.Allocated, rep)
}
