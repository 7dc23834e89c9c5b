package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// A Slip is a measure that did not come out as written.
type Slip struct {
	Measure       int  // of the printed page, from 0
	Pitch, Rhythm bool // what did not, at least one
}

// Marks are what the player said of a take after it.
type Marks struct {
	Slips []Slip // by measure, each once
	// StoppedAt is the printed measure, from 0, at which the player stopped, though the
	// band did not; NotStopped where the player kept going.
	StoppedAt int
}

// NotStopped is StoppedAt of a take in which the player kept going.
const NotStopped = -1

// A SealedError is a take under the pressure of a panel that was to be marked again.
type SealedError struct{ Take int64 }

// Error says which take and why.
func (e *SealedError) Error() string {
	return fmt.Sprintf("take %d was played to a panel and is marked: what was said then stands", e.Take)
}

// Mark keeps the marks of a take in place of earlier ones, whole or not at all. It fails
// on a take that the player does not have, on a slip that is none, or of a measure that the
// page does not have, or that comes twice; with a *SealedError where the take was played to
// a panel and is marked.
func (j *Journal) Mark(ctx context.Context, take int64, m Marks) error {
	err := j.write(ctx, func(tx *sql.Tx) error {
		if err := j.checkMarks(ctx, tx, take, m); err != nil {
			return err
		}
		return addMarks(ctx, tx, take, m, j.stamp(time.Time{}))
	})
	var sealed *SealedError
	if errors.As(err, &sealed) {
		return err
	}
	return explain(j.path, fmt.Sprintf("mark take %d", take), err)
}

// checkMarks refuses marks that the take cannot have.
func (j *Journal) checkMarks(ctx context.Context, tx *sql.Tx, take int64, m Marks) error {
	var measures int
	var pressure string
	var marked bool
	err := tx.QueryRowContext(ctx, `SELECT measures, pressure, EXISTS (SELECT 1 FROM marks WHERE take_id = takes.id)
		FROM takes JOIN reads ON reads.id = read_id WHERE takes.id = ? AND takes.player = ?`, take, j.player).Scan(&measures, &pressure, &marked)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return errors.New("the player has no such take")
	case err != nil:
		return err
	case marked && hasPressure(pressure, Panel):
		return &SealedError{take}
	case m.StoppedAt < NotStopped:
		return fmt.Errorf("stopped at measure index %d: want one from 0, or %d", m.StoppedAt, NotStopped)
	}
	return m.check(measures)
}

// check refuses marks that a page of so many measures cannot have; 0 measures are any
// number.
func (m Marks) check(measures int) error {
	over := func(i int) bool { return measures > 0 && i >= measures }
	if over(m.StoppedAt) {
		return fmt.Errorf("stopped at measure index %d: the page has %d measures", m.StoppedAt, measures)
	}
	had := map[int]bool{}
	for _, s := range m.Slips {
		switch {
		case s.Measure < 0 || over(s.Measure):
			return fmt.Errorf("a slip in measure index %d: the page has %d measures, counted from 0", s.Measure, measures)
		case !s.Pitch && !s.Rhythm:
			return fmt.Errorf("a slip in measure index %d: say whether pitch or rhythm slipped", s.Measure)
		case had[s.Measure]:
			return fmt.Errorf("measure index %d comes twice among the slips", s.Measure)
		}
		had[s.Measure] = true
	}
	return nil
}

// addMarks writes marks in place of earlier ones.
func addMarks(ctx context.Context, tx *sql.Tx, take int64, m Marks, marked string) error {
	if _, err := tx.ExecContext(ctx, "DELETE FROM marks WHERE take_id = ?", take); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, "INSERT INTO marks (take_id, stopped_at, marked) VALUES (?, ?, ?)", take, m.StoppedAt, marked)
	if err != nil {
		return err
	}
	for _, s := range m.Slips {
		_, err := tx.ExecContext(ctx, "INSERT INTO slips (take_id, measure, pitch, rhythm) VALUES (?, ?, ?, ?)",
			take, s.Measure, s.Pitch, s.Rhythm)
		if err != nil {
			return fmt.Errorf("slip in measure index %d: %w", s.Measure, err)
		}
	}
	return nil
}

// slipsOf reads the slips of all takes from the one given on.
func slipsOf(ctx context.Context, tx *sql.Tx, from int64) (map[int64][]Slip, error) {
	rows, err := tx.QueryContext(ctx, "SELECT take_id, measure, pitch, rhythm FROM slips WHERE take_id >= ? ORDER BY take_id, measure", from)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[int64][]Slip{}
	for rows.Next() {
		var take int64
		var s Slip
		if err := rows.Scan(&take, &s.Measure, &s.Pitch, &s.Rhythm); err != nil {
			return nil, err
		}
		all[take] = append(all[take], s)
	}
	return all, rows.Err()
}
