package main

import (
	"io"
	"strings"

	"onward/styles"

	"github.com/spf13/cobra"
)

// newStyles makes the verb that lists the style sheets.
func newStyles(e *env) *cobra.Command {
	return newList(e, list{
		use: "styles", short: "List the styles, with their meters and forms",
		example: "  onward styles\n  onward styles --json",
		items: func(*env) (any, error) {
			all := []*styles.Sheet{}
			for _, name := range styles.Names() {
				s, err := styles.Shipped(name)
				if err != nil {
					return nil, err
				}
				all = append(all, s)
			}
			return all, nil
		},
		table: func(w io.Writer, items any) error {
			var b strings.Builder
			for i, s := range items.([]*styles.Sheet) {
				if i > 0 {
					b.WriteString("\n")
				}
				var meters []string
				for _, m := range s.Meters {
					meters = append(meters, m.Name)
				}
				field(&b, s.Name, s.Words)
				field(&b, "  meters", strings.Join(meters, ", "))
				for _, f := range s.Forms {
					field(&b, "  "+f.Name, f.Words)
				}
			}
			_, err := io.WriteString(w, b.String())
			return err
		},
	})
}
