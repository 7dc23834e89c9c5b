package main

import (
	"context"
	"encoding/json"
	"fmt"
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

// A playedTake is a take of a read that is in the journal, under way or over.
type playedTake struct {
	take
	studio      *studio
	begun, over journal.Take
	// pending is what the journal is to have of it; nil where that was not to be had in time.
	pending *journal.Pending
	read    int64 // in the journal
	id      int64 // in the journal, 0 until it is there
}

// pendingWithin is how long a take waits for the journal before it begins.
const pendingWithin = 300 * time.Millisecond

// begin starts a take of a read of the journal, which its own process keeps, too.
func (s *studio) begin(ctx context.Context, read int64, roll *live.Roll, sink string) (*playedTake, error) {
	p := &playedTake{studio: s, read: read}
	soon, enough := context.WithTimeout(ctx, pendingWithin)
	defer enough()
	pending, err := s.journal.Pending(soon, read)
	p.begun = journal.Take{Started: s.e.now(), Percent: s.o.Slower.value(), Rubato: s.o.Rubato, Pressure: s.o.kinds()}
	note := ""
	if err == nil {
		p.pending, pending.Take = pending, p.begun
		text, err := json.Marshal(pending)
		if err != nil {
			return nil, err
		}
		note = string(text)
	}
	p.take, err = s.e.begin(ctx, roll, sink, note)
	return p, err
}

// takeOver is a take that is over at ended, whatever became of it.
func takeOver(t journal.Take, ended time.Time, report live.Report, failed error) journal.Take {
	t.Ended, t.Outcome = ended, journal.KeptGoing
	switch {
	case failed != nil:
		t.Outcome = journal.Failed
	case report.Left:
		t.Outcome = journal.Left
	}
	t.LateMedian, t.LateMax, t.Dropped = report.P50, report.Max, report.Dropped
	return t
}

// keepBeside keeps a take that is over in a file beside the journal, by the note that its
// process was given.
func keepBeside(note string, report live.Report, failed error) {
	var p journal.Pending
	if json.Unmarshal([]byte(note), &p) != nil {
		return
	}
	p.Take = takeOver(p.Take, time.Now(), report, failed)
	p.Write() // a fault is told by the program that began the take, if it is still there
}

// keep puts the take, which is over, into the journal. said is what the player is to know
// about that, "" for nothing.
func (p *playedTake) keep(ctx context.Context, report live.Report, failed error) (said string, err error) {
	p.over = takeOver(p.begun, p.studio.e.now(), report, failed)
	return p.keepAgain(ctx)
}

// keepAgain is keep for a take that the journal may have or not.
func (p *playedTake) keepAgain(ctx context.Context) (said string, err error) {
	j := p.studio.journal
	replaced := j.Replaced()
	if p.id != 0 && !replaced {
		return "", nil
	}
	if p.pending == nil {
		if p.pending, err = j.Pending(ctx, p.read); err != nil {
			return "", err
		}
	}
	p.pending.Take = p.over
	if replaced {
		said = fmt.Sprintf("the journal's file was removed or replaced: %s now has this read and its take", j.Path())
		if err := p.studio.openAnew(ctx); err != nil {
			return "", p.beside(err)
		}
	}
	id, read, err := p.studio.journal.Keep(ctx, p.pending)
	if err != nil {
		return "", p.beside(err)
	}
	p.id, p.read = id, read
	return said, nil
}

// beside sees to it that the take lies beside a journal that could not take it.
func (p *playedTake) beside(fault error) error {
	path, err := p.pending.Write()
	if err != nil {
		return fault
	}
	return fmt.Errorf("%w; the take is not lost: it is in %s, and enters the journal when onward is next started", fault, path)
}

// openAnew opens the journal again where its file was replaced.
func (s *studio) openAnew(ctx context.Context) (err error) {
	j, err := s.journal.Anew(ctx)
	if err != nil {
		return err
	}
	s.journal = j
	if s.memory == nil { // no reads are made
		return nil
	}
	return s.remember(ctx)
}
