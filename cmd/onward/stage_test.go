package main

import (
	"bytes"
	"context"
	"testing"
	"time"

	"onward/midi/live"
	"onward/midi/port"
)

// A stage is an env for tests: time passes only by waiting, and takes are played by
// nobody.
type stage struct {
	*env
	out, err bytes.Buffer
	clock    time.Time
	sink     string       // of the last take
	rolls    []*live.Roll // of all takes
	report   live.Report  // how a take goes
	fails    error        // why it breaks off
	refuses  error        // why it does not begin
	tried    found        // what any sink is found to be
	beats    int          // how many beats are heard before the end; 0 is all
}

// newStage makes an env in a temporary folder, which the test then stands in.
func newStage(t *testing.T) *stage {
	t.Chdir(t.TempDir())
	s := &stage{clock: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC), tried: found{words: "a loudspeaker"}}
	s.env = &env{
		in: &bytes.Buffer{}, out: &s.out, err: &s.err,
		now:   func() time.Time { return s.clock },
		clock: func() time.Duration { return s.clock.Sub(time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)) },
		wait: func(ctx context.Context, d time.Duration) error {
			s.clock = s.clock.Add(d)
			return ctx.Err()
		},
		random:    func(n uint64) uint64 { return 4242 % n },
		journalAt: func() (string, error) { return "journal.db", nil },
		ports:     func() ([]port.Info, error) { return nil, port.ErrNoDriver },
		sinks:     s,
		begin:     s.play,
	}
	return s
}

func (s *stage) open(string) (live.Sender, error) { return live.Off{}, nil }

func (s *stage) try(sink string) (found, error) {
	s.tried.sink = sink
	return s.tried, nil
}

func (s *stage) play(_ context.Context, r *live.Roll, sink, note string) (take, error) {
	if s.refuses != nil {
		return nil, s.refuses
	}
	s.sink, s.rolls = sink, append(s.rolls, r)
	beats := make(chan int, len(r.Beats))
	for i := range r.Beats {
		if s.beats == 0 || i < s.beats {
			beats <- i
		}
	}
	close(beats)
	s.clock = s.clock.Add(r.End)
	return staged{beats, s.report, s.fails, s.clock}, nil
}

// A staged take is over before it is followed.
type staged struct {
	beats  chan int
	report live.Report
	err    error
	began  time.Time
}

func (t staged) Started() (time.Duration, bool) { return 0, false }
func (t staged) StartedAt() time.Time           { return t.began }

func (t staged) Beats() <-chan int          { return t.beats }
func (t staged) Wait() (live.Report, error) { return t.report, t.err }

// run runs the program and reports its exit code and what it printed.
func (s *stage) run(args ...string) (code int, out, err string) {
	return s.runIn(context.Background(), args...)
}

func (s *stage) runIn(ctx context.Context, args ...string) (code int, out, err string) {
	s.out.Reset()
	s.env.err.(*bytes.Buffer).Reset()
	code = run(ctx, s.env, args)
	return code, s.out.String(), s.err.String()
}
