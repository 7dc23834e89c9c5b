// Package userfile opens the files that a player names. Whatever lies at a path, a device, a
// named pipe, a file without end or a drive that is away, the program neither hangs nor fills
// its memory.
package userfile

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync/atomic"
	"time"
)

// How many bytes a file of each kind may have.
const (
	MaxSheet      int64 = 1 << 20  // a style sheet: those of the program have some KiB
	MaxVocabulary int64 = 16 << 20 // figures as TOML
	MaxScore      int64 = 64 << 20 // MusicXML; its reader has limits of its own
	MaxMIDI       int64 = 16 << 20
	MaxFont       int64 = 4 << 30 // RIFF, which a sound font is, has lengths of 32 bits
	MaxExport     int64 = 4 << 30 // an exported journal, which is read line by line
)

// Patience is how long the system may take to open a file, and for each piece of it.
const Patience = 10 * time.Second

// A File is a regular file, open to be read: the bytes that it had when it was opened. A read
// fails when its context is done, or after Patience. It is not safe for use by several
// goroutines at once.
type File struct {
	*io.SectionReader
	file *os.File
	on   *bounded
}

// Open opens the regular file at path, which has at most so many bytes. The error is a
// *fs.PathError. Nothing is read of what is no regular file, and nobody who waits at the other
// end of a named pipe is let go on.
func Open(ctx context.Context, path string, most int64) (*File, error) {
	var size int64
	f, err := within(ctx, func() (f *os.File, err error) {
		f, size, err = open(path, most)
		return f, err
	})
	var whole *fs.PathError
	switch {
	case errors.As(err, &whole):
		return nil, whole
	case err != nil:
		return nil, &fs.PathError{Op: "open", Path: path, Err: err}
	}
	on := &bounded{ctx: ctx, from: f}
	return &File{io.NewSectionReader(on, 0, size), f, on}, nil
}

// open looks before it opens, and again after: what lies there may have changed between.
func open(path string, most int64) (*os.File, int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, 0, err
	}
	if err := check(info, most); err != nil {
		return nil, 0, err
	}
	f, err := os.OpenFile(path, os.O_RDONLY|nonblock, 0)
	if err != nil {
		return nil, 0, err
	}
	if info, err = f.Stat(); err == nil {
		err = check(info, most)
	}
	if err != nil {
		f.Close()
		return nil, 0, err
	}
	return f, info.Size(), nil
}

// check refuses what is no regular file, or has too many bytes.
func check(info fs.FileInfo, most int64) error {
	switch mode := info.Mode(); {
	case mode.IsDir():
		return errors.New("it is a folder")
	case mode&fs.ModeNamedPipe != 0:
		return errors.New("it is a named pipe, not a file")
	case !mode.IsRegular():
		return errors.New("it is a device, not a file")
	case info.Size() > most:
		return fmt.Errorf("it has %d bytes, more than the %d that such a file may have", info.Size(), most)
	}
	return nil
}

// Read reads a whole file; see Open.
func Read(ctx context.Context, path string, most int64) ([]byte, error) {
	f, err := Open(ctx, path, most)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text := make([]byte, f.Size())
	if _, err := io.ReadFull(f, text); err != nil {
		return nil, &fs.PathError{Op: "read", Path: path, Err: err}
	}
	return text, nil
}

// Close closes the file. It does not wait for a read that was given up.
func (f *File) Close() error {
	if f.on.givenUp.Load() {
		go f.file.Close()
		return nil
	}
	return f.file.Close()
}

// errSilent says that the system does not answer.
var errSilent = fmt.Errorf("nothing came of it within %v: is it on a drive that is away?", Patience)

// within reports what do makes, or an error when ctx is done or Patience is over; do is then
// left to itself.
func within[T any](ctx context.Context, do func() (T, error)) (made T, err error) {
	type result struct {
		made T
		err  error
	}
	done := make(chan result, 1)
	go func() {
		made, err := do()
		done <- result{made, err}
	}()
	timer := time.NewTimer(Patience)
	defer timer.Stop()
	select {
	case r := <-done:
		return r.made, r.err
	case <-ctx.Done():
		return made, ctx.Err()
	case <-timer.C:
		return made, errSilent
	}
}

// bounded reads with an end.
type bounded struct {
	ctx     context.Context
	from    io.ReaderAt
	givenUp atomic.Bool
}

// ReadAt is io.ReaderAt's. A read that is given up writes into memory of its own.
func (b *bounded) ReadAt(p []byte, at int64) (int, error) {
	piece, err := within(b.ctx, func() ([]byte, error) {
		own := make([]byte, len(p))
		n, err := b.from.ReadAt(own, at)
		return own[:n], err
	})
	if errors.Is(err, errSilent) || b.ctx.Err() != nil {
		b.givenUp.Store(true)
	}
	return copy(p, piece), err
}
