package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"onward/midi/live"
	"onward/midi/timeline"
	"onward/rhythm"

	"github.com/spf13/cobra"
)

// tapOptions say on what the clicks are played.
type tapOptions struct {
	Port, Sound, Journal string
}

// newTap makes the verb that measures how late the band is heard. do is nil but in tests.
func newTap(e *env, journal *string, do func(*tapOptions) error) *cobra.Command {
	var o tapOptions
	cmd := &cobra.Command{
		Use:   "tap",
		Short: "Tap along with clicks, to find how late the band is heard",
		Long: `Tap plays clicks at a steady pace; tap the space bar or Enter with each of them. The
median of your taps against the clicks is remembered as the latency of this sound device
or MIDI port, and read sends the band that much earlier, so that what you hear falls on
the beat that the screen shows. read --latency MS sets it by hand.

What is measured is the way of the sound to your ear and how you tap together: most
people tap some hundredths of a second ahead of a click without knowing it (Repp 2005,
Psychonomic Bulletin & Review 12: 969-992). The device alone is late by as much more.`,
		Example: `  onward tap
  onward tap --port "Digital Piano"`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal = *journal
			if do != nil {
				return do(&o)
			}
			return runTap(cmd.Context(), e, &o)
		},
	}
	cmd.Flags().StringVar(&o.Port, "port", "", "click on the MIDI port of this `NAME`, see onward ports; or raw:/path of a device")
	cmd.Flags().StringVar(&o.Sound, "sound", usualSound, "`SOUND`: auto, builtin, or the path of a sound font (.sf2)")
	return cmd
}

// runTap plays the clicks, measures the taps, and remembers what they say.
func runTap(ctx context.Context, e *env, o *tapOptions) error {
	sink, err := sinkOf(o.Port, o.Sound)
	if err != nil {
		return err
	}
	to, err := e.sinks.try(sink)
	if err != nil {
		return asked(err, "")
	}
	if to.silent {
		return askedf("tap: there is nothing to hear: %s: connect a sound device or name a MIDI port with --port", to.words)
	}
	j, err := e.openJournal(ctx, o.Journal)
	if err != nil {
		return err
	}
	defer j.Close()
	clicks, taps, err := e.tapAlong(ctx, to)
	if err != nil {
		return err
	}
	m, err := measureTaps(clicks, taps)
	if err != nil {
		return asked(err, "nothing was kept; run onward tap again")
	}
	latency := max(0, m.offset.Round(time.Millisecond))
	if err := j.KeepLatency(ctx, to.name, latency); err != nil {
		return err
	}
	return m.tell(e.out, to, latency)
}

// tell says what was measured and what becomes of it.
func (m tapping) tell(w io.Writer, to found, latency time.Duration) error {
	var b strings.Builder
	way := "after"
	if m.offset < 0 {
		way = "before"
	}
	field(&b, "taps", fmt.Sprintf("%d ms %s the clicks, the median of %d; half of them within %d ms of it",
		m.offset.Abs().Round(time.Millisecond).Milliseconds(), way, m.used, m.spread.Round(time.Millisecond).Milliseconds()))
	field(&b, "latency", fmt.Sprintf("%d ms, remembered for: %s", latency.Milliseconds(), to.words))
	field(&b, "by hand", fmt.Sprintf("onward read --latency %d", latency.Milliseconds()))
	field(&b, "note", "this is the sound's way to your ear and your own tapping together: most people tap some hundredths"+
		" of a second ahead of a click (Repp 2005), and the device alone is late by as much more")
	_, err := io.WriteString(w, b.String())
	return err
}

// tapAlong plays the clicks while keys are pressed, and reports both on one clock: the
// clicks where a screen would show them.
func (e *env) tapAlong(ctx context.Context, to found) (clicks, taps []time.Duration, err error) {
	roll, err := tapRoll()
	if err != nil {
		return nil, nil, err
	}
	pressed, done, err := e.keys()
	if err != nil {
		return nil, nil, asked(fmt.Errorf("tap: %w", err), "")
	}
	defer done()
	fmt.Fprintf(e.out, "sound      %s\r\nListen to %d clicks, then tap the space bar or Enter with each of the next %d. q leaves.\r\n",
		to.words, tapsListened, tapsCounted)
	ctx, leave := context.WithCancel(ctx)
	defer leave()
	t, err := e.begin(ctx, roll, to.sink, "")
	if err != nil {
		return nil, nil, err
	}
	at, struck := collect(e, t, pressed, leave)
	report, err := t.Wait()
	switch {
	case errors.Is(err, live.ErrHanging):
		e.hush(to.sink, roll)
		return nil, nil, err
	case err != nil:
		return nil, nil, err
	case report.Left:
		return nil, nil, context.Canceled
	case len(at) == 0:
		return nil, nil, errors.New("tap: the clicks told no beat")
	}
	clicks, taps = onOneClock(roll, at, struck)
	return clicks, taps, nil
}

// collect notes when each beat was told and each tap came, until the take ends.
func collect(e *env, t take, pressed <-chan key, leave func()) (at map[int]time.Time, taps []time.Time) {
	at = map[int]time.Time{}
	beats := t.Beats()
	for {
		select {
		case i, more := <-beats:
			if !more {
				return at, taps
			}
			at[i] = e.now()
		case k := <-pressed:
			switch {
			case k.leaves():
				leave()
			case k.taps():
				taps = append(taps, k.at)
			}
		}
	}
}

// onOneClock puts clicks and taps on the take's clock as a screen has it: each beat is
// told a little late, now more, now less, so their median stands for all.
func onOneClock(roll *live.Roll, at map[int]time.Time, struck []time.Time) (clicks, taps []time.Duration) {
	var first time.Time
	for _, t := range at {
		if first.IsZero() || t.Before(first) {
			first = t
		}
	}
	var starts []time.Duration
	for i, t := range at {
		if i >= 0 && i < len(roll.Beats) {
			starts = append(starts, t.Sub(first)-roll.Beats[i].At)
		}
	}
	start, _ := medianOf(starts)
	for _, b := range roll.Beats {
		clicks = append(clicks, start+b.At)
	}
	for _, t := range struck {
		taps = append(taps, t.Sub(first))
	}
	return clicks, taps
}

// tapRoll is the clicks, a beat with each, and a little time after the last.
func tapRoll() (*live.Roll, error) {
	t := &timeline.Timeline{Tempos: []timeline.Tempo{{MicrosPerQuarter: int(tapPeriod.Microseconds())}}}
	for i := range tapsListened + tapsCounted {
		at := rhythm.Offset(0).Add(rhythm.Duration(i+1) * rhythm.Quarter)
		t.Events = append(t.Events,
			timeline.Event{At: at, Channel: timeline.DrumsChannel, Kind: timeline.NoteOn, A: timeline.ClickAccent, B: 100},
			timeline.Event{At: at.Add(rhythm.Sixteenth), Channel: timeline.DrumsChannel, Kind: timeline.NoteOff, A: timeline.ClickAccent})
		t.Beats = append(t.Beats, timeline.Beat{At: at, Measure: -1, Number: 1, Pass: 1, Beat: 1, Of: 1})
		t.End = at.Add(rhythm.Quarter)
	}
	return live.Prepare(t)
}
