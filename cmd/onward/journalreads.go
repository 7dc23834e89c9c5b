package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"onward/cmd/internal/journal"

	"github.com/spf13/cobra"
)

// A readItem is a read as the list gives it.
type readItem struct {
	ID         int64     `json:"id"`
	Made       time.Time `json:"made"`
	Title      string    `json:"title"`
	Style      string    `json:"style"`
	Rung       int       `json:"rung"` // 0 of a printed piece
	Instrument string    `json:"instrument"`
	Identity   string    `json:"identity"`
}

// newJournalReads makes the verb that lists the player's reads.
func newJournalReads(e *env, path *string) *cobra.Command {
	var limit int
	var inJSON bool
	cmd := &cobra.Command{
		Use:     "reads",
		Short:   "List your latest reads; `onward write --again N` makes one again",
		Example: "  onward journal reads\n  onward write --again 17",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if limit < 1 {
				return askedf("--limit %d: write 1 or more", limit)
			}
			return e.withJournal(cmd.Context(), *path, func(j *journal.Journal) error {
				reads, err := j.Reads(cmd.Context(), limit)
				switch {
				case err != nil:
					return err
				case inJSON:
					return writeJSON(e.out, readItems(reads))
				}
				return writeReads(e.out, readItems(reads))
			})
		},
	}
	cmd.Flags().IntVar(&limit, "limit", 20, "the latest `N`")
	cmd.Flags().BoolVar(&inJSON, "json", false, "print them as JSON")
	return cmd
}

func readItems(reads []journal.Read) []readItem {
	items := []readItem{}
	for _, r := range reads {
		items = append(items, readItem{r.ID, r.Made.UTC(), r.Title, r.Style, r.Rung, r.Instrument, r.Identity})
	}
	return items
}

// writeReads writes the list as a table, the latest first.
func writeReads(w io.Writer, items []readItem) error {
	if len(items) == 0 {
		_, err := io.WriteString(w, "no reads yet: `onward read` makes the first\n")
		return err
	}
	t := table{head: []string{"read", "made", "instrument", "rung", "title"}}
	for _, r := range items {
		rung := fmt.Sprintf("%4d", r.Rung)
		if r.Rung == 0 {
			rung = strings.Repeat(" ", 3) + "-"
		}
		t.add(fmt.Sprintf("%4d", r.ID), r.Made.Local().Format("2006-01-02 15:04"), r.Instrument, rung, r.Title)
	}
	return t.write(w)
}
