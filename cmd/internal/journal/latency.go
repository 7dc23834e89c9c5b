package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// MaxLatency is the longest latency that is kept.
const MaxLatency = time.Second

// KeepLatency keeps how long after its time what is sent to a sink is heard, to the
// millisecond, in place of an earlier one. sink names a sound device or a MIDI port. It
// fails on a sink without a name and on a latency under 0 or over MaxLatency.
func (j *Journal) KeepLatency(ctx context.Context, sink string, latency time.Duration) error {
	err := func() error {
		switch {
		case sink == "":
			return errors.New("it is not named")
		case latency < 0 || latency > MaxLatency:
			return fmt.Errorf("%v: want 0 to %v", latency, MaxLatency)
		}
		return j.write(ctx, func(tx *sql.Tx) error {
			_, err := tx.ExecContext(ctx, "INSERT OR REPLACE INTO latencies (sink, millis, kept) VALUES (?, ?, ?)",
				sink, latency.Round(time.Millisecond).Milliseconds(), j.stamp(time.Time{}))
			return err
		})
	}()
	return explain(j.path, fmt.Sprintf("keep the latency of %q", sink), err)
}

// Latency reports what KeepLatency kept of a sink last; false when there is nothing.
func (j *Journal) Latency(ctx context.Context, sink string) (latency time.Duration, known bool, err error) {
	var millis int64
	err = j.db.QueryRowContext(ctx, "SELECT millis FROM latencies WHERE sink = ?", sink).Scan(&millis)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, false, nil
	}
	return time.Duration(millis) * time.Millisecond, err == nil, explain(j.path, fmt.Sprintf("look up the latency of %q", sink), err)
}
