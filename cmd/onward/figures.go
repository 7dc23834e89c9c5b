package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"onward/compose/figure"
	"onward/rhythm"

	"github.com/spf13/cobra"
)

// A figureItems is the catalogue as the list gives it.
type figureItems struct {
	Shapes []shapeItem `json:"shapes"`
	Cells  []cellItem  `json:"cells"`
}

// A shapeItem is a melodic shape; see figure.Shape.
type shapeItem struct {
	Name      string `json:"name"`
	Family    string `json:"family"`
	Moves     string `json:"moves"`
	Notes     int    `json:"notes"`
	LooksLike string `json:"looks_like,omitempty"`
	Level     int    `json:"level"`
	Words     string `json:"words"`
}

// A cellItem is a rhythm cell; see rhythm.Cell.
type cellItem struct {
	Name   string   `json:"name"`
	Text   string   `json:"text"`
	Meters []string `json:"meters"`
	Level  int      `json:"level"`
}

func newFigureItems(c *figure.Catalogue) figureItems {
	var f figureItems
	for i := range c.Shapes {
		s := &c.Shapes[i]
		var moves []string
		for _, m := range s.Moves {
			moves = append(moves, m.String())
		}
		f.Shapes = append(f.Shapes, shapeItem{s.Name, s.Family, strings.Join(moves, " "), s.Notes(), s.LooksLike, s.Level, s.Words})
	}
	for _, c := range c.Cells {
		f.Cells = append(f.Cells, cellItem{c.Name, rhythm.FormatCell(c.Events), c.Meters, c.Level})
	}
	return f
}

// newFigures makes the verb that lists the catalogue of figures, or how well those that
// were met are known.
func newFigures(e *env) *cobra.Command {
	var known bool
	cmd := newCatalogue(e)
	list := cmd.RunE
	cmd.RunE = func(_ *cobra.Command, args []string) error {
		if !known {
			return list(cmd, args)
		}
		path, err := cmd.Flags().GetString("journal")
		if err != nil {
			return err
		}
		items, err := knownItems(cmd.Context(), e, path)
		if err != nil {
			return err
		}
		slices.SortStableFunc(items, func(a, b knownItem) int { return cmp.Compare(b.Share, a.Share) })
		if asJSON, err := cmd.Flags().GetBool("json"); err != nil || asJSON {
			return errors.Join(err, writeJSON(e.out, items))
		}
		return writeKnown(e.out, items)
	}
	cmd.Flags().BoolVar(&known, "known", false, "list how well you know the figures that you learned and played")
	return cmd
}

// newCatalogue makes the list of the catalogue.
func newCatalogue(e *env) *cobra.Command {
	return newList(e, list{
		use: "figures", short: "List the melodic shapes and the rhythm cells that reads are made of",
		example: "  onward figures\n  onward figures --known\n  onward figures --json",
		items:   func(*env) (any, error) { return newFigureItems(figure.Default()), nil },
		table: func(w io.Writer, items any) error {
			f := items.(figureItems)
			shapes := table{head: []string{"level", "shape", "in words"}}
			for _, s := range f.Shapes {
				shapes.add(fmt.Sprintf("%5d", s.Level), s.Name, s.Words)
			}
			cells := table{head: []string{"level", "rhythm cell", "note values and meters"}}
			for _, c := range f.Cells {
				cells.add(fmt.Sprintf("%5d", c.Level), c.Name, c.Text+" in "+strings.Join(c.Meters, " "))
			}
			if err := shapes.write(w); err != nil {
				return err
			}
			if _, err := io.WriteString(w, "\n"); err != nil {
				return err
			}
			return cells.write(w)
		},
	})
}
