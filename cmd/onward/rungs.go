package main

import (
	"fmt"
	"io"

	"onward/compose/figure"
	"onward/compose/ladder"

	"github.com/spf13/cobra"
)

// newRungs makes the verb that lists the ladder.
func newRungs(e *env) *cobra.Command {
	return newList(e, list{
		use: "rungs", short: "List the twelve rungs of the ladder and what each adds",
		example: "  onward rungs\n  onward rungs --json",
		items: func(*env) (any, error) {
			l, err := ladder.Default(figure.Default())
			if err != nil {
				return nil, err
			}
			return l.Rungs, nil
		},
		table: func(w io.Writer, items any) error {
			t := table{head: []string{"rung", "name", "adds"}}
			for _, r := range items.([]ladder.Rung) {
				t.add(fmt.Sprintf("%4d", r.Number), r.Name, r.Words)
			}
			return t.write(w)
		},
	})
}
