package journal

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"
)

// A Read is a piece that was made for the player.
type Read struct {
	ID         int64  // given by AddRead
	Identity   string // seed, request and generator version in one line
	Title      string
	Style      string // march, lyrical, or the player's own sheet
	Rung       int    // of the ladder, from 1; 0 of a printed piece
	Instrument string // the instrument's ID
	Made       time.Time
	// Melody is the tune as intervals and durations, in the composer's own encoding.
	Melody []byte
	// Runs are all runs of the melody that must not return. They are written, and found
	// again by Seen and RunsWithRhythm, but not given back with the read.
	Runs []Run
	// Measures are the hashes of its measures, in the composer's own encoding. They are
	// written, and found again by SharedMeasures, but not given back.
	Measures []uint64
	// Length is how many measures the printed page has; 0 where that is not known. Figures
	// and Loads are the figures that it is made of and the load of each of its measures, in
	// the maker's own encoding; nil for none. They are written, and come back with the takes:
	// see Practised and History.
	Length         int
	Figures, Loads []byte
	// Past is what it was kept clear of, beside those before it that are added with it; nil
	// where that is not known. AddReads sees to it that no read that came in after it has
	// this one's identity, a run of Clear notes of this one's, or more than Shared of its
	// measures.
	Past          *Past
	Clear, Shared int
	// Request is all that made it but what had been drilled, which is Drilled, in the maker's
	// own encoding; nil for none. They are written, and come back by Request.
	Request, Drilled []byte
}

// AddRead adds one read and reports its ID. Made, if zero, is now.
func (j *Journal) AddRead(ctx context.Context, r Read) (int64, error) {
	ids, err := j.AddReads(ctx, []Read{r})
	if err != nil {
		return 0, err
	}
	return ids[0], nil
}

// AddReads adds reads, whole or none, and reports their IDs in the same order: all of them,
// or fewer, where one of them is touched by what came into the journal after its Past. That
// one, and those after it, are not added: they are to be made again.
func (j *Journal) AddReads(ctx context.Context, reads []Read) ([]int64, error) {
	var ids []int64
	err := j.act(ctx, func(tx *sql.Tx) (err error) {
		n, err := untouched(ctx, tx, reads)
		if err == nil {
			ids, err = j.addReads(ctx, tx, reads[:n])
		}
		return err
	})
	if err != nil {
		return nil, explain(j.path, "add reads", err)
	}
	return ids, nil
}

// addReads writes reads and reports their IDs in the same order.
func (j *Journal) addReads(ctx context.Context, tx *sql.Tx, reads []Read) ([]int64, error) {
	insert, err := tx.PrepareContext(ctx, `INSERT INTO reads
		(identity, title, style, rung, instrument, made, melody, measures, player) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return nil, err
	}
	defer insert.Close()
	ids := make([]int64, len(reads))
	for i, r := range reads {
		result, err := insert.ExecContext(ctx, r.Identity, r.Title, r.Style, r.Rung, r.Instrument,
			j.stamp(r.Made), blob(r.Melody), r.Length, j.player)
		if err != nil {
			return nil, fmt.Errorf("read %q: %w", r.Identity, err)
		}
		if ids[i], err = result.LastInsertId(); err != nil {
			return nil, err
		}
		if err := addMakeup(ctx, tx, ids[i], r); err != nil {
			return nil, fmt.Errorf("read %q: %w", r.Identity, err)
		}
	}
	for i, r := range reads {
		if r.Past != nil { // IDs of one transaction follow each other
			if err := addPast(ctx, tx, ids[i], append(slices.Clone(r.Past.spans), span{ids[0], ids[i] - 1})); err != nil {
				return nil, err
			}
		}
	}
	if err := addMeasures(ctx, tx, reads, ids); err != nil {
		return nil, err
	}
	return ids, addRuns(ctx, tx, `INSERT INTO runs (read_id, length, hash, rhythm, intervals)
		VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`, gather(reads, ids))
}

// untouched reports how many of the reads, from the first on, nothing touches that came
// into the journal after their pasts.
func untouched(ctx context.Context, tx *sql.Tx, reads []Read) (int, error) {
	newest, err := newestRead(ctx, tx)
	if err != nil {
		return 0, err
	}
	for i, r := range reads {
		if r.Past == nil {
			continue
		}
		later := r.Past.later()
		if later.spans[0][0] > newest {
			continue
		}
		if touched, err := later.touches(ctx, tx, &r); err != nil || touched {
			return i, err
		}
	}
	return len(reads), nil
}

// touches reports whether a read of the past has r's identity, a run that r must not share,
// or too many of its measures.
func (p Past) touches(ctx context.Context, tx *sql.Tx, r *Read) (bool, error) {
	var had bool
	err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM reads WHERE identity = @identity AND "+within("reads.id")+")",
		append(p.limits(), sql.Named("identity", r.Identity))...).Scan(&had)
	if err != nil || had {
		return had, err
	}
	var hashes []uint64
	for _, run := range r.Runs {
		if run.Length == r.Clear {
			hashes = append(hashes, run.Hash)
		}
	}
	seen, err := p.seen(ctx, tx, r.Clear, hashes)
	if err != nil || len(seen) > 0 {
		return len(seen) > 0, err
	}
	shared, err := p.sharedMeasures(ctx, tx, r.Measures)
	return len(shared) > r.Shared, err
}

// addMakeup writes what a read is made of.
func addMakeup(ctx context.Context, tx *sql.Tx, id int64, r Read) error {
	if r.Figures != nil {
		if _, err := tx.ExecContext(ctx, "INSERT INTO read_figures (read_id, figures) VALUES (?, ?)", id, r.Figures); err != nil {
			return err
		}
	}
	if r.Loads != nil {
		if _, err := tx.ExecContext(ctx, "INSERT INTO read_loads (read_id, loads) VALUES (?, ?)", id, r.Loads); err != nil {
			return err
		}
	}
	return addRequest(ctx, tx, id, r)
}

// gather lists the runs of reads in the order in which the file keeps them, which makes
// the writing of many reads several times as fast.
func gather(reads []Read, ids []int64) []ownedRun {
	var all []ownedRun
	for i, r := range reads {
		for _, run := range r.Runs {
			all = append(all, ownedRun{ids[i], run})
		}
	}
	slices.SortFunc(all, func(a, b ownedRun) int {
		return cmp.Or(cmp.Compare(a.Length, b.Length), cmp.Compare(int64(a.Hash), int64(b.Hash)))
	})
	return all
}

// Count reports how many reads there are.
func (j *Journal) Count(ctx context.Context) (int, error) { return j.All().Count(ctx) }

const readColumns = "SELECT id, identity, title, style, rung, instrument, made"

// Reads lists the newest reads made for the player or played by them, newest first, at most
// limit of them, without melodies.
func (j *Journal) Reads(ctx context.Context, limit int) ([]Read, error) {
	reads, err := j.reads(ctx, readColumns+`, x'' FROM reads WHERE player = ?1
		OR id IN (SELECT read_id FROM takes WHERE player = ?1) ORDER BY made DESC, id DESC LIMIT ?2`, j.player, limit)
	return reads, explain(j.path, "list reads", err)
}

// LastRead reports the newest read made for the player or played by them that is of a rung,
// as a printed piece is not, without its melody; and whether there is one.
func (j *Journal) LastRead(ctx context.Context) (Read, bool, error) {
	reads, err := j.reads(ctx, readColumns+`, x'' FROM reads WHERE rung > 0 AND (player = ?1
		OR id IN (SELECT read_id FROM takes WHERE player = ?1)) ORDER BY made DESC, id DESC LIMIT 1`, j.player)
	if err != nil || len(reads) == 0 {
		return Read{}, false, explain(j.path, "find the last read", err)
	}
	return reads[0], true, nil
}

// Recent lists the n newest reads, newest first, with their melodies.
func (j *Journal) Recent(ctx context.Context, n int) ([]Read, error) { return j.All().Recent(ctx, n) }

// Find reports the newest read of an identity, with its melody, and whether there is one:
// what the player asks for may be a read made before.
func (j *Journal) Find(ctx context.Context, identity string) (Read, bool, error) {
	reads, err := j.reads(ctx, readColumns+", melody FROM reads WHERE identity = ? ORDER BY id DESC LIMIT 1", identity)
	if err != nil || len(reads) == 0 {
		return Read{}, false, explain(j.path, "find a read", err)
	}
	return reads[0], true, nil
}

// reads reports the reads that a query of readColumns and a melody finds.
func (j *Journal) reads(ctx context.Context, query string, args ...any) ([]Read, error) {
	if n, isLimit := args[len(args)-1].(int); isLimit && n < 0 {
		return nil, errors.New("a negative number of reads")
	}
	rows, err := j.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var found []Read
	for rows.Next() {
		var r Read
		var made string
		if err := rows.Scan(&r.ID, &r.Identity, &r.Title, &r.Style, &r.Rung, &r.Instrument, &made, &r.Melody); err != nil {
			return nil, err
		}
		if r.Made, err = unstamp(made); err != nil {
			return nil, fmt.Errorf("read %d: %w", r.ID, err)
		}
		found = append(found, r)
	}
	return found, rows.Err()
}

// blob is b for a column that must not be null.
func blob(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
