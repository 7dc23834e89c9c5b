package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"onward/cmd/internal/session"

	"github.com/spf13/cobra"
)

// newToday makes the verb that leads through the day's practice. do is nil but in tests.
func newToday(e *env, journal *string, do func(*readOptions, *dayPlan) error) *cobra.Command {
	var o readOptions
	var day dayPlan
	var printed bool
	cmd := &cobra.Command{
		Use:   "today",
		Short: "Practise for the day: warm-up, a drill of weak figures, two reads, rests between",
		Long: `Today plans the day from your journal: a warm-up, a drill of the two figures that you
know least, a lyrical read and a march on the rungs that suit you now, and rests about as
long as the playing. On a terminal each step starts with one key, and any of them can be
left out. --plan tells the plan alone.`,
		Example: `  onward today
  onward today --minutes 25 --instrument trumpet
  onward today --plan`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal, o.Count, o.Style, o.LookOver = *journal, 1, usualStyle, usualLookOver
			if day.minutes < leastDay || day.minutes > mostDay {
				return askedf("--minutes %d: write %d to %d", day.minutes, leastDay, mostDay)
			}
			if err := o.latencyOption.check(cmd); err != nil {
				return err
			}
			if err := o.checkBeside(); err != nil {
				return err
			}
			switch {
			case do != nil:
				return do(&o, &day)
			case e.room == nil || printed:
				return tellDay(cmd.Context(), e, &o, &day)
			}
			return runPractice(cmd.Context(), e, &o, &day)
		},
	}
	f := cmd.Flags()
	f.IntVar(&day.minutes, "minutes", usualDay, fmt.Sprintf("`N` minutes, %d to %d, rests counted", leastDay, mostDay))
	f.BoolVar(&printed, "plan", false, "tell the plan, and no more")
	f.StringVar(&o.Instrument, "instrument", "", "`ID` of your instrument (default: that of your last read, "+usualInstrument+" at first)")
	f.IntVar(&o.Rung, "rung", 0, "rung `N` to begin on where your journal is empty (default 2)")
	f.StringVar(&o.Out, "out", "reads", "`FOLDER` for the pages; it is made where there is none")
	f.StringVar(&o.Sound, "sound", usualSound, "`SOUND`: auto, builtin, the path of a sound font (.sf2), or off")
	f.StringVar(&o.Port, "port", "", "play on the MIDI port of this `NAME`, see onward ports; or raw:/path of a device")
	o.latencyOption.flag(cmd)
	o.besideFlags(cmd)
	completeSome(cmd, map[string]func() []string{"instrument": instrumentIDs, "rung": rungNumbers})
	return cmd
}

// tellDay prints the plan, with the commands that play it.
func tellDay(ctx context.Context, e *env, o *readOptions, day *dayPlan) error {
	p := &practice{e: e, o: o, day: day}
	offer, err := p.Offer(ctx)
	if err != nil {
		return err
	}
	var b strings.Builder
	total := 0
	for _, s := range offer.Plan {
		total += s.Minutes
	}
	fmt.Fprintf(&b, "%s, %d minutes:\n\n", e.now().Format("Monday 2 January"), total)
	for i, s := range offer.Plan {
		done := " "
		if s.Done {
			done = "x"
		}
		fmt.Fprintf(&b, "%2d %s %2d min  %-14s ", i+1, done, s.Minutes, s.Title)
		for k, line := range wrap(s.Why, lineWidth-27) {
			if k > 0 {
				fmt.Fprintf(&b, "%27s", "")
			}
			b.WriteString(line + "\n")
		}
		if c := stepCommand(&s); c != "" {
			fmt.Fprintf(&b, "%27s%s\n", "", c)
		}
	}
	for _, why := range offer.Why {
		for _, line := range wrap(why, lineWidth) {
			b.WriteString("\n" + line)
		}
	}
	b.WriteString("\n")
	_, err = e.out.Write([]byte(strings.TrimRight(b.String(), "\n") + "\n"))
	return err
}

// stepCommand is the command that does the step, "" where the plan alone does.
func stepCommand(s *session.Step) string {
	switch s.Kind {
	case session.WarmUp:
		return fmt.Sprintf("onward warmup --minutes %d", s.Minutes)
	case session.Read:
		c := fmt.Sprintf("onward read --style %s --rung %d", s.Style, s.Rung)
		if s.Percent < 100 {
			c += fmt.Sprintf(" --slower %d%%", s.Percent)
		}
		if len(s.Figures) > 0 {
			c += " --figures " + knownFigures
		}
		return c
	}
	return ""
}

// usualLookOver is how long a page is looked over: 30 s helps those who use it (Killian &
// Henry 2005, 198 singers).
const usualLookOver = 30 * time.Second
