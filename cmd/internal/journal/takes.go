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
	Dropped        int      // notes too late to be sent at all
	Percent        int      // of the page's tempo, 25 to 100; 0 is 100
	Rubato         bool     // the band slowed into the ends of phrases
	Pressure       []string // any of Panel, Cover, DropOut, Cold, Company
	// Marked says whether the player has said what slipped; until then Marks are those of
	// a take without slips. AddTake leaves both alone: see Mark.
	Marked bool
	Marks
}

// AddTake adds a take and reports its ID. It fails when the read is not in the journal,
// when Started is zero, or when outcome, percent or pressure are none that a take can have.
func (j *Journal) AddTake(ctx context.Context, t Take) (int64, error) {
	var id int64
	err := j.act(ctx, func(tx *sql.Tx) (err error) {
		id, err = j.addTake(ctx, tx, t)
		return err
	})
	return id, explain(j.path, fmt.Sprintf("add a take of read %d", t.ReadID), err)
}

// check refuses what no take can have.
func (t *Take) check() error {
	_, pressure := joinPressure(t.Pressure)
	_, percent := checkPercent(t.Percent)
	switch {
	case pressure != nil:
		return pressure
	case percent != nil:
		return percent
	case t.Started.IsZero():
		return errors.New("it has no start")
	case t.Outcome != KeptGoing && t.Outcome != Left && t.Outcome != Failed:
		return fmt.Errorf("outcome %q: want %q, %q or %q", t.Outcome, KeptGoing, Left, Failed)
	}
	return nil
}

// addTake writes t after it has seen that its read is there.
func (j *Journal) addTake(ctx context.Context, tx *sql.Tx, t Take) (int64, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	pressure, _ := joinPressure(t.Pressure)
	percent, _ := checkPercent(t.Percent)
	if there, err := exists(ctx, tx, "SELECT EXISTS (SELECT 1 FROM reads WHERE id = ?)", t.ReadID); err != nil || !there {
		return 0, errors.Join(err, errors.New("this read is not in the journal: add it first"))
	}
	result, err := tx.ExecContext(ctx, `INSERT INTO takes
		(read_id, started, ended, outcome, late_median, late_max, dropped, percent, rubato, pressure, player)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		t.ReadID, j.stamp(t.Started), j.stamp(t.Ended), string(t.Outcome),
		int64(t.LateMedian), int64(t.LateMax), t.Dropped, percent, t.Rubato, pressure, j.player)
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// Takes lists the player's newest takes, newest first, at most limit of them, with their
// marks.
func (j *Journal) Takes(ctx context.Context, limit int) ([]Take, error) {
	if limit < 0 {
		return nil, fmt.Errorf("journal: takes: limit %d is negative", limit)
	}
	past, err := j.pastTakes(ctx, "WHERE takes.player = ? ORDER BY started DESC, takes.id DESC LIMIT ?", j.player, limit)
	takes := make([]Take, len(past))
	for i := range past {
		takes[i] = past[i].Take
	}
	return takes, explain(j.path, "list takes", err)
}
