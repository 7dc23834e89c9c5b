package journal

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"time"
)

// A Warmup is a day's warm-up that was made for the player.
type Warmup struct {
	ID      int64  // given by AddWarmup
	Day     string // the player's date, as 2026-11-25
	Made    time.Time
	Request []byte   // all that made it, in the maker's own encoding
	Lines   []uint64 // the hashes of its lines, in the maker's own encoding
}

// AddWarmup adds a warm-up and reports its ID. Made, if zero, is now. It fails on a day
// that is no date.
func (j *Journal) AddWarmup(ctx context.Context, w Warmup) (int64, error) {
	if _, err := time.Parse(time.DateOnly, w.Day); err != nil {
		return 0, explain(j.path, "add a warm-up", fmt.Errorf("day %q: want a date as 2026-11-25", w.Day))
	}
	lines := make([]byte, 0, 8*len(w.Lines))
	for _, l := range w.Lines {
		lines = binary.BigEndian.AppendUint64(lines, l)
	}
	var id int64
	err := j.act(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, "INSERT INTO warmups (player, day, made, request, lines) VALUES (?, ?, ?, ?, ?)",
			j.player, w.Day, j.stamp(w.Made), blob(w.Request), lines)
		if err != nil {
			return err
		}
		id, err = result.LastInsertId()
		return err
	})
	return id, explain(j.path, "add the warm-up of "+w.Day, err)
}

// Warmups lists the player's newest warm-ups, newest first, at most limit of them.
func (j *Journal) Warmups(ctx context.Context, limit int) ([]Warmup, error) {
	all, err := warmups(j.db.QueryContext(ctx, "SELECT id, day, made, request, lines FROM warmups WHERE player = ? ORDER BY made DESC, id DESC LIMIT ?", j.player, limit))
	return all, explain(j.path, "list warm-ups", err)
}

// warmups reads rows of a warm-up's columns.
func warmups(rows *sql.Rows, err error) ([]Warmup, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Warmup
	for rows.Next() {
		var w Warmup
		var made string
		var lines []byte
		if err := rows.Scan(&w.ID, &w.Day, &made, &w.Request, &lines); err != nil {
			return nil, err
		}
		if w.Made, err = unstamp(made); err != nil {
			return nil, fmt.Errorf("warm-up %d: %w", w.ID, err)
		}
		for ; len(lines) >= 8; lines = lines[8:] {
			w.Lines = append(w.Lines, binary.BigEndian.Uint64(lines))
		}
		all = append(all, w)
	}
	return all, rows.Err()
}
