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

// SharedMeasures reports those of the measures given that stand in the read of the journal
// that has most of them, one that is given twice counted twice; where several have as many,
// in the one whose share weighs most, see Weight. They come in the order given, one that is
// given twice twice. It searches an index: its cost hangs on how many reads have
// any of the measures.
func (j *Journal) SharedMeasures(ctx context.Context, measures []uint64) ([]uint64, error) {
	return j.All().SharedMeasures(ctx, measures)
}

// SharedMeasures is Journal.SharedMeasures among the reads of the past.
func (p Past) SharedMeasures(ctx context.Context, measures []uint64) ([]uint64, error) {
	shared, err := p.sharedMeasures(ctx, p.journal.db, measures)
	return shared, explain(p.journal.path, "look up measures", err)
}

// sharedMeasures is SharedMeasures in a database or a transaction.
func (p Past) sharedMeasures(ctx context.Context, db querier, measures []uint64) ([]uint64, error) {
	list, err := signed(measures)
	if err != nil {
		return nil, err
	}
	return hashRows(db.QueryContext(ctx, sharedMeasures, append(p.limits(), sql.Named("asked", list))...))
}

// Weight reports what decides between two reads that share as many measures with a third,
// the greater first: a number of the measures alone, the same wherever the reads stand in a
// journal. It is nothing that a player would notice.
func Weight(shared []uint64) (w int64) {
	for _, h := range shared {
		w += int64(h) >> 16 // so that the sum of many is no overflow
	}
	return w
}

// sharedMeasures is the query of SharedMeasures. The cross joins have the measures asked
// for lead the search.
var sharedMeasures = `SELECT hash FROM json_each(@asked) AS asked CROSS JOIN measures ON hash = asked.value
	WHERE read_id = (
		SELECT read_id FROM json_each(@asked) AS asked CROSS JOIN measures ON hash = asked.value
		WHERE ` + within("measures.read_id") + ` GROUP BY read_id ORDER BY count(*) DESC, sum(hash >> 16) DESC, read_id LIMIT 1)
	ORDER BY asked.key`

// hashRows reads rows of one column of hashes.
func hashRows(rows *sql.Rows, err error) ([]uint64, error) {
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []uint64
	for rows.Next() {
		var h int64
		if err := rows.Scan(&h); err != nil {
			return nil, err
		}
		all = append(all, uint64(h))
	}
	return all, rows.Err()
}
