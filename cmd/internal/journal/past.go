package journal

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
)

// A Past is a set of the journal's reads: what there was to keep clear of when a read was
// made. It asks the journal each time, so it holds as long as that is open.
type Past struct {
	journal *Journal
	spans   []span // the oldest read first
}

// A span is the first and the last of IDs that follow each other.
type span [2]int64

// inOrder is how many of the newest reads of a past are known in their order when it came
// from another journal.
const inOrder = 50

// All reports all reads as a past, also those that come in later.
func (j *Journal) All() Past { return j.Before(math.MaxInt64) }

// Before reports the reads that were added before the one of the ID given, which need not
// be in the journal.
func (j *Journal) Before(id int64) Past { return Past{j, []span{{1, id - 1}}} }

// Now reports the reads that are in the journal now as a past: what comes in later is not
// among them.
func (j *Journal) Now(ctx context.Context) (Past, error) {
	last, err := newestRead(ctx, j.db)
	return j.Before(last + 1), explain(j.path, "find the newest read", err)
}

// newestRead reports the newest read's ID, 0 without any.
func newestRead(ctx context.Context, db querier) (id int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT ifnull(max(id), 0) FROM reads").Scan(&id)
	return id, err
}

// PastOf reports what a read of the journal was kept clear of.
func (j *Journal) PastOf(ctx context.Context, read int64) (Past, error) {
	var text []byte
	err := j.db.QueryRowContext(ctx, "SELECT past FROM pasts WHERE read_id = ?", read).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return j.Before(read), nil
	}
	p := Past{journal: j}
	if err == nil {
		err = json.Unmarshal(text, &p.spans)
	}
	return p, explain(j.path, fmt.Sprintf("find what read %d was kept clear of", read), err)
}

// addPast writes what a read was kept clear of.
func addPast(ctx context.Context, tx *sql.Tx, read int64, spans []span) error {
	kept := slices.DeleteFunc(append([]span{}, spans...), func(s span) bool { return s[0] > s[1] })
	text, err := json.Marshal(kept) // none is [], not null
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO pasts (read_id, past) VALUES (?, ?)", read, string(text))
	return err
}

// within is the SQL that says whether a column, named with its table, has an ID of a past; see
// limits.
func within(column string) string {
	return fmt.Sprintf("(%[1]s BETWEEN @first AND @last AND (@spans = '' OR EXISTS (SELECT 1 FROM json_each(@spans) WHERE %[1]s BETWEEN value ->> 0 AND value ->> 1)))", column)
}

// limits are the arguments of within.
func (p Past) limits() []any {
	first, last := int64(1), int64(0)
	text := ""
	for i, s := range p.spans {
		if i == 0 || s[0] < first {
			first = s[0]
		}
		last = max(last, s[1])
	}
	if len(p.spans) > 1 {
		list, _ := json.Marshal(p.spans) // numbers alone
		text = string(list)
	}
	return []any{sql.Named("first", first), sql.Named("last", last), sql.Named("spans", text)}
}

// later reports the reads that came into the journal after the newest of the past.
func (p Past) later() Past {
	last := int64(0)
	for _, s := range p.spans {
		last = max(last, s[1])
	}
	return Past{p.journal, []span{{last + 1, math.MaxInt64}}}
}

// coalesced joins spans that follow each other.
func coalesced(spans []span) (out []span) {
	for _, s := range spans {
		if n := len(out); n > 0 && out[n-1][1]+1 >= s[0] && out[n-1][0] <= s[0] {
			out[n-1][1] = max(out[n-1][1], s[1])
		} else {
			out = append(out, s)
		}
	}
	return out
}

// settled brings all but the newest reads of spans into the order of their IDs, so that few
// spans are left.
func settled(spans []span) []span {
	var newest []span
	older := slices.Clone(spans)
	for left := int64(inOrder); left > 0 && len(older) > 0; {
		s := &older[len(older)-1]
		n := min(left, s[1]-s[0]+1)
		newest = append(newest, span{s[1] - n + 1, s[1]})
		left -= n
		if s[1] -= n; s[1] < s[0] {
			older = older[:len(older)-1]
		}
	}
	slices.SortFunc(older, func(a, b span) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	slices.Reverse(newest)
	return coalesced(append(coalesced(older), newest...))
}

// Count reports how many reads of the past there are.
func (p Past) Count(ctx context.Context) (int, error) {
	var n int
	err := p.journal.db.QueryRowContext(ctx, "SELECT count(*) FROM reads WHERE "+within("reads.id"), p.limits()...).Scan(&n)
	return n, explain(p.journal.path, "count reads", err)
}

// Recent lists the newest reads of the past with their melodies, newest first, at most n;
// of a past that came from another journal at most fifty are in the order in which they were
// made.
func (p Past) Recent(ctx context.Context, n int) ([]Read, error) {
	if n < 0 {
		return nil, fmt.Errorf("journal %s: recent reads: %d is negative", p.journal.path, n)
	}
	var all []Read
	for i := len(p.spans) - 1; i >= 0 && len(all) < n; i-- {
		some, err := p.journal.reads(ctx, readColumns+", melody FROM reads WHERE id BETWEEN ? AND ? ORDER BY id DESC LIMIT ?",
			p.spans[i][0], p.spans[i][1], n-len(all))
		if err != nil {
			return nil, explain(p.journal.path, "list recent reads", err)
		}
		all = append(all, some...)
	}
	return all, nil
}
