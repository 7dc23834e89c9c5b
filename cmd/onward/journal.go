package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/report"
	"onward/compose/figure"

	"github.com/spf13/cobra"
)

// journalOptions say what is shown of the journal.
type journalOptions struct {
	Weeks   int
	HTML    string // the path of a page, "" for text
	JSON    bool
	Journal string
}

// newJournal makes the verb that shows the journal's weeks. do is nil but in tests.
func newJournal(e *env, path *string, do func(*journalOptions) error) *cobra.Command {
	var o journalOptions
	cmd := &cobra.Command{
		Use:   "journal",
		Short: "Look back: the weeks played, what came out right, the rungs, what is weak, what comes next",
		Long: `Journal shows the last weeks: a bar and the minutes of each day, how long you played and
rested, the share of measures that came out right, the rungs of each style, the figures
and keys that slip oftener than the rest, and what was proposed last.`,
		Example: `  onward journal
  onward journal --weeks 12 --html report.html
  onward journal export my.jsonl
  onward journal import my.jsonl --journal other.db`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.Journal = *path
			if err := o.check(); err != nil {
				return err
			}
			if do != nil {
				return do(&o)
			}
			return runJournal(cmd.Context(), e, &o)
		},
	}
	cmd.Flags().IntVar(&o.Weeks, "weeks", 4, "the last `N` weeks, 1 to 520")
	cmd.Flags().StringVar(&o.HTML, "html", "", "write a page with plots to `FILE` in place of text")
	cmd.Flags().BoolVar(&o.JSON, "json", false, "print it as JSON")
	cmd.AddCommand(newJournalReads(e, path), newJournalExport(e, path), newJournalImport(e, path))
	return cmd
}

func (o *journalOptions) check() error {
	switch {
	case o.Weeks < 1 || o.Weeks > 520:
		return askedf("--weeks %d: write 1 to 520", o.Weeks)
	case o.HTML != "" && o.JSON:
		return askedf("--html and --json: choose one")
	}
	return nil
}

// runJournal shows the journal's weeks.
func runJournal(ctx context.Context, e *env, o *journalOptions) error {
	var s *report.Summary
	err := e.withJournal(ctx, o.Journal, func(j *journal.Journal) (err error) {
		s, err = summarize(ctx, e, j, o.Weeks)
		return err
	})
	switch {
	case err != nil:
		return err
	case o.JSON:
		return writeJSON(e.out, s)
	case o.HTML != "":
		if err := writeWhole(o.HTML, s.WritePage); err != nil {
			return err
		}
		_, err := fmt.Fprintf(e.out, "%-*s%s\n", fieldWidth, "written", o.HTML)
		return err
	}
	return s.WriteText(e.out, report.Columns)
}

// summarize asks the journal for the last weeks.
func summarize(ctx context.Context, e *env, j *journal.Journal, weeks int) (*report.Summary, error) {
	past, err := j.History(ctx)
	if err != nil {
		return nil, err
	}
	takes := make([]report.Take, len(past))
	for i := range past {
		if takes[i], err = takeOf(&past[i], figure.Default()); err != nil {
			return nil, fmt.Errorf("take %d of the journal: %w", past[i].ID, err)
		}
	}
	q := report.Question{Player: j.Player(), Now: e.now(), Weeks: weeks}
	proposals, err := j.Proposals(ctx)
	if n := len(proposals); n > 0 {
		p := proposals[n-1]
		q.Next = &report.Next{Style: p.Style, Rung: p.Rung, Coverage: p.Coverage, New: p.New, Percent: p.Percent,
			Pressure: append([]string{}, p.Pressure...), Why: strings.FieldsFunc(p.Why, func(r rune) bool { return r == '\n' })}
	}
	return report.Summarize(takes, q), err
}

// newJournalExport makes the verb that writes the journal for other places.
func newJournalExport(e *env, path *string) *cobra.Command {
	return &cobra.Command{
		Use:     "export [FILE]",
		Short:   "Write the whole journal, all players', as lines of JSON",
		Example: "  onward journal export my.jsonl\n  onward journal export | gzip > my.jsonl.gz",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return e.withJournal(cmd.Context(), *path, func(j *journal.Journal) error {
				export := func(w io.Writer) error { return j.Export(cmd.Context(), w) }
				if len(args) == 0 {
					return export(e.out)
				}
				if err := writeWhole(args[0], export); err != nil {
					return err
				}
				_, err := fmt.Fprintf(e.out, "%-*s%s\n", fieldWidth, "written", args[0])
				return err
			})
		},
	}
}
