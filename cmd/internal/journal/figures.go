package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// KeepFigures keeps the figures that reads are made of, in the caller's own encoding, all
// or none; earlier ones of a read stay. It fails where a read is not in the journal.
func (j *Journal) KeepFigures(ctx context.Context, reads []int64, figures [][]byte) error {
	err := j.write(ctx, func(tx *sql.Tx) error {
		if len(reads) != len(figures) {
			return errors.New("not as many reads as figures")
		}
		insert, err := tx.PrepareContext(ctx, "INSERT INTO read_figures (read_id, figures) VALUES (?, ?) ON CONFLICT DO NOTHING")
		if err != nil {
			return err
		}
		defer insert.Close()
		for i, id := range reads {
			if _, err := insert.ExecContext(ctx, id, blob(figures[i])); err != nil {
				return fmt.Errorf("read %d: %w", id, err)
			}
		}
		return nil
	})
	return explain(j.path, "keep the figures of reads", err)
}

// KeepLesson keeps the figures of exercises that were learned, in the caller's own
// encoding. A zero time is now.
func (j *Journal) KeepLesson(ctx context.Context, learned time.Time, figures []byte) error {
	err := j.write(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO lessons (learned, figures) VALUES (?, ?)", j.stamp(learned), blob(figures))
		return err
	})
	return explain(j.path, "keep the figures of exercises", err)
}

// A Practice is a time at which figures were met: when exercises were learned, or a take
// was played to its end.
type Practice struct {
	At      time.Time
	Take    int64  // 0 for exercises
	Figures []byte // as they were kept
}

// Practised lists when which figures were met, lessons first, each in order. Takes that
// were left, and takes of reads whose figures were not kept, are not among them.
func (j *Journal) Practised(ctx context.Context) ([]Practice, error) {
	all, err := practices(j.db.QueryContext(ctx, `
		SELECT 0, learned, figures, 0 AS kind, id FROM lessons
		UNION ALL
		SELECT takes.id, ended, figures, 1 AS kind, takes.id FROM takes JOIN read_figures USING (read_id) WHERE outcome = ?
		ORDER BY kind, 5`, string(KeptGoing)))
	return all, explain(j.path, "list what was practised", err)
}

// practices reads rows of take, time, figures and two columns of order.
func practices(rows *sql.Rows, err error) ([]Practice, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Practice
	for rows.Next() {
		var p Practice
		var at string
		var kind, id int64
		if err := rows.Scan(&p.Take, &at, &p.Figures, &kind, &id); err != nil {
			return nil, err
		}
		if p.At, err = unstamp(at); err != nil {
			return nil, fmt.Errorf("take %d: %w", p.Take, err)
		}
		all = append(all, p)
	}
	return all, rows.Err()
}
