package journal

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// addMeasures writes the measures of reads, each once, in the order in which the file
// keeps them.
func addMeasures(ctx context.Context, tx *sql.Tx, reads []Read, ids []int64) error {
	type owned struct{ hash, owner int64 }
	var all []owned
	for i, r := range reads {
		for _, h := range r.Measures {
			all = append(all, owned{int64(h), ids[i]})
		}
	}
	slices.SortFunc(all, func(a, b owned) int {
		return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.owner, b.owner))
	})
	insert, err := tx.PrepareContext(ctx, "INSERT INTO measures (hash, read_id) VALUES (?, ?)")
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, m := range slices.Compact(all) {
		if _, err := insert.ExecContext(ctx, m.hash, m.owner); err != nil {
			return fmt.Errorf("measure %016x: %w", uint64(m.hash), err)
		}
	}
	return nil
}

// SharedMeasures reports the largest number of the measures given that stand in one read
// of the journal; one that is given twice counts twice. It searches an index: its cost
// hangs on how many reads have any of the measures.
func (j *Journal) SharedMeasures(ctx context.Context, measures []uint64) (int, error) {
	return j.All().SharedMeasures(ctx, measures)
}

// SharedMeasures is Journal.SharedMeasures among the reads of the past.
func (p Past) SharedMeasures(ctx context.Context, measures []uint64) (int, error) {
	list, err := signed(measures)
	if err != nil {
		return 0, explain(p.journal.path, "look up measures", err)
	}
	var most int
	err = p.journal.db.QueryRowContext(ctx, sharedMeasures, list, p.before).Scan(&most)
	return most, explain(p.journal.path, "look up measures", err)
}

// sharedMeasures is the query of SharedMeasures. The cross join has the measures asked
// for lead the search.
const sharedMeasures = `SELECT coalesce(max(n), 0) FROM (
	SELECT count(*) AS n FROM json_each(?) AS asked CROSS JOIN measures ON hash = asked.value
	WHERE read_id < ? GROUP BY read_id)`
