// Package journal keeps the player's record in one SQLite file: the reads made and their
// runs of notes, so that no run is ever seen twice; saved vocabularies and the drills they
// came from; takes; how late sinks are heard. Several processes may use one file at once,
// and a process killed at any moment loses at most the write it was in. One process opens
// a file once.
package journal

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

// patience is how long a write waits for another process before it gives up.
const patience = 5 * time.Second

// maxSize is more bytes than the journal of a life has: a read takes some 8 KiB (measured on
// thirty of rung 5).
const maxSize int64 = 16 << 30

// A Journal is an open record as one player has it: that without a name, or see As. It may be
// used from several goroutines.
type Journal struct {
	path   string
	now    func() time.Time
	db     *sql.DB
	player string // whose it is, "" for the one without a name
	*condition
}

// Open opens the journal at path, and makes it, and its parent folders, when there is
// none; it checks one that is there, and brings an older one up to date. now dates what is added without a date. A file
// of a newer program, of another program, or damaged, is refused with a *Refusal and left
// byte for byte as it was; so is one that cannot be written.
func Open(ctx context.Context, path string, now func() time.Time) (*Journal, error) {
	if path == "" {
		return nil, errors.New("journal: no file is named: " + mendOther)
	}
	whole, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("journal %s: %w", path, err)
	}
	if err := inspect(whole); err != nil {
		return nil, err
	}
	sweep(whole)
	if _, err := os.Stat(whole); errors.Is(err, fs.ErrNotExist) {
		if err := begin(ctx, whole, now); err != nil {
			return nil, explain(whole, "begin", err)
		}
	}
	file, err := os.Open(whole)
	if err != nil {
		return nil, &Refusal{Path: whole, Fault: "cannot be reached", Mend: mendOther, Cause: err}
	}
	j, err := opened(ctx, file, now)
	if err != nil {
		file.Close()
	}
	return j, explain(whole, "open", err)
}

// opened opens the journal whose file is open; it is nil where that fails.
func opened(ctx context.Context, file *os.File, now func() time.Time) (*Journal, error) {
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	db, err := sql.Open("sqlite", source(file.Name()))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	j := &Journal{path: file.Name(), now: now, db: db, condition: &condition{file: file, opened: info}}
	if err = j.examine(ctx); err == nil {
		err = j.prepare(ctx)
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return j, nil
}

// Path reports the journal's file, absolute.
func (j *Journal) Path() string { return j.path }

// Close ends the use of the journal and folds what was written lately into its one file. If
// this process wrote to it, it is sealed and at most once a day copied, see finish; that it is
// damaged is told with a *Refusal.
func (j *Journal) Close() error {
	err := j.finish(context.Background())
	if shut := j.db.Close(); err == nil {
		err = shut
	}
	j.file.Close()
	return explain(j.path, "close", err)
}

// source is the driver's name for the file at path, with what every connection needs:
// patience with other processes, foreign keys, writes that reach the disk before they
// count, and transactions that take the right to write at their beginning.
func source(path string) string {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // file:///C:/...
	}
	q := url.Values{
		"_txlock": {"immediate"},
		"_pragma": {
			fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()),
			"foreign_keys(1)",
			"synchronous(FULL)",
			"cache_size(-32768)", // KiB: a long journal's index in memory for a batch
		},
	}
	return (&url.URL{Scheme: "file", Path: slashed, RawQuery: q.Encode()}).String()
}

// header is what the head of a SQLite file tells of its owner. (SQLite, "Database File
// Format" §1.3: the magic string at 0, the user version at 60, the application ID at 68,
// big-endian.)
type header struct {
	Magic       [16]byte
	_           [44]byte
	Version     int32
	_           [4]byte
	Application int32
	_           [28]byte
}

// inspect refuses a file that is no journal, or a newer program's, by reading its first
// hundred bytes alone, before the database could touch it. No file is well: it is a journal
// to be begun. An empty one is damaged: a journal is never empty, see begin.
func inspect(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &Refusal{Path: path, Fault: "cannot be reached", Mend: mendOther, Cause: err}
	case !info.Mode().IsRegular():
		return &Refusal{Path: path, Fault: "is a folder or device, not a file", Mend: mendOther}
	case info.Size() == 0:
		return damaged(path, "is damaged", errors.New("it is empty"))
	case info.Size() > maxSize:
		return &Refusal{Path: path, Fault: "is longer than any journal", Mend: mendOther}
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0) // for writing only to learn now, not after a take, that it may be
	if err != nil {
		return &Refusal{Path: path, Fault: "cannot be read and written", Mend: mendLet, Cause: err}
	}
	defer f.Close()
	var h header
	err = binary.Read(f, binary.BigEndian, &h)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return &Refusal{Path: path, Fault: "cannot be read", Mend: mendOther, Cause: err}
	}
	if err != nil || string(h.Magic[:]) != "SQLite format 3\x00" {
		return damaged(path, "is damaged or is no journal", nil)
	}
	return checkOwner(path, h.Application, h.Version)
}
