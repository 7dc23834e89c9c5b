package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// A Proposal is what was proposed after a take for the next one.
type Proposal struct {
	TakeID   int64
	Made     time.Time // zero is now
	Style    string
	Rung     int     // from 1
	Coverage float64 // share of the notes in known figures, 0 to 1
	New      int     // new figures
	Percent  int     // of the page's tempo, 25 to 100; 0 is 100
	Pressure []string
	Wanted   []byte // the figures to be met, in the proposer's own encoding
	Why      string // in words for the player
}

// KeepProposal keeps what was proposed after a take, in place of an earlier proposal after
// it. It fails on a take that the player does not have and on values out of their ranges.
func (j *Journal) KeepProposal(ctx context.Context, p Proposal) error {
	err := j.act(ctx, func(tx *sql.Tx) error { return j.addProposal(ctx, tx, p) })
	return explain(j.path, fmt.Sprintf("keep what was proposed after take %d", p.TakeID), err)
}

// check refuses values out of their ranges.
func (p *Proposal) check() error {
	_, pressure := joinPressure(p.Pressure)
	_, percent := checkPercent(p.Percent)
	switch {
	case pressure != nil:
		return pressure
	case percent != nil:
		return percent
	case p.Rung < 1:
		return fmt.Errorf("rung %d: want 1 or more", p.Rung)
	case !(p.Coverage >= 0 && p.Coverage <= 1):
		return fmt.Errorf("coverage %v: want 0 to 1", p.Coverage)
	case p.New < 0:
		return fmt.Errorf("%d new figures: want 0 or more", p.New)
	}
	return nil
}

// addProposal writes p in place of an earlier proposal after its take.
func (j *Journal) addProposal(ctx context.Context, tx *sql.Tx, p Proposal) error {
	if err := p.check(); err != nil {
		return err
	}
	there, err := exists(ctx, tx, "SELECT EXISTS (SELECT 1 FROM takes WHERE id = ? AND player = ?)", p.TakeID, j.player)
	if err != nil || !there {
		return errors.Join(err, errors.New("the player has no such take"))
	}
	pressure, _ := joinPressure(p.Pressure)
	percent, _ := checkPercent(p.Percent)
	_, err = tx.ExecContext(ctx, `INSERT OR REPLACE INTO proposals
		(take_id, made, style, rung, coverage, new, percent, pressure, wanted, why, player) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		p.TakeID, j.stamp(p.Made), p.Style, p.Rung, p.Coverage, p.New, percent, pressure, blob(p.Wanted), p.Why, j.player)
	return err
}

// exists runs a query of one truth.
func exists(ctx context.Context, tx *sql.Tx, query string, args ...any) (there bool, err error) {
	err = tx.QueryRowContext(ctx, query, args...).Scan(&there)
	return there, err
}

// Proposals lists all that was proposed to the player, oldest first.
func (j *Journal) Proposals(ctx context.Context) ([]Proposal, error) {
	all, err := proposals(j.db.QueryContext(ctx, `SELECT
		take_id, made, style, rung, coverage, new, percent, pressure, wanted, why FROM proposals WHERE player = ? ORDER BY made, take_id`, j.player))
	return all, explain(j.path, "list proposals", err)
}

// proposals reads rows of all columns of proposals.
func proposals(rows *sql.Rows, err error) ([]Proposal, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []Proposal
	for rows.Next() {
		var p Proposal
		var made, pressure string
		err := rows.Scan(&p.TakeID, &made, &p.Style, &p.Rung, &p.Coverage, &p.New, &p.Percent, &pressure, &p.Wanted, &p.Why)
		if err != nil {
			return nil, err
		}
		if p.Made, err = unstamp(made); err != nil {
			return nil, fmt.Errorf("proposal after take %d: %w", p.TakeID, err)
		}
		p.Pressure = splitPressure(pressure)
		all = append(all, p)
	}
	return all, rows.Err()
}
