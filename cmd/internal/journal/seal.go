package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"
)

// SQLite has no check sums, so a bit that flips in a file is mostly not noticed. A journal is
// therefore sealed when a process that wrote to it closes it: a file beside it says which
// state of the journal its bytes are, and their sum. Who opens it next compares. Where there
// is no seal of that state (a process was killed, an older copy was put back) SQLite's own
// check, which sees less, is made in its place.

// A seal says what a journal's file was when it was closed.
type seal struct {
	State    int64     `json:"state"` // of the journal, see schema/0012_state.sql
	Size     int64     `json:"size"`  // of its file, bytes
	Modified time.Time `json:"modified"`
	Sum      uint32    `json:"sum"`      // CRC-32C of all its bytes
	Compared time.Time `json:"compared"` // when the sum was made or compared last
}

const (
	// quickly is up to what size, in bytes, a file is read at each opening, in a few
	// milliseconds; a larger one is read where something seems to have changed it, or after a
	// day.
	quickly = 8 << 20
	// wholly is up to what size a file is sealed at each closing that wrote, in some
	// hundredths of a second, and checked by SQLite where there is no seal, in seconds; a
	// larger one is only when it is copied.
	wholly = 64 << 20
	// often is how often at least a file is read through, and at most copied.
	often = 24 * time.Hour
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sealPath is where the seal of the journal at path lies.
func sealPath(path string) string { return path + ".seal" }

// A condition is what is known of an open journal's file. All players' Journals share it.
type condition struct {
	// file is open for as long as the database is, and read in place of another: on POSIX systems
	// a process that closes a file loses all its locks on it, and with SQLite's the next process
	// that ends removes the log that this one writes to. (SQLite, "How To Corrupt An SQLite
	// Database File" §2.2.)
	file   *os.File
	opened os.FileInfo
	whole  atomic.Bool // all of it was checked when it was opened
	wrote  atomic.Bool // this process wrote to it
}

// logged reports whether writes are in SQLite's log and not in the journal's file: another
// process has it open, or was killed.
func (j *Journal) logged() bool {
	info, err := os.Stat(j.path + "-wal")
	return err == nil && info.Size() > 0
}

// examine refuses a damaged file before anything is written to it.
func (j *Journal) examine(ctx context.Context) error {
	s, sealed := readSeal(j.path)
	info, err := j.file.Stat()
	if err != nil {
		return err
	}
	if j.logged() {
		return j.examineLogged(ctx, s, info)
	}
	if !sealed {
		return j.checkWholly(ctx, info)
	}
	state, err := j.state(ctx, j.db)
	switch {
	case err != nil || state != s.State:
		return j.checkWholly(ctx, info)
	case info.Size() > quickly && info.Size() == s.Size && info.ModTime().Equal(s.Modified) && recent(j.now(), s.Compared):
		j.condition.whole.Store(true)
		return nil
	}
	return j.compare(ctx, s)
}

// examineLogged examines a file beside which there is a log: another process has the journal
// open, or was killed. Until some of the log is folded into the file, that is as it was sealed;
// SQLite itself compares the sums in the log. After that SQLite checks both on a connection that
// cannot write, since one that can would fold in the log when it is closed.
func (j *Journal) examineLogged(ctx context.Context, s seal, info os.FileInfo) error {
	if info.Size() == s.Size && info.Size() <= wholly {
		now, err := j.sum(s.State, io.Discard)
		if err != nil {
			return err
		}
		switch {
		case now.Sum == s.Sum:
			j.condition.whole.Store(true)
			return nil
		case now.Modified.Equal(s.Modified):
			return j.notAsSealed(s)
		}
	}
	db, err := sql.Open("sqlite", source(j.path)+"&mode=ro")
	if err != nil {
		return err
	}
	defer db.Close()
	reader := *j
	reader.db = db
	return reader.checkWholly(ctx, info)
}

// recent reports whether less than a day is between two times.
func recent(a, b time.Time) bool { return a.Sub(b).Abs() < often }

// checkWholly has SQLite check a file that is not too large.
func (j *Journal) checkWholly(ctx context.Context, info os.FileInfo) error {
	if info.Size() > wholly {
		return nil
	}
	if err := j.sound(ctx, "integrity_check"); err != nil {
		return err
	}
	j.condition.whole.Store(true)
	return nil
}

// sound has SQLite check the file with a pragma.
func (j *Journal) sound(ctx context.Context, pragma string) error {
	var verdict string
	if err := j.db.QueryRowContext(ctx, "PRAGMA "+pragma+"(1)").Scan(&verdict); err != nil {
		return err
	}
	if verdict != "ok" {
		return damaged(j.path, "is damaged", errors.New(verdict))
	}
	return nil
}

// state reports the state of the journal.
func (j *Journal) state(ctx context.Context, db querier) (state int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT state FROM state").Scan(&state)
	return state, err
}

// compare refuses a file that is not as its seal says. Meanwhile nobody can write to it.
func (j *Journal) compare(ctx context.Context, s seal) error {
	return j.still(ctx, func(tx *sql.Tx) error {
		state, err := j.state(ctx, tx)
		if err != nil || state != s.State || j.logged() {
			return err // another process has written since
		}
		now, err := j.sum(s.State, io.Discard)
		if err != nil {
			return err
		}
		if now.Sum != s.Sum || now.Size != s.Size {
			return j.notAsSealed(s)
		}
		j.condition.whole.Store(true)
		if !now.Modified.Equal(s.Modified) || !recent(now.Compared, s.Compared) {
			now.write(j.path)
		}
		return nil
	})
}

// notAsSealed is the refusal of a file that something else has changed.
func (j *Journal) notAsSealed(s seal) error {
	return damaged(j.path, "is damaged", fmt.Errorf("it is not as onward left it on %s; if another program was meant to change it, remove %s",
		s.Modified.Local().Format("2 January 2006, 15:04"), sealPath(j.path)))
}

// still does work while nobody can write to the journal, and changes nothing.
func (j *Journal) still(ctx context.Context, work func(*sql.Tx) error) error {
	tx, err := j.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return work(tx)
}

// sum reads the file through and copies it to w.
func (j *Journal) sum(state int64, w io.Writer) (s seal, err error) {
	if _, err := j.file.Seek(0, io.SeekStart); err != nil {
		return s, err
	}
	sum := crc32.New(castagnoli)
	size, err := io.CopyBuffer(io.MultiWriter(sum, w), struct{ io.Reader }{j.file}, make([]byte, 1<<20))
	if err != nil {
		return s, err
	}
	info, err := j.file.Stat()
	if err != nil {
		return s, err
	}
	return seal{state, size, info.ModTime(), sum.Sum32(), j.now()}, nil
}

// readSeal reads the seal of the journal at path, if there is a whole one.
func readSeal(path string) (s seal, ok bool) {
	text, err := os.ReadFile(sealPath(path))
	return s, err == nil && json.Unmarshal(text, &s) == nil && s.Size > 0
}

// write puts the seal beside the journal at path. Without it the next opening takes longer,
// so it does not matter where that fails.
func (s seal) write(path string) {
	text, err := json.Marshal(s)
	if err != nil {
		return
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(sealPath(path))+"-*")
	if err != nil {
		return
	}
	_, err = f.Write(append(text, '\n'))
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), sealPath(path))
	}
	if err != nil {
		os.Remove(f.Name())
	}
}
