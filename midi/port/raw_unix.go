//go:build unix

package port

import (
	"fmt"
	"io/fs"
	"os"
	"time"

	"golang.org/x/sys/unix"
	"onward/midi/live"
)

// closeWithin is how long Close tries to get the rest of a message out.
const closeWithin = 100 * time.Millisecond

// A raw port writes MIDI bytes to a device file or named pipe. It is opened
// non-blocking: what cannot be taken at once is refused as busy.
type raw struct {
	path string
	fd   int
	rest []byte // of a message that was taken in part
	buf  [3]byte
}

// openRaw opens the device file or named pipe at path.
func openRaw(path string) (live.Sender, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("port raw:%s: %w", path, err)
	}
	if info.Mode()&(fs.ModeCharDevice|fs.ModeNamedPipe) == 0 {
		return nil, fmt.Errorf("port raw:%s: it is neither a device file nor a named pipe (mkfifo makes one)", path)
	}
	r := &raw{path: path, fd: -1}
	if err := r.Reopen(); err != nil {
		return nil, err
	}
	return r, nil
}

// Reopen opens the path again.
func (r *raw) Reopen() error {
	r.shut()
	fd, err := unix.Open(r.path, unix.O_WRONLY|unix.O_NONBLOCK|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	switch err {
	case nil:
		r.fd = fd
		return nil
	case unix.ENXIO:
		return fmt.Errorf("port raw:%s: nobody reads there: start the reader first", r.path)
	case unix.EAGAIN, unix.EBUSY:
		return fmt.Errorf("port raw:%s: another program has it: close that first", r.path)
	}
	return fmt.Errorf("port raw:%s: %w", r.path, err)
}

// Send writes msg if it can be taken now, and never blocks. A message taken in
// part counts as taken; its rest goes ahead of the next one.
func (r *raw) Send(msg []byte) error {
	if err := r.flush(); err != nil {
		return err
	}
	n, err := unix.Write(r.fd, msg)
	switch {
	case err == unix.EAGAIN || err == unix.EINTR || err == nil && n == 0:
		return live.ErrBusy
	case err != nil:
		return err
	}
	r.rest = r.buf[:copy(r.buf[:], msg[n:])]
	return nil
}

// flush writes the rest of the message before.
func (r *raw) flush() error {
	for len(r.rest) > 0 {
		n, err := unix.Write(r.fd, r.rest)
		switch {
		case err == unix.EAGAIN || err == unix.EINTR || err == nil && n == 0:
			return live.ErrBusy
		case err != nil:
			return err
		}
		r.rest = r.rest[n:]
	}
	return nil
}

// Close closes the port.
func (r *raw) Close() error {
	for end := time.Now().Add(closeWithin); r.flush() == live.ErrBusy && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
	return r.shut()
}

func (r *raw) shut() error {
	if r.fd < 0 {
		return nil
	}
	fd := r.fd
	r.fd, r.rest = -1, nil
	return unix.Close(fd)
}
