package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// An Outcome is how a take ended.
type Outcome string

// The outcomes.
const (
	KeptGoing Outcome = "kept going" // played to the last measure
	Left      Outcome = "left"       // the player left before the end
	Failed    Outcome = "failed"     // the band could not go on
)

// A Take is one pass through a read with the band.
type Take struct {
	ID             int64 // given by AddTake
	ReadID         int64
	Started, Ended time.Time // count-in to the last event; Ended zero is now
	Outcome        Outcome
	LateMedian     time.Duration // how late the band's events were sent
	LateMax        time.Duration
	Dropped        int // notes too late to be sent at all
}

// AddTake adds a take and reports its ID. It fails when the read is not in the journal,
// when Started is zero, or when the outcome is none of those above.
func (j *Journal) AddTake(ctx context.Context, t Take) (int64, error) {
	var id int64
	err := func() error {
		switch {
		case t.Started.IsZero():
			return errors.New("it has no start")
		case t.Outcome != KeptGoing && t.Outcome != Left && t.Outcome != Failed:
			return fmt.Errorf("outcome %q: want %q, %q or %q", t.Outcome, KeptGoing, Left, Failed)
		}
		return j.write(ctx, func(tx *sql.Tx) (err error) {
			id, err = j.addTake(ctx, tx, t)
			return err
		})
	}()
	return id, explain(j.path, fmt.Sprintf("add a take of read %d", t.ReadID), err)
}

// addTake writes t after it has seen that its read is there.
func (j *Journal) addTake(ctx context.Context, tx *sql.Tx, t Take) (int64, error) {
	var there bool
	err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM reads WHERE id = ?)", t.ReadID).Scan(&there)
	if err != nil {
		return 0, err
	}
	if !there {
		return 0, errors.New("this read is not in the journal: add it first")
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO takes
		(read_id, started, ended, outcome, late_median, late_max, dropped) VALUES (?, ?, ?, ?, ?, ?, ?)`,
		t.ReadID, j.stamp(t.Started), j.stamp(t.Ended), string(t.Outcome),
		int64(t.LateMedian), int64(t.LateMax), t.Dropped)
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// Takes lists the newest takes, newest first, at most limit of them.
func (j *Journal) Takes(ctx context.Context, limit int) ([]Take, error) {
	if limit < 0 {
		return nil, fmt.Errorf("journal: takes: limit %d is negative", limit)
	}
	takes, err := takeRows(j.db.QueryContext(ctx, `SELECT
		id, read_id, started, ended, outcome, late_median, late_max, dropped
		FROM takes ORDER BY id DESC LIMIT ?`, limit))
	return takes, explain(j.path, "list takes", err)
}

// takeRows reads rows of all columns of takes.
func takeRows(rows *sql.Rows, err error) ([]Take, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Take
	for rows.Next() {
		var t Take
		var started, ended string
		err := rows.Scan(&t.ID, &t.ReadID, &started, &ended, &t.Outcome, &t.LateMedian, &t.LateMax, &t.Dropped)
		if err != nil {
			return nil, err
		}
		if t.Started, err = unstamp(started); err != nil {
			return nil, fmt.Errorf("take %d: %w", t.ID, err)
		}
		if t.Ended, err = unstamp(ended); err != nil {
			return nil, fmt.Errorf("take %d: %w", t.ID, err)
		}
		all = append(all, t)
	}
	return all, rows.Err()
}
