package room

import (
	"io"
	"sync"
	"time"
)

// backlog is how many bytes may wait for the screen to take them: some frames. What is
// more would be shown too late to be of use in a take.
const backlog = 16 << 10

// patience is how long the room waits, when it closes, for the screen to take the last bytes.
const patience = 500 * time.Millisecond

// A screen hands on what is written to it without ever keeping the writer waiting. When
// the reader is so slow that more than the backlog waits, all of that is left out, and
// when the reader has taken what was under way, the whole screen is asked for again.
type screen struct {
	out io.Writer

	mu      sync.Mutex
	more    *sync.Cond // the queue has grown, or the room closes
	queue   []byte
	stale   bool // something was left out
	closing bool
	err     error
	drained chan struct{}
}

func newScreen(out io.Writer) *screen {
	s := &screen{out: out, drained: make(chan struct{})}
	s.more = sync.NewCond(&s.mu)
	return s
}

// Write takes p at once. It fails when the screen refused what was written before.
func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.err != nil:
		return 0, s.err
	case s.stale || len(s.queue) > 0 && len(s.queue)+len(p) > backlog:
		s.stale, s.queue = true, s.queue[:0]
	default:
		s.queue = append(s.queue, p...)
	}
	s.more.Signal()
	return len(p), nil
}

// pump writes what is queued until finish, and then returns nil, or until the screen refuses
// it, and then returns its error; again asks for the whole screen.
func (s *screen) pump(again func()) error {
	defer close(s.drained)
	var taken []byte
	for {
		s.mu.Lock()
		for len(s.queue) == 0 && !s.stale && !s.closing {
			s.more.Wait()
		}
		if len(s.queue) == 0 && !s.stale {
			s.mu.Unlock()
			return nil
		}
		stale := s.stale
		s.stale = false
		taken, s.queue = s.queue, taken[:0]
		s.mu.Unlock()
		if len(taken) > 0 {
			if _, err := s.out.Write(taken); err != nil {
				s.mu.Lock()
				s.err = err
				s.mu.Unlock()
				return err
			}
		}
		if stale {
			again()
		}
	}
}

// restore shows the cursor and goes back to the screen that was there before the room.
const restore = "\x1b[0m\x1b[?25h\x1b[?1049l"

// finish waits, but not for long, until the screen has taken everything.
func (s *screen) finish() {
	s.mu.Lock()
	if s.stale {
		s.stale, s.queue = false, append(s.queue[:0], restore...)
	}
	s.closing = true
	s.more.Signal()
	s.mu.Unlock()
	select {
	case <-s.drained:
	case <-time.After(patience):
	}
}

// A file is what a terminal's output is.
type file interface {
	io.ReadWriteCloser
	Fd() uintptr
}

// writer is the screen for a program, which asks a terminal for its size.
func (s *screen) writer() io.Writer {
	if f, is := s.out.(file); is {
		return terminal{s, f}
	}
	return s
}

// A terminal is written to through a screen.
type terminal struct {
	*screen
	file file
}

func (t terminal) Read(p []byte) (int, error) { return t.file.Read(p) }
func (t terminal) Close() error               { return t.file.Close() }
func (t terminal) Fd() uintptr                { return t.file.Fd() }
