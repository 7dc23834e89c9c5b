package main

import (
	"context"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/live"
	"onward/midi/timeline"
)

// prepare makes the read of the seed, its band, and the roll that the take plays.
func (s *studio) prepare(ctx context.Context, seed uint64, l latency) (m *made, band *timeline.Timeline, roll *live.Roll, err error) {
	if m, err = s.compose(ctx, seed); err != nil {
		return nil, nil, nil, err
	}
	band, roll, err = s.rehearse(m, l)
	return m, band, roll, err
}

// rehearse makes a read's band, and the roll that the take plays.
func (s *studio) rehearse(m *made, l latency) (band *timeline.Timeline, roll *live.Roll, err error) {
	if band, err = s.o.arrange(m); err != nil {
		return nil, nil, err
	}
	if roll, err = live.Prepare(band); err != nil {
		return nil, nil, err
	}
	l.makeUp(roll)
	return band, roll, nil
}

// keepTake puts a take that is over into the journal, whatever became of it.
func (s *studio) keepTake(read int64, started time.Time, report live.Report, failed error) (int64, error) {
	return s.journal.AddTake(context.Background(), s.takeOver(read, started, report, failed))
}

// takeOver is a take that is over now, as the journal has it.
func (s *studio) takeOver(read int64, started time.Time, report live.Report, failed error) journal.Take {
	outcome := journal.KeptGoing
	switch {
	case failed != nil:
		outcome = journal.Failed
	case report.Left:
		outcome = journal.Left
	}
	return journal.Take{
		ReadID: read, Started: started, Ended: s.e.now(), Outcome: outcome,
		LateMedian: report.P50, LateMax: report.Max, Dropped: report.Dropped,
		Percent: s.o.Slower.value(), Rubato: s.o.Rubato, Pressure: s.o.kinds(),
	}
}
