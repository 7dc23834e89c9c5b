package journal

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// A PastTake is a take with what was played in it.
type PastTake struct {
	Take
	Style      string // march, lyrical, the player's own sheet, or piece for a printed one
	Rung       int    // 0 of a printed piece
	Instrument string
	Measures   int    // of the printed page; 0 where it was not kept
	Figures    []byte // as AddReads kept them; nil where none were
	Loads      []byte // likewise
}

// History lists all takes of the player, oldest first.
func (j *Journal) History(ctx context.Context) ([]PastTake, error) {
	all, err := j.pastTakes(ctx, "WHERE takes.player = ? ORDER BY started, takes.id", j.player)
	return all, explain(j.path, "list the history", err)
}

const pastTakeQuery = `SELECT takes.id, takes.read_id, started, ended, outcome, late_median, late_max, dropped,
	percent, rubato, pressure, marks.take_id IS NOT NULL, ifnull(stopped_at, -1),
	style, rung, instrument, measures, figures, loads
	FROM takes JOIN reads ON reads.id = takes.read_id
	LEFT JOIN marks ON marks.take_id = takes.id
	LEFT JOIN read_figures ON read_figures.read_id = reads.id
	LEFT JOIN read_loads ON read_loads.read_id = reads.id `

// pastTakes reads takes with their marks, those and in the order that the end of the query
// says.
func (j *Journal) pastTakes(ctx context.Context, end string, args ...any) (all []PastTake, err error) {
	err = j.view(ctx, func(tx *sql.Tx) error {
		if all, err = pastTakeRows(tx.QueryContext(ctx, pastTakeQuery+end, args...)); err != nil || len(all) == 0 {
			return err
		}
		first := slices.MinFunc(all, func(a, b PastTake) int { return cmp.Compare(a.ID, b.ID) })
		slips, err := slipsOf(ctx, tx, first.ID)
		for i := range all {
			all[i].Slips = slips[all[i].ID]
		}
		return err
	})
	return all, err
}

// pastTakeRows reads rows of pastTakeQuery.
func pastTakeRows(rows *sql.Rows, err error) ([]PastTake, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []PastTake
	for rows.Next() {
		var t PastTake
		var started, ended, pressure string
		err := rows.Scan(&t.ID, &t.ReadID, &started, &ended, &t.Outcome, &t.LateMedian, &t.LateMax, &t.Dropped,
			&t.Percent, &t.Rubato, &pressure, &t.Marked, &t.StoppedAt,
			&t.Style, &t.Rung, &t.Instrument, &t.Measures, &t.Figures, &t.Loads)
		if err != nil {
			return nil, err
		}
		if t.Started, err = unstamp(started); err != nil {
			return nil, fmt.Errorf("take %d: %w", t.ID, err)
		}
		if t.Ended, err = unstamp(ended); err != nil {
			return nil, fmt.Errorf("take %d: %w", t.ID, err)
		}
		t.Pressure = splitPressure(pressure)
		all = append(all, t)
	}
	return all, rows.Err()
}
