package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// A list is a verb that lists what there is.
type list struct {
	use, short, example string
	// items reports the list for --json, and writes it for people.
	items func(e *env) (any, error)
	table func(w io.Writer, items any) error
}

// newList makes the verb of a list.
func newList(e *env, l list) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use: l.use, Short: l.short, Example: l.example,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			items, err := l.items(e)
			if err != nil {
				return err
			}
			if asJSON {
				return writeJSON(e.out, items)
			}
			return l.table(e.out, items)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the list as JSON")
	return cmd
}

// A table is rows of columns; the last column is broken into lines.
type table struct {
	head []string
	rows [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// write writes the table, lineWidth wide.
func (t *table) write(w io.Writer) error {
	last := len(t.head) - 1
	widths := make([]int, last)
	for _, row := range append([][]string{t.head}, t.rows...) {
		for i := range widths {
			widths[i] = max(widths[i], len([]rune(row[i])))
		}
	}
	margin := 0
	for _, n := range widths {
		margin += n + 2
	}
	var b strings.Builder
	for _, row := range append([][]string{t.head}, t.rows...) {
		for i, n := range widths {
			fmt.Fprintf(&b, "%-*s  ", n, row[i])
		}
		for i, line := range wrap(row[last], lineWidth-margin) {
			if i > 0 {
				b.WriteString(strings.Repeat(" ", margin))
			}
			b.WriteString(line + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap breaks a text into lines of a width; a longer word stays whole. There is always
// a line.
func wrap(text string, width int) []string {
	lines := []string{""}
	for _, word := range strings.Fields(text) {
		line := &lines[len(lines)-1]
		switch {
		case *line == "":
			*line = word
		case len([]rune(*line))+1+len([]rune(word)) > width:
			lines = append(lines, word)
		default:
			*line += " " + word
		}
	}
	return lines
}
