package room

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/exp/teatest"

	"onward/cmd/internal/session"
)

// A stuck writer takes nothing until it is let go, and then keeps what it takes.
type stuck struct {
	free chan struct{}
	mu   sync.Mutex
	took bytes.Buffer
}

func (s *stuck) Write(p []byte) (int, error) {
	<-s.free
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.took.Write(p)
}

func (s *stuck) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.took.String()
}

// A reader that stands still keeps nobody waiting; what was left out is asked for again
// when it goes on.
func TestAScreenThatTakesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := &stuck{free: make(chan struct{})}
		s := newScreen(out)
		asked := 0
		go s.pump(func() {
			asked++
			s.Write([]byte("the whole screen"))
		})
		for range 1000 {
			if n, err := s.Write(bytes.Repeat([]byte("x"), 100)); n != 100 || err != nil {
				t.Fatal(n, err)
			}
			synctest.Wait()
		}
		if len(s.queue) > backlog {
			t.Errorf("%d bytes wait, want %d at most", len(s.queue), backlog)
		}
		close(out.free)
		synctest.Wait()
		s.Write([]byte(", and on"))
		s.finish()
		if got := out.String(); asked != 1 || !strings.HasSuffix(got, "the whole screen, and on") || len(got) > 2*backlog {
			t.Errorf("asked %d times for the whole screen; %d bytes, at the end %q", asked, len(got), got[max(len(got)-40, 0):])
		}
	})
}

// A screen that never takes anything again does not keep the room open.
func TestClosingAScreenThatTakesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := &stuck{free: make(chan struct{})}
		s := newScreen(out)
		go s.pump(func() {})
		for range 1000 {
			s.Write(bytes.Repeat([]byte("x"), 100))
			synctest.Wait() // the first is under way, and stays so
		}
		start := time.Now()
		s.finish()
		if took := time.Since(start); took != patience {
			t.Errorf("closed after %v, want %v", took, patience)
		}
		close(out.free)
		<-s.drained
		if got := out.String(); !strings.HasSuffix(got, restore) {
			t.Errorf("the terminal is left as it was: %q", got[max(len(got)-40, 0):])
		}
	})
}

func TestAScreenThatIsGone(t *testing.T) {
	r, w := io.Pipe()
	r.Close()
	s := newScreen(w)
	go s.pump(func() {})
	s.Write([]byte("x"))
	<-s.drained
	if _, err := s.Write([]byte("y")); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("%v, want that the pipe is closed", err)
	}
	s.finish()
}

// open opens the room on a session that plays by the real clock.
func open(t *testing.T, ctx context.Context, in io.Reader, out io.Writer) (*session.Session, chan error) {
	t.Helper()
	start := time.Now()
	clock := func() time.Duration { return time.Since(start) }
	s := session.New(ctx, &studio{clock: clock, wait: sleep}, clock, sleep)
	done := make(chan error, 1)
	go func() {
		done <- Run(ctx, s, Options{In: in, Out: out, Environ: []string{"LANG=C.UTF-8", "TERM=xterm"}})
	}()
	return s, done
}

// waiting is how long a test waits for what should come at once.
const waiting = 30 * time.Second

func await(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(waiting); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited %v for %s", waiting, what)
		}
	}
}

func awaitEnd(t *testing.T, done chan error) error {
	t.Helper()
	select {
	case err := <-done:
		return err
	case <-time.After(waiting):
		t.Fatal("the room stays open")
		return nil
	}
}

// The room as it is run: on an alternate screen, ended by its keys.
func TestRun(t *testing.T) {
	keys, typed := io.Pipe()
	out := &stuck{free: make(chan struct{})}
	close(out.free)
	s, done := open(t, t.Context(), keys, out)
	await(t, "the offer", func() bool { return strings.Contains(out.String(), "read: march, rung 5") })
	io.WriteString(typed, "q")
	await(t, "the warning", func() bool { return strings.Contains(out.String(), "Press it again") })
	io.WriteString(typed, "q")
	if err := awaitEnd(t, done); err != nil {
		t.Error(err)
	}
	if !s.State().Over {
		t.Error("the practice is not over")
	}
	if got := out.String(); !strings.Contains(got, "\x1b[?1049h") || !strings.Contains(got, "\x1b[?1049l") {
		t.Error("not on an alternate screen, or not back from it")
	}
}

// However the screen is, the session goes on, and the room closes when it must.
func TestRunOnAScreenThatTakesNothing(t *testing.T) {
	for name, end := range map[string]func(*session.Session, func()){
		"over":         func(s *session.Session, _ func()) { s.Do(session.Action{Do: session.DoQuit}) },
		"context done": func(_ *session.Session, stop func()) { stop() },
	} {
		t.Run(name, func(t *testing.T) {
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			out := &stuck{free: make(chan struct{})}
			keys, typed := io.Pipe()
			s, done := open(t, ctx, keys, out)
			await(t, "the offer", func() bool { return s.State().Offer != nil })
			for range 200 {
				if err := s.Do(session.Action{Do: session.DoStep, Step: -1}); err != nil {
					t.Fatal(err)
				}
			}
			time.Sleep(quiet)
			io.WriteString(typed, "\r") // keys are heard all the same
			await(t, "the look-over", func() bool { return s.State().Place == session.LookOver })
			end(s, stop)
			err := awaitEnd(t, done)
			if want := ctx.Err(); !errors.Is(err, want) {
				t.Errorf("%v, want %v", err, want)
			}
			close(out.free)
			s.Do(session.Action{Do: session.DoQuit})
			s.Wait()
		})
	}
}

// A screen that is gone closes the room, and the practice goes on without it.
func TestRunOnAScreenThatIsGone(t *testing.T) {
	r, w := io.Pipe()
	r.Close()
	keys, _ := io.Pipe()
	s, done := open(t, t.Context(), keys, w)
	if err := awaitEnd(t, done); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("%v, want that the pipe is closed", err)
	}
	if s.State().Over {
		t.Error("the practice is over")
	}
	s.Do(session.Action{Do: session.DoQuit})
	s.Wait()
}

// A terminal is still known as one behind the screen, which is how its size is asked for.
func TestATerminalStaysOne(t *testing.T) {
	if w, is := newScreen(os.Stdout).writer().(file); !is || w.Fd() != os.Stdout.Fd() {
		t.Error("a file is not known as one")
	}
	if _, is := newScreen(io.Discard).writer().(file); is {
		t.Error("what is no file is taken for one")
	}
}

// The program shows what the room draws, at the size that it is told.
func TestProgram(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	start := time.Now()
	clock := func() time.Duration { return time.Since(start) }
	s := session.New(ctx, &studio{plan: true, clock: clock, wait: sleep}, clock, sleep)
	r := newRoom(s, s.Watch(ctx), Options{Environ: []string{"LANG=C.UTF-8"}})
	p := teatest.NewTestModel(t, r, teatest.WithInitialTermSize(60, 20))
	teatest.WaitFor(t, p.Output(), func(b []byte) bool { return bytes.Contains(b, []byte("Warm-up in A♭")) }, teatest.WithDuration(waiting))
	p.Send(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("2")})
	teatest.WaitFor(t, p.Output(), func(b []byte) bool { return bytes.Contains(b, []byte("As long as you played.")) }, teatest.WithDuration(waiting))
	p.Send(tea.KeyMsg{Type: tea.KeyCtrlC})
	p.WaitFinished(t, teatest.WithFinalTimeout(waiting))
	if !s.State().Over {
		t.Error("the practice is not over")
	}
}
