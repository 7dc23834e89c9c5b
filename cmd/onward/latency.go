package main

import (
	"context"
	"fmt"
	"time"

	"onward/cmd/internal/journal"
	"onward/midi/live"

	"github.com/spf13/cobra"
)

// A latencyOption is the flag --latency.
type latencyOption struct {
	Millis int
	Given  bool
}

func (o *latencyOption) flag(cmd *cobra.Command) {
	cmd.Flags().IntVar(&o.Millis, "latency", 0,
		"the band is heard `MS` milliseconds late, 0 to 1000, and is sent that much earlier; remembered (default: what onward tap found)")
}

func (o *latencyOption) check(cmd *cobra.Command) error {
	o.Given = cmd.Flags().Changed("latency")
	if most := journal.MaxLatency.Milliseconds(); o.Millis < 0 || int64(o.Millis) > most {
		return askedf("--latency %d: write milliseconds, 0 to %d; `onward tap` finds them", o.Millis, most)
	}
	return nil
}

// A latency is how long after its time the band is heard.
type latency struct {
	time.Duration
	words string // that follow where the sound goes; "" where nothing was measured
}

// of settles how late a sink is heard: as given, which is remembered, or as remembered,
// or what is known of it beforehand.
func (o *latencyOption) of(ctx context.Context, j *journal.Journal, to found) (latency, error) {
	l := latency{Duration: time.Duration(o.Millis) * time.Millisecond}
	had := o.Given
	var err error
	switch {
	case o.Given && to.name != "":
		err = j.KeepLatency(ctx, to.name, l.Duration)
	case !o.Given && to.name != "":
		l.Duration, had, err = j.Latency(ctx, to.name)
	}
	switch {
	case err != nil:
		return l, err
	case had && l.Duration == 0:
		l.words = "; heard at once"
	case had:
		l.words = fmt.Sprintf("; heard %d ms late, which is made up for", l.Milliseconds())
	default:
		l.Duration = to.latency
	}
	return l, nil
}

// makeUp puts the roll's beats as much later than its sound as that is heard late: what
// is heard then falls on the beat that is shown.
func (l latency) makeUp(r *live.Roll) {
	for i := range r.Beats {
		r.Beats[i].At += l.Duration
		r.End = max(r.End, r.Beats[i].At)
	}
}
