//go:build unix

package port

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"golang.org/x/sys/unix"
	"onward/midi/live"
)

// fifo makes a named pipe.
func fifo(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "midi")
	if err := unix.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// A reader reads a named pipe without ever blocking.
type reader int

func listen(t *testing.T, path string) reader {
	t.Helper()
	fd, err := unix.Open(path, unix.O_RDONLY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	return reader(fd)
}

// drain gives w all that is there.
func (r reader) drain(t *testing.T, w *wire) {
	t.Helper()
	b := make([]byte, 4096)
	for {
		n, err := unix.Read(int(r), b)
		if n <= 0 || err != nil {
			return
		}
		w.take(t, b[:n])
	}
}

func (r reader) close() { unix.Close(int(r)) }

func openPath(t *testing.T, path string) *raw {
	t.Helper()
	s, err := Open("raw:" + path)
	if err != nil {
		t.Fatal(err)
	}
	return s.(*raw)
}

func TestRawRefuses(t *testing.T) {
	plain := filepath.Join(t.TempDir(), "plain")
	if err := os.WriteFile(plain, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		plain:              "neither a device file nor a named pipe",
		plain + "-missing": "no such file",
		fifo(t):            "nobody reads there",
	} {
		if _, err := Open("raw:" + path); err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "port raw:"+path) {
			t.Errorf("%s: got %v, want %q", path, err, want)
		}
	}
}

func TestRawIsASender(t *testing.T) {
	s := openPath(t, os.DevNull)
	defer s.Close()
	checkSender(t, s)
}

// A whole take goes through a pipe.
func TestRawTake(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := fifo(t)
		r := listen(t, path)
		defer r.close()
		s := openPath(t, path)
		defer s.Close()
		rep, err := live.Play(t.Context(), notes(16), s, live.Options{Clock: live.PlainClock()})
		w := newWire()
		r.drain(t, w)
		if err != nil || rep.Errors != 0 || w.ons != 16 || w.hanging() != 0 || w.progs[1] != 60 {
			t.Errorf("got %+v, %v; %+v", rep, err, w)
		}
	})
}

// fillPipe writes program changes on channel 16 until the port takes no more.
func fillPipe(t *testing.T, s *raw) {
	t.Helper()
	for range 1 << 20 {
		if err := s.Send([]byte{0xCF, 1}); errors.Is(err, live.ErrBusy) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
	t.Fatal("the port never fills")
}

// A pipe that nobody empties for three seconds refuses at once; the take is on
// time, and after it all notes are off.
func TestFullPipeHoldsNothingUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := fifo(t)
		r := listen(t, path)
		defer r.close()
		s := openPath(t, path)
		defer s.Close()
		fillPipe(t, s)
		w, done := newWire(), make(chan struct{})
		go func() {
			defer close(done)
			time.Sleep(3 * time.Second)
			for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
				r.drain(t, w)
			}
		}()
		rep, err := live.Play(t.Context(), notes(32), s, live.Options{Clock: live.PlainClock()})
		if err != nil || rep.Errors == 0 || rep.Dropped != 6 || rep.Max != 0 || !rep.Silent {
			t.Errorf("got %+v, %v", rep, err)
		}
		<-done
		r.drain(t, w)
		if w.hanging() != 0 || w.ons != 26 || w.progs[1] != 60 {
			t.Errorf("%d hanging, %d notes, program %d", w.hanging(), w.ons, w.progs[1])
		}
	})
}

// When the reader goes away the port is lost; when another comes it is found.
func TestReaderComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		path := fifo(t)
		first := listen(t, path)
		s := openPath(t, path)
		defer s.Close()
		w := newWire()
		second := make(chan reader, 1)
		time.AfterFunc(3*time.Second, first.close)
		time.AfterFunc(7100*time.Millisecond, func() { second <- listen(t, path) })
		rep, err := live.Play(t.Context(), notes(32), s, live.Options{Clock: live.PlainClock()})
		r := <-second
		defer r.close()
		r.drain(t, w)
		if err != nil || rep.Reopened != 1 || rep.Max != 0 {
			t.Errorf("got %+v, %v", rep, err)
		}
		if w.hanging() != 0 || w.ons != 18 || w.progs[1] != 60 { // the note held at 7.25 and 17 more
			t.Errorf("%d hanging, %d notes, program %d", w.hanging(), w.ons, w.progs[1])
		}
	})
}
