package journal

import (
	"context"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// A Refusal is a journal that cannot be used as it stands, through no slip of the
// program: the player can mend it. The file has been left as it was.
type Refusal struct {
	Path  string // the journal's file
	Fault string // what is wrong, without the path
	Mend  string // what the player can do
	Cause error  // nil, or what the system or the database said
}

// Error says which file, what is wrong and what to do.
func (r *Refusal) Error() string {
	if r.Cause != nil {
		return fmt.Sprintf("journal %s: %s (%v): %s", r.Path, r.Fault, r.Cause, r.Mend)
	}
	return fmt.Sprintf("journal %s: %s: %s", r.Path, r.Fault, r.Mend)
}

// Unwrap reports the cause.
func (r *Refusal) Unwrap() error { return r.Cause }

const (
	mendMove  = "move it away and a new journal is begun, or name another file with --journal FILE"
	mendOther = "name another file with --journal FILE"
	mendLet   = "let yourself read and write the file and its folder, or " + mendOther
)

// An ailment is what SQLite's result code means to the player.
type ailment struct{ fault, mend string }

// ailments are the result codes that the player can do something about; all others are
// this package's own faults. (SQLite, "Result and Error Codes".)
var ailments = map[int]ailment{
	sqlite3.SQLITE_BUSY:     {"another program has held it for " + patience.String(), "close that program, or try again"},
	sqlite3.SQLITE_READONLY: {"cannot be written", mendLet},
	sqlite3.SQLITE_CANTOPEN: {"cannot be opened or written", mendLet},
	sqlite3.SQLITE_PERM:     {"cannot be written", mendLet},
	sqlite3.SQLITE_FULL:     {"the disk is full", "make room on it, or " + mendOther},
	sqlite3.SQLITE_IOERR:    {"the disk failed to read or write", "see to the disk, or " + mendOther},
}

// explain turns an error met while doing something into one that says the file, what was
// being done, and, where the player can mend it, how. A nil error stays nil.
func explain(path, doing string, err error) error {
	var fault *sqlite.Error
	var refusal *Refusal
	var name *NameError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &refusal), errors.As(err, &name), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.As(err, &fault):
		cause := fmt.Errorf("%s: %w", doing, err)
		switch fault.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT:
			return damaged(path, "is damaged", cause)
		case sqlite3.SQLITE_NOTADB:
			return damaged(path, "is damaged or is no journal", cause)
		}
		if a, known := ailments[fault.Code()&0xff]; known {
			return &Refusal{Path: path, Fault: a.fault, Mend: a.mend, Cause: cause}
		}
	}
	return fmt.Errorf("journal %s: %s: %w", path, doing, err)
}
