package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"

	"gonum.org/v1/plot"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// A figure is a plot of the page, with the same in numbers.
type figure struct {
	Title, Words string
	Plot         template.HTML
	Head         []string
	Rows         [][]string
}

// WritePage writes the summary as an HTML page that needs nothing beside itself: no script,
// nothing from elsewhere, on light and dark ground and on paper.
func (s *Summary) WritePage(w io.Writer) error {
	figures, err := s.figures()
	if err != nil {
		return err
	}
	return pageTemplate.Execute(w, struct {
		*Summary
		Streaks, Playing, Rights, Proposed string
		Figures                            []figure
		Weak                               []weakTable
	}{s, s.streakWords(), s.playingWords(), s.rightWords(), s.Next.words(), figures,
		[]weakTable{newWeakTable("Weak figures", "figure", s.Figures), newWeakTable("Weak keys", "key, as written", s.Keys)}})
}

// figures makes the plots.
func (s *Summary) figures() (all []figure, err error) {
	for _, f := range []struct {
		figure
		plot func() (*plot.Plot, error)
	}{
		{figure{"Minutes a day", s.playingWords(), "", []string{"day", "minutes", "takes"}, s.dayRows()}, s.minutesPlot},
		{figure{"Measures right, take by take", s.rightWords(), "", []string{"style", "take of", "right", "measures"}, s.heardRows(shareRow)}, s.sharePlot},
		{figure{"Rungs", "The rung of each style's reads.", "", []string{"style", "from", "rung"}, s.rungRows()}, s.rungPlot},
		{figure{"Load read right", "The mean load of the measures that came out right, in figures a second, at the tempo of the take.", "",
			[]string{"style", "take of", "figures a second"}, s.heardRows(loadRow)}, s.loadPlot},
	} {
		if len(f.Rows) > 0 {
			p, err := f.plot()
			if err != nil {
				return nil, fmt.Errorf("%s: %w", f.Title, err)
			}
			if f.Plot, err = drawn(p, f.Title+". "+f.Words); err != nil {
				return nil, fmt.Errorf("%s: %w", f.Title, err)
			}
		}
		all = append(all, f.figure)
	}
	return all, nil
}

func (s *Summary) dayRows() (rows [][]string) {
	for _, w := range s.Weeks {
		for _, d := range w.Days {
			if d.Takes > 0 {
				rows = append(rows, []string{d.Date, fmt.Sprintf("%.0f", math.Ceil(d.Minutes)), fmt.Sprint(d.Takes)})
			}
		}
	}
	return rows
}

// heardRows has a row for each marked take of which row says something.
func (s *Summary) heardRows(row func(Heard) []string) (rows [][]string) {
	for i := range s.Styles {
		y := &s.Styles[i]
		for _, h := range y.Heard {
			if cells := row(h); cells != nil {
				rows = append(rows, append([]string{y.Name, h.At.Format("2006-01-02 15:04")}, cells...))
			}
		}
	}
	return rows
}

func shareRow(h Heard) []string {
	return []string{fmt.Sprintf("%.0f %%", h.Percent()), fmt.Sprintf("%d of %d", h.Right, h.Of)}
}

func loadRow(h Heard) []string {
	if h.Load == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%.2f", h.Load)}
}

func (s *Summary) rungRows() (rows [][]string) {
	for i := range s.Styles {
		for _, r := range s.Styles[i].Rungs {
			rows = append(rows, []string{s.Styles[i].Name, r.Date, fmt.Sprint(r.Rung)})
		}
	}
	return rows
}

// A weakTable lists weak things with a bar each.
type weakTable struct {
	Title, Of string
	Rows      []weakRow
}

type weakRow struct {
	Weak
	Width int // of the bar, in percent
}

func newWeakTable(title, of string, weak []Weak) weakTable {
	t := weakTable{Title: title, Of: of}
	for _, w := range weak {
		t.Rows = append(t.Rows, weakRow{w, int(math.Round(100 * float64(w.Slipped) / float64(w.Of)))})
	}
	return t
}
