package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"onward/midi/live"
)

// countDown waits for the look-over to pass and says what is left of it: every second
// on a terminal, else now and then.
func (r *reading) countDown(ctx context.Context) error {
	end := r.e.now().Add(r.lookOver)
	for left := r.lookOver; left > 0; {
		step := r.tellLeft(left)
		if err := r.e.wait(ctx, end.Add(step-left).Sub(r.e.now())); err != nil {
			io.WriteString(r.out, "\n")
			return err
		}
		left -= step
	}
	if r.e.terminal && r.lookOver > 0 {
		fmt.Fprintf(r.out, "\r%-*s\r", lineWidth-1, "")
	}
	return ctx.Err()
}

// tellLeft says how long the look-over still lasts, and reports when to say it next.
func (r *reading) tellLeft(left time.Duration) time.Duration {
	if r.e.terminal {
		fmt.Fprintf(r.out, "\rthe count-in comes in %-8v", left.Round(time.Second))
		return min(time.Second, left)
	}
	fmt.Fprintf(r.out, "the count-in comes in %v\n", left)
	for _, at := range []time.Duration{10 * time.Second, 5 * time.Second} {
		if left > at {
			return left - at
		}
	}
	return left
}

// follow says where the take is, until it ends: each beat on one line of a terminal,
// else each measure on a line; of is the number of the last. It reports the last place.
func (r *reading) follow(of int, roll *live.Roll, t take) string {
	said, last := "", "the start"
	for i := range t.Beats() {
		if i < 0 || i >= len(roll.Beats) {
			continue
		}
		b := roll.Beats[i]
		place := placeWords(b, of)
		if b.Measure >= 0 {
			last = measureWords(b.Number)
		}
		switch {
		case r.e.terminal:
			fmt.Fprintf(r.out, "\r%-*s", lineWidth-1, fmt.Sprintf("%s  beat %d", place, b.Beat))
		case place != said:
			fmt.Fprintln(r.out, place)
			said = place
		}
	}
	if r.e.terminal {
		fmt.Fprintf(r.out, "\r%-*s\r", lineWidth-1, "")
	}
	return last
}

// placeWords says which measure a beat lies in.
func placeWords(b live.Beat, of int) string {
	switch {
	case b.Measure < 0 && b.Number == 0:
		return "tonic chord"
	case b.Measure < 0:
		return fmt.Sprintf("count-in %d", b.Number)
	case b.Number == 0:
		return measureWords(0)
	case b.Pass > 1:
		return fmt.Sprintf("measure %d of %d, second time", b.Number, of)
	}
	return fmt.Sprintf("measure %d of %d", b.Number, of)
}
