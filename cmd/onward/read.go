package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"onward/midi/live"
	"onward/midi/synth"
	"onward/midi/timeline"

	"github.com/spf13/cobra"
)

// readOptions say what is asked of a read that is to be played.
type readOptions struct {
	requestOptions
	LookOver time.Duration
	Port     string
	latencyOption
	pieceOptions
	besideOptions
	Plain  bool // lines in place of the room
	direct bool // the flags say which read is wanted
}

// newRead makes the verb that gives the player a read and plays the band to it. do is
// nil but in tests.
func newRead(e *env, journal *string, do func(*readOptions) error) *cobra.Command {
	var o readOptions
	cmd := &cobra.Command{
		Use:   "read",
		Short: "Read at sight: a fresh page, time to look it over, and the band that does not stop",
		Long: `Read writes a piece that you have never seen, says where the page is, and gives you
time to look it over. Then come the tonic chord and the count-in, and the
band plays to the end, whatever you play. Ctrl-C leaves.

With --piece it plays the other parts of a printed piece that you bring, in place of a
fresh one; where there are none, a band to chords that it finds for your line.

Without a MIDI port the program makes the sound itself; with no sound device the take
runs in silence, in real time.`,
		Example: `  onward read --rung 3 --style march
  onward read --figures exercise.musicxml --look-over 45s
  onward read --port "Digital Piano" --guide
  onward read --seed 12345 --look-over 0 --click
  onward read --piece march.musicxml --part "1st Trombone"`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal = *journal
			if err := o.check(cmd); err != nil {
				return err
			}
			if do != nil {
				return do(&o)
			}
			if o.Piece != "" {
				return runPiece(cmd.Context(), e, &o)
			}
			if e.room != nil && !o.Plain && !o.JSON && o.Count == 1 {
				return runPractice(cmd.Context(), e, &o, nil)
			}
			return runRead(cmd.Context(), e, &o)
		},
	}
	o.flags(cmd, "reads")
	cmd.Flags().DurationVar(&o.LookOver, "look-over", usualLookOver, "`TIME` to look the page over before the count-in, such as 45s; 0 for none")
	cmd.Flags().StringVar(&o.Port, "port", "", "play on the MIDI port of this `NAME`, see onward ports; or raw:/path of a device")
	cmd.Flags().BoolVar(&o.Plain, "plain", false, "tell it in lines, not in a full screen")
	o.latencyOption.flag(cmd)
	o.takeFlags(cmd)
	o.pieceFlags(cmd)
	o.besideFlags(cmd)
	return cmd
}

func (o *readOptions) check(cmd *cobra.Command) error {
	if o.LookOver < 0 {
		return askedf("--look-over %v: write 30s, or 0 for none", o.LookOver)
	}
	if o.Cold {
		if cmd.Flags().Changed("look-over") && o.LookOver > 0 {
			return askedf("--cold and --look-over %v: choose one; --cold has no look-over", o.LookOver)
		}
		o.LookOver = 0
	}
	if err := o.latencyOption.check(cmd); err != nil {
		return err
	}
	if err := o.checkBeside(); err != nil {
		return err
	}
	if err := o.checkPiece(cmd); err != nil {
		return err
	}
	o.direct = slices.ContainsFunc(makesRead, cmd.Flags().Changed)
	return o.requestOptions.check(cmd)
}

// runRead makes the reads one by one and plays each.
func runRead(ctx context.Context, e *env, o *readOptions) (err error) {
	r, font, err := o.reading(ctx, e)
	if err != nil {
		return err
	}
	s, err := openStudio(ctx, e, &o.requestOptions)
	if err != nil {
		return err
	}
	defer func() {
		if shut := s.close(); err == nil {
			err = shut
		}
	}()
	r.studio = s
	if r.latency, err = o.latencyOption.of(ctx, s.journal, r.to); err != nil {
		return err
	}
	for i := range o.Count {
		if err := r.one(ctx, s.req.Seed+uint64(i), font); err != nil {
			return err
		}
	}
	return nil
}

// reading opens where the sound goes, and the font of a WAV file, nil for none.
func (o *readOptions) reading(ctx context.Context, e *env) (*reading, *synth.Font, error) {
	sink, err := sinkOf(o.Port, o.Sound)
	if err != nil {
		return nil, nil, err
	}
	to, err := e.sinks.try(sink)
	if err != nil {
		return nil, nil, asked(err, "")
	}
	font, err := o.font(ctx)
	if err != nil {
		return nil, nil, err
	}
	r := &reading{lookOver: o.LookOver, to: to, out: e.out}
	if o.JSON {
		r.out = e.err
	}
	if o.Port != "" {
		r.more = []string{"--port", quote(o.Port)}
	}
	return r, font, nil
}

// A reading is the player's way through the reads of one invocation.
type reading struct {
	*studio
	lookOver time.Duration
	to       found
	latency  latency
	out      io.Writer // where words go
	more     []string  // flags that read has of its own, to play this again
}

// one makes one read and leads the player through it.
func (r *reading) one(ctx context.Context, seed uint64, font *synth.Font) error {
	var roll *live.Roll
	m, draft, err := r.deliverOne(ctx, func() (m *made, draft *files, err error) {
		var band *timeline.Timeline
		if m, band, roll, err = r.prepare(ctx, seed, r.latency); err == nil {
			draft, err = r.o.draft(m, band, font)
		}
		return m, draft, err
	})
	if err != nil {
		return err
	}
	if r.o.JSON {
		if err := writeJSON(r.e.out, r.o.document(m)); err != nil {
			return err
		}
	}
	r.show(m, draft)
	if err := r.countDown(ctx); err != nil {
		return err
	}
	all := m.Score.Parts[0].Measures
	return r.take(ctx, m.id, all[len(all)-1].Number, roll, func(report live.Report) { r.after(m, roll, report) })
}

// show says what the read is, where its page lies, and where the sound goes.
func (r *reading) show(m *made, draft *files) {
	var b strings.Builder
	if r.o.Cold {
		headline(&b, m)
	} else {
		r.describe(&b, m)
	}
	field(&b, "page", draft.path(pageSuffix))
	r.showSound(&b)
	if r.lookOver > 0 {
		b.WriteString("\nLook it over:\n")
		for _, l := range lookOver(m, &r.o.takeOptions) {
			field(&b, l.word, l.text)
		}
		b.WriteString("\n")
	}
	io.WriteString(r.out, b.String())
}

// showSound says where the sound goes.
func (r *reading) showSound(b *strings.Builder) {
	if r.to.silent {
		field(b, "sound", "none: "+r.to.words+". The take runs in silence, in real time.")
	} else {
		field(b, "sound", r.to.words+r.latency.words)
	}
}

// take plays the band and follows it. id is the read's in the journal, of the number of its
// last measure; after says what there is to say at the end.
func (r *reading) take(ctx context.Context, id int64, of int, roll *live.Roll, after func(live.Report)) error {
	gone, stop := untilHangup(ctx) // a terminal that is closed does not stop the band
	defer stop()
	t, err := r.begin(ctx, id, roll, r.to.sink)
	if err != nil {
		if r.to.named {
			err = asked(err, "")
		}
		return err
	}
	last := r.follow(of, roll, t)
	report, err := t.Wait()
	if errors.Is(err, live.ErrHanging) {
		r.e.hush(r.to.sink, roll)
	}
	said, kept := t.keep(context.Background(), report, err)
	if said != "" {
		fmt.Fprintln(r.e.err, "onward: "+said)
	}
	switch {
	case err != nil:
		return err
	case report.Left:
		fmt.Fprintf(r.out, "left at %s; the band is silent\n", last)
		return errors.Join(context.Canceled, kept)
	}
	after(report)
	return errors.Join(gone.Err(), kept)
}
