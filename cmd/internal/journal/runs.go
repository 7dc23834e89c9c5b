package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
)

// A Run is a stretch of consecutive notes, in any key: what must never be seen twice. The
// composer makes its hashes; two runs are one when Length and Hash agree.
type Run struct {
	Length    int    // in notes, at least 1
	Hash      uint64 // of the intervals and the rhythm
	Rhythm    uint64 // hash of the rhythm alone
	Intervals []byte // the pitch intervals, in the composer's own encoding
}

// An ownedRun is a run of the read or drill with the ID given.
type ownedRun struct {
	owner int64
	Run
}

// addRuns writes runs with an insertion of owner, length, hash, rhythm and intervals.
func addRuns(ctx context.Context, tx *sql.Tx, insertion string, runs []ownedRun) error {
	insert, err := tx.PrepareContext(ctx, insertion)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, r := range runs {
		if r.Length < 1 {
			return fmt.Errorf("a run of %d notes: want at least 1", r.Length)
		}
		if _, err := insert.ExecContext(ctx, r.owner, r.Length, int64(r.Hash), int64(r.Rhythm), blob(r.Intervals)); err != nil {
			return fmt.Errorf("run %016x: %w", r.Hash, err)
		}
	}
	return nil
}

// signed lists hashes as a JSON array of the integers that the file keeps.
func signed(hashes []uint64) (string, error) {
	list := make([]int64, len(hashes))
	for i, h := range hashes {
		list[i] = int64(h)
	}
	text, err := json.Marshal(list)
	return string(text), err
}

// The queries of Seen and RunsWithRhythm.
var (
	seenRuns  = "SELECT DISTINCT hash FROM runs WHERE length = @length AND hash IN (SELECT value FROM json_each(@hashes)) AND " + within("runs.read_id")
	runsAlike = "SELECT intervals FROM runs WHERE length = @length AND rhythm = @rhythm AND " + within("runs.read_id") + " ORDER BY read_id DESC, intervals LIMIT @limit"
)

// Seen reports which of the hashes, of runs of length notes, stand in any read of the
// journal, each once, in the order asked. None of them found is a read never seen. It
// searches an index: its cost hangs on the number of hashes, hardly on that of reads.
func (j *Journal) Seen(ctx context.Context, length int, hashes []uint64) ([]uint64, error) {
	return j.All().Seen(ctx, length, hashes)
}

// Seen is Journal.Seen among the reads of the past.
func (p Past) Seen(ctx context.Context, length int, hashes []uint64) ([]uint64, error) {
	found, err := p.seen(ctx, p.journal.db, length, hashes)
	return found, explain(p.journal.path, "look up runs", err)
}

// seen is Seen in a database or a transaction.
func (p Past) seen(ctx context.Context, db querier, length int, hashes []uint64) ([]uint64, error) {
	list, err := signed(hashes)
	if err != nil {
		return nil, err
	}
	rows, err := db.QueryContext(ctx, seenRuns, append(p.limits(), sql.Named("length", length), sql.Named("hashes", list))...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	present := map[uint64]bool{}
	for rows.Next() {
		var h int64
		if err := rows.Scan(&h); err != nil {
			return nil, err
		}
		present[uint64(h)] = true
	}
	var found []uint64
	for _, h := range hashes {
		if present[h] {
			found = append(found, h)
			delete(present, h)
		}
	}
	return found, rows.Err()
}

// RunsWithRhythm reports, for each of the rhythms given that has any, the intervals of the
// runs of length notes with that rhythm in all reads, newest read first, at most limit for
// each rhythm; 0 means all. What is cut off by the limit Seen still finds.
func (j *Journal) RunsWithRhythm(ctx context.Context, length int, rhythms []uint64, limit int) (map[uint64][][]byte, error) {
	return j.All().RunsWithRhythm(ctx, length, rhythms, limit)
}

// RunsWithRhythm is Journal.RunsWithRhythm among the reads of the past.
func (p Past) RunsWithRhythm(ctx context.Context, length int, rhythms []uint64, limit int) (map[uint64][][]byte, error) {
	j := p.journal
	if limit < 0 {
		return nil, fmt.Errorf("journal: runs with a rhythm: limit %d is negative", limit)
	}
	if limit == 0 {
		limit = -1 // SQLite's word for no limit
	}
	query, err := j.db.PrepareContext(ctx, runsAlike)
	if err != nil {
		return nil, explain(j.path, "look up rhythms", err)
	}
	defer query.Close()
	found := map[uint64][][]byte{}
	for _, rhythm := range rhythms {
		if _, done := found[rhythm]; done {
			continue
		}
		intervals, err := blobs(query.QueryContext(ctx, append(p.limits(),
			sql.Named("length", length), sql.Named("rhythm", int64(rhythm)), sql.Named("limit", limit))...))
		if err != nil {
			return nil, explain(j.path, "look up rhythms", err)
		}
		if len(intervals) > 0 {
			found[rhythm] = intervals
		}
	}
	return found, nil
}

// blobs reads rows of one column of bytes.
func blobs(rows *sql.Rows, err error) ([][]byte, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all [][]byte
	for rows.Next() {
		var b []byte
		if err := rows.Scan(&b); err != nil {
			return nil, err
		}
		all = append(all, b)
	}
	return all, rows.Err()
}
