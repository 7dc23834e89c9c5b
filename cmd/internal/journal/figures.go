package journal

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// KeepLesson keeps the figures of exercises that were learned, in the caller's own
// encoding. A zero time is now.
func (j *Journal) KeepLesson(ctx context.Context, learned time.Time, figures []byte) error {
	err := j.act(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO lessons (player, learned, figures) VALUES (?, ?, ?)", j.player, j.stamp(learned), blob(figures))
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
	// Marked says whether the player has said what slipped in the take; until then, and of
	// exercises, Marks are those of a take without slips.
	Marked bool
	Marks
}

// Practised lists when the player met which figures, lessons first, each in order. Takes that
// were left, and takes of reads whose figures were not kept, are not among them.
func (j *Journal) Practised(ctx context.Context) ([]Practice, error) {
	all, err := j.lessons(ctx)
	if err != nil {
		return nil, explain(j.path, "list what was practised", err)
	}
	takes, err := j.pastTakes(ctx, "WHERE takes.player = ? AND outcome = ? AND figures IS NOT NULL ORDER BY started, takes.id", j.player, string(KeptGoing))
	for _, t := range takes {
		all = append(all, Practice{t.Ended, t.ID, t.Figures, t.Marked, t.Marks})
	}
	return all, explain(j.path, "list what was practised", err)
}

// lessons lists the lessons in order.
func (j *Journal) lessons(ctx context.Context) ([]Practice, error) {
	rows, err := j.db.QueryContext(ctx, "SELECT learned, figures FROM lessons WHERE player = ? ORDER BY id", j.player)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Practice
	for rows.Next() {
		p := Practice{Marks: Marks{StoppedAt: NotStopped}}
		var at string
		if err := rows.Scan(&at, &p.Figures); err != nil {
			return nil, err
		}
		if p.At, err = unstamp(at); err != nil {
			return nil, fmt.Errorf("lesson: %w", err)
		}
		all = append(all, p)
	}
	return all, rows.Err()
}
