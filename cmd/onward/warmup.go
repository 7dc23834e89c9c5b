package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"onward/compose/warmup"

	"github.com/spf13/cobra"
)

const usualMinutes = 10

// warmupOptions say what warm-up is asked for, and how it is told.
type warmupOptions struct {
	Minutes    int
	Key        string
	Instrument string
	Rung       int
	Figures    []string
	Day        string
	ByName     bool
	Written    bool
	Out        string
	Drone      bool
	Click      bool
	printOptions
	JSON    bool
	Journal string

	given func(flag string) bool
}

// newWarmup makes the verb that gives the day's warm-up. do is nil but in tests.
func newWarmup(e *env, journal *string, do func(*warmupOptions) error) *cobra.Command {
	var o warmupOptions
	cmd := &cobra.Command{
		Use:   "warmup",
		Short: "Give today's warm-up, in words or written out, never the same two days running",
		Long: `Warmup gives the warm-up of a day: scales, arpeggios, intervals, dominant sevenths
through the keys, and the figures that you drill, the least drilled first. Each day takes
the next key of your rung, in the order in which the rungs add them, and other patterns,
rhythms and articulations: no line of the last fourteen days comes again.

In words (--by-name) it is short, to be played from the head: letters of twice the size
go into the window. --written makes a page (MusicXML) and a MIDI file with a drone of
tonic and fifth, or with --click a click.

Your journal keeps each day's warm-up with all that made it, so --day gives it again as
it was, whatever you have learned since. Asking for the same day with another key,
instrument, length or figures makes another for that day.`,
		Example: `  onward warmup
  onward warmup --minutes 15 --key Eb --written --click
  onward warmup --figures warm-up --instrument trumpet
  onward warmup --day 2026-11-25 --written --out pages`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal, o.given = *journal, cmd.Flags().Changed
			if err := o.check(); err != nil {
				return err
			}
			if do != nil {
				return do(&o)
			}
			return runWarmup(cmd.Context(), e, &o)
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.Minutes, "minutes", usualMinutes, fmt.Sprintf("`N` minutes, %d to %d, rests counted", warmup.MinMinutes, warmup.MaxMinutes))
	f.StringVar(&o.Key, "key", "", "concert `KEY`: Bb, \"G minor\" (default: the next of your rung's)")
	f.StringVar(&o.Instrument, "instrument", "", "`ID` of your instrument (default: that of your last read, "+usualInstrument+" at first)")
	f.IntVar(&o.Rung, "rung", 0, fmt.Sprintf("rung `N` of the ladder, 1 to 12 (default: that of your last read, %d at first)", usualRung))
	f.StringArrayVar(&o.Figures, "figures", nil,
		"`FILE` of drilled exercises (MusicXML) or of a vocabulary (.toml), or the name of a saved one; may be repeated (default: all saved ones)")
	f.StringVar(&o.Day, "day", "", "`DATE` of the warm-up, as 2026-11-25 (default: today)")
	f.BoolVar(&o.ByName, "by-name", false, "tell it in few words, to be played from the head (this is the default)")
	f.BoolVar(&o.Written, "written", false, "write page and MIDI file, too")
	f.StringVar(&o.Out, "out", ".", "`FOLDER` for the files of --written; it is made where there is none")
	f.BoolVar(&o.Drone, "drone", false, "put a drone of tonic and fifth into the MIDI file (default unless --click is given)")
	f.BoolVar(&o.Click, "click", false, "put a click on every beat into the MIDI file")
	o.printFlags(cmd)
	f.BoolVar(&o.JSON, "json", false, "print the warm-up's document in place of words")
	completeSome(cmd, map[string]func() []string{"instrument": instrumentIDs, "rung": rungNumbers})
	return cmd
}

// completeSome tells the shell what values some flags take.
func completeSome(cmd *cobra.Command, flags map[string]func() []string) {
	for flag, list := range flags {
		err := cmd.RegisterFlagCompletionFunc(flag, func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return list(), cobra.ShellCompDirectiveNoFileComp
		})
		if err != nil {
			panic(err) // only a flag that is not there fails
		}
	}
}

// check refuses flags that say nothing or do not go together.
func (o *warmupOptions) check() error {
	switch {
	case o.given("minutes") && (o.Minutes < warmup.MinMinutes || o.Minutes > warmup.MaxMinutes):
		return askedf("--minutes %d: write %d to %d", o.Minutes, warmup.MinMinutes, warmup.MaxMinutes)
	case o.given("rung") && (o.Rung < 1 || o.Rung > 12):
		return askedf("--rung %d: write 1 to 12", o.Rung)
	case o.ByName && o.Written:
		return askedf("--by-name and --written: choose one; --written says the words, too")
	case !o.Written && (o.Drone || o.Click):
		return askedf("--drone and --click are for the MIDI file: add --written")
	case !o.Written && o.prints():
		return askedf("%s is of the page: add --written", o.flag())
	case !o.Written && o.given("out"):
		return askedf("--out is for the files: add --written")
	}
	if o.Day != "" {
		if _, err := time.Parse(time.DateOnly, o.Day); err != nil {
			return askedf("--day %q: write a date, as 2026-11-25", o.Day)
		}
	}
	return o.checkPaper(o.given)
}

// runWarmup finds or makes the day's warm-up, writes it if asked for, and tells it.
func runWarmup(ctx context.Context, e *env, o *warmupOptions) (err error) {
	if o.Day == "" {
		o.Day = e.now().Format(time.DateOnly)
	}
	paper, err := o.openPrinter(ctx, e)
	if err != nil {
		return err
	}
	if paper != nil {
		defer paper.Close()
	}
	j, err := e.openJournal(ctx, o.Journal)
	if err != nil {
		return err
	}
	defer func() {
		if shut := j.Close(); err == nil {
			err = shut
		}
	}()
	w := warmupBook{ctx: ctx, e: e, o: o, journal: j}
	day, fresh, err := w.open()
	if err != nil {
		return playersError(err)
	}
	doc := newWarmupDocument(o.Day, day)
	var f *files
	if o.Written {
		if f, err = o.draft(day, doc); err != nil {
			return err
		}
		if err := o.print(ctx, paper, []*files{f}); err != nil {
			f.discard()
			return err
		}
	}
	if fresh {
		if err := w.keep(day); err != nil {
			if f != nil {
				f.discard()
			}
			return err
		}
	}
	if f != nil {
		if err := f.place(); err != nil {
			return err
		}
	}
	return o.tell(e, day, doc, f)
}

// playersError marks what the player can ask otherwise.
func playersError(err error) error {
	var request *warmup.RequestError
	if errors.As(err, &request) {
		return asked(err, "")
	}
	return err
}

// tell says the warm-up in words or as a document.
func (o *warmupOptions) tell(e *env, day *warmup.Day, doc warmupDocument, f *files) error {
	if o.JSON {
		return writeJSON(e.out, doc)
	}
	text := warmupWords(doc.Date, day, e.terminal)
	if f != nil {
		text += fmt.Sprintf("written    %s (%s)\nagain      %s\n", f.path(pageSuffix), strings.Join(f.parts[1:], ", "),
			strings.Join(append([]string{"onward warmup --day", o.Day, "--written"}, o.printAgain()...), " "))
	}
	_, err := io.WriteString(e.out, text)
	return err
}
