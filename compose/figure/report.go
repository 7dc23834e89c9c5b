package figure

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
)

// WriteReport writes what the vocabulary holds for a reader: how many notes it
// explains, keys, meters, figures with the notes each explains, most first, and
// cells. It fails only where w does.
func (v Vocabulary) WriteReport(w io.Writer) error {
	if _, err := io.WriteString(w, v.report()); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// WriteReport writes what the lesson found: the vocabulary's report, and by how much the
// figures shorten what there is to remember. It fails only where w does.
func (l *Lesson) WriteReport(w io.Writer) error {
	text := l.report()
	if l.ByNote > 0 {
		text += fmt.Sprintf("\nlength  %.0f bits by figures, %.0f note by note (%s)\n",
			l.ByFigure, l.ByNote, percent(int(l.ByFigure), int(l.ByNote)))
	}
	if _, err := io.WriteString(w, text); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// report lays the vocabulary out as text.
func (v Vocabulary) report() string {
	var b strings.Builder
	fmt.Fprintf(&b, "notes   %d, of which %d lie in figures (%s)\n", v.Total, v.Explained, percent(v.Explained, v.Total))
	var keys, meters []string
	for _, k := range v.Keys {
		keys = append(keys, fmt.Sprintf("%s (%s)", k.Key, measures(k.Measures)))
	}
	for _, m := range v.Meters {
		meters = append(meters, fmt.Sprintf("%s (%s)", m.Meter, measures(m.Measures)))
	}
	fmt.Fprintf(&b, "keys    %s\n", strings.Join(keys, ", "))
	fmt.Fprintf(&b, "meters  %s\n", strings.Join(meters, ", "))
	b.WriteString("\nnotes  times  figure\n")
	inside := 0
	for _, e := range v.ByNotes() {
		if e.Count == 0 {
			inside++
			continue
		}
		fmt.Fprintf(&b, "%5d  %5d  %s, on %s\n", e.Notes, e.Count, e.Shape, e.Cell)
	}
	if inside > 0 {
		fmt.Fprintf(&b, "and %d more inside these or by another name\n", inside)
	}
	if len(v.Own) > 0 {
		b.WriteString("\nshapes of your own, which onward figures has not\n")
		for _, o := range v.Own {
			fmt.Fprintf(&b, "%s: %s\n", o.Name, o.Words())
		}
	}
	b.WriteString("\ntimes  rhythm\n")
	cells := slices.Clone(v.Cells)
	slices.SortStableFunc(cells, func(x, y CellCount) int { return cmp.Or(y.Count-x.Count, cmp.Compare(x.Cell, y.Cell)) })
	for _, c := range cells {
		fmt.Fprintf(&b, "%5d  %s\n", c.Count, c.Cell)
	}
	return b.String()
}

// ByNotes lists the figures, those that explain most notes first.
func (v Vocabulary) ByNotes() []Entry {
	all := slices.Clone(v.Figures)
	slices.SortStableFunc(all, func(x, y Entry) int {
		return cmp.Or(y.Notes-x.Notes, y.Count-x.Count, y.Within-x.Within)
	})
	return all
}

func measures(n int) string {
	if n == 1 {
		return "1 measure"
	}
	return fmt.Sprintf("%d measures", n)
}

// percent reports part of whole in percent with one decimal, rounded down, so that
// 100 is said only of all.
func percent(part, whole int) string {
	if whole == 0 {
		return "0 %"
	}
	tenths := 1000 * part / whole
	return fmt.Sprintf("%d.%d %%", tenths/10, tenths%10)
}
