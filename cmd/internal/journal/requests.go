package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
)

// A NoReadError says that a read is not in the journal, or not all that made it.
type NoReadError struct {
	Read int64
	Kept bool // the read itself is there
}

// Error says which, and what to do.
func (e *NoReadError) Error() string {
	if e.Kept {
		return fmt.Sprintf("read %d was made before the journal kept what made it: its files are what is left of it", e.Read)
	}
	return fmt.Sprintf("no read %d in the journal: `onward journal reads` lists them", e.Read)
}

// Request reports what made a read, in the maker's own encoding: the request, and what had
// been drilled, nil for nothing. It fails with a *NoReadError.
func (j *Journal) Request(ctx context.Context, read int64) (request, drilled []byte, err error) {
	err = j.db.QueryRowContext(ctx, `SELECT request, body FROM requests LEFT JOIN drilled ON drilled.id = requests.drilled
		WHERE read_id = ?`, read).Scan(&request, &drilled)
	if errors.Is(err, sql.ErrNoRows) {
		no := &NoReadError{Read: read}
		err = j.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM reads WHERE id = ?)", read).Scan(&no.Kept)
		if err == nil {
			return nil, nil, no
		}
	}
	return request, drilled, explain(j.path, fmt.Sprintf("find what made read %d", read), err)
}

// addRequest writes what made a read.
func addRequest(ctx context.Context, tx *sql.Tx, id int64, r Read) error {
	if r.Request == nil {
		return nil
	}
	var drilled sql.NullInt64
	if r.Drilled != nil {
		digest := sha256.Sum256(r.Drilled)
		if _, err := tx.ExecContext(ctx, "INSERT INTO drilled (digest, body) VALUES (?, ?) ON CONFLICT DO NOTHING", digest[:], r.Drilled); err != nil {
			return err
		}
		if err := tx.QueryRowContext(ctx, "SELECT id FROM drilled WHERE digest = ?", digest[:]).Scan(&drilled); err != nil {
			return err
		}
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO requests (read_id, request, drilled) VALUES (?, ?, ?)", id, r.Request, drilled)
	return err
}
