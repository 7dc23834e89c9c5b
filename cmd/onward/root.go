package main

import (
	"fmt"
	"regexp"
	"runtime/debug"
	"strings"

	"onward/compose"

	"github.com/spf13/cobra"
)

// newRoot makes the whole command. begun turns true when an invocation was understood
// and its verb begins: an error before that is the player's.
func newRoot(e *env) (root *cobra.Command, begun *bool) {
	begun = new(bool)
	root = &cobra.Command{
		Use:   "onward",
		Short: "Read better at sight: fresh pieces made of what you drill, and a band that never stops",
		Long: `Onward writes pieces that you have never seen, made of the figures that you drill,
and plays the band to them. The band does not stop, whatever you play: keep going,
and look at what slipped afterwards.`,
		Example: `  # sight-read a march on rung 3, with the band
  onward read --rung 3 --style march

  # drill an exercise, then read something made of its figures
  onward learn exercise.musicxml --save warm-up
  onward read --figures warm-up --instrument trumpet

  # write ten pages for later
  onward write --style lyrical --rung 5 --count 10 --out pages`,
		Version:           version(),
		SilenceErrors:     true,
		SilenceUsage:      true,
		DisableAutoGenTag: true,
		PersistentPreRunE: func(cmd *cobra.Command, args []string) error {
			*begun = true
			return checkGiven(cmd, args)
		},
	}
	root.SetIn(e.in)
	root.SetOut(e.out)
	root.SetErr(e.err)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return plainFlagError(err) })
	var journal string
	root.PersistentFlags().StringVar(&journal, "journal", "",
		"keep the record of reads, takes and saved figures in `FILE` (default: in your data folder)")
	root.PersistentFlags().StringVar(&e.player, "player", "",
		"`NAME` of the player, where several share a journal (default: who has no name, else who played last)")
	root.AddCommand(
		newRead(e, &journal, nil), newWrite(e, &journal, nil), newLearn(e, &journal, nil), newSurvey(e, &journal, nil),
		newStyles(e), newRungs(e), newInstruments(e), newFigures(e), newPorts(e), newTap(e, &journal, nil), newWarmup(e, &journal, nil), newToday(e, &journal, nil), newStand(e, &journal, nil), newJournal(e, &journal, nil), newTake(e),
	)
	return root, begun
}

// flagError is how the flag library tells a value that it cannot read.
var flagError = regexp.MustCompile(`^invalid argument "(.*)" for "(?:-., )?(--[a-z-]+)" flag: (.*)$`)

// plainFlagError says what a flag wants, in place of the library's words for why it
// cannot read what it got.
func plainFlagError(err error) error {
	m := flagError.FindStringSubmatch(err.Error())
	if m == nil {
		return err
	}
	want := "write a whole number"
	switch {
	case strings.HasPrefix(m[3], "write "): // a flag of ours, which says it itself
		want = m[3]
	case strings.Contains(m[3], "unit") || strings.Contains(m[3], "duration"):
		want = "write seconds or minutes with their letter, such as 30s or 1m"
	case m[2] == "--seed":
		want = "write a whole number, 0 or more"
	case strings.Contains(m[3], "Bool"):
		want = "write true or false, or the flag alone"
	}
	return fmt.Errorf("%s %q: %s", m[2], m[1], want)
}

// version says which program this is: its build, and the generator's version, which
// stands in every read's identity.
func version() string {
	build := "unknown build"
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		build = info.Main.Version
	}
	return fmt.Sprintf("%s, generator %d", build, compose.Version)
}
