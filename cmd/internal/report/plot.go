package report

import (
	"bytes"
	"fmt"
	"html/template"
	"image/color"
	"math"
	"regexp"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Colours stand for the page's own, which differ by ground: see themed.
var (
	ink  = color.RGBA{A: 255}
	grid = color.RGBA{R: 1, A: 255}
	band = color.RGBA{R: 2, A: 255}
)

// seriesShown is how many styles have a colour and shape of their own.
const seriesShown = 5

func series(i int) color.Color { return color.RGBA{R: 3, B: uint8(i % seriesShown), A: 255} }

// shapes tell series apart where colours do not.
var shapes = [seriesShown]draw.GlyphDrawer{
	draw.CircleGlyph{}, draw.BoxGlyph{}, draw.PyramidGlyph{}, draw.CrossGlyph{}, draw.PlusGlyph{},
}

// dashes likewise, for lines.
var dashes = [seriesShown][]vg.Length{nil, {6, 3}, {2, 2}, {8, 2, 2, 2}, {4, 4}}

const plotWidth, plotHeight = 620, 220 // points

// newPlot makes a plot over the summary's days, numbered from 0.
func (s *Summary) newPlot(y string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.Y.Label.Text = y
	for _, f := range []*draw.TextStyle{&p.X.Label.TextStyle, &p.Y.Label.TextStyle, &p.X.Tick.Label, &p.Y.Tick.Label, &p.Legend.TextStyle} {
		f.Font.Variant = "Sans"
		f.Font.Size = 10
	}
	p.Legend.Left, p.Legend.Padding = true, 2
	p.X.Min, p.X.Max = -0.5, float64(7*len(s.Weeks))-0.5
	p.X.Tick.Marker = plot.ConstantTicks(s.weekTicks())
	lines := plotter.NewGrid()
	lines.Vertical.Width = 0
	lines.Horizontal.Color = grid
	p.Add(lines)
	return p
}

// weekTicks are at Mondays, of many weeks not at each.
func (s *Summary) weekTicks() (ticks []plot.Tick) {
	const most = 9
	every := (len(s.Weeks) + most - 1) / most
	for i := 0; i < len(s.Weeks); i += every {
		ticks = append(ticks, plot.Tick{Value: float64(7 * i), Label: shortDay(s.Weeks[i].Days[0].Date)})
	}
	return ticks
}

// day is where a time lies on a plot's days.
func (s *Summary) day(t time.Time) float64 {
	first, _ := time.ParseInLocation(time.DateOnly, s.Weeks[0].Days[0].Date, s.Made.Location())
	return t.Sub(first).Hours()/24 - 0.5 // a day's bar stands about its number
}

// steady are ticks at whole steps from 0 to the top, about five.
func steady(top float64) plot.ConstantTicks {
	step := math.Pow(10, math.Floor(math.Log10(max(top, 1)/5)))
	for _, k := range []float64{1, 2, 5, 10} {
		if k*step >= top/5 {
			step *= k
			break
		}
	}
	var ticks plot.ConstantTicks
	for v := 0.0; v <= top+step/2; v += step {
		ticks = append(ticks, plot.Tick{Value: v, Label: fmt.Sprint(math.Round(v*100) / 100)})
	}
	return ticks
}

// minutesPlot has a bar for each day.
func (s *Summary) minutesPlot() (*plot.Plot, error) {
	p := s.newPlot("minutes")
	var values plotter.Values
	for _, w := range s.Weeks {
		for _, d := range w.Days {
			values = append(values, d.Minutes)
			p.Y.Max = max(p.Y.Max, math.Ceil(d.Minutes))
		}
	}
	chart, err := plotter.NewBarChart(values, vg.Points(0.7*(plotWidth-40)/float64(len(values))))
	if err != nil {
		return nil, err
	}
	chart.Color, chart.LineStyle.Width = series(0), 0
	p.Add(chart)
	p.Y.Min, p.Y.Tick.Marker = 0, steady(p.Y.Max)
	return p, nil
}

// sharePlot has a point for each marked take, by style, over the aim.
func (s *Summary) sharePlot() (*plot.Plot, error) {
	p := s.newPlot("% of measures right")
	left, right := -0.5, float64(len(s.order()))-0.5
	aim, err := plotter.NewPolygon(plotter.XYs{{X: left, Y: Aim[0]}, {X: right, Y: Aim[0]}, {X: right, Y: Aim[1]}, {X: left, Y: Aim[1]}})
	if err != nil {
		return nil, err
	}
	aim.Color, aim.LineStyle.Width = band, 0
	p.Add(aim)
	p.Legend.Add(fmt.Sprintf("aim, %.0f to %.0f %%", Aim[0], Aim[1]), aim)
	err = s.points(p, func(h Heard) float64 { return h.Percent() })
	p.Y.Min, p.Y.Max, p.Y.Tick.Marker = 0, 100, steady(100)
	return p, err
}

// loadPlot has a point for each marked take of which the load is known, by style.
func (s *Summary) loadPlot() (*plot.Plot, error) {
	p := s.newPlot("figures a second")
	top := 1.0
	err := s.points(p, func(h Heard) float64 {
		top = max(top, h.Load)
		return h.Load
	})
	p.Y.Min, p.Y.Max, p.Y.Tick.Marker = 0, 1.1*top, steady(top)
	return p, err
}

// points draws a value of each marked take, 0 for none, take by take, with a line through
// each style.
func (s *Summary) points(p *plot.Plot, value func(Heard) float64) error {
	order := s.order()
	p.X.Min, p.X.Max, p.X.Tick.Marker = -0.5, float64(len(order))-0.5, takeTicks(order)
	for i := range s.Styles {
		y := &s.Styles[i]
		var all plotter.XYs
		for _, h := range y.Heard {
			if v := value(h); v > 0 {
				at, _ := slices.BinarySearchFunc(order, h.At, time.Time.Compare)
				all = append(all, plotter.XY{X: float64(at), Y: v})
			}
		}
		if len(all) == 0 {
			continue
		}
		line, points, err := plotter.NewLinePoints(all)
		if err != nil {
			return err
		}
		line.Color, line.Width, line.Dashes = series(i), 1, dashes[i%seriesShown]
		points.Color, points.Shape, points.Radius = series(i), shapes[i%seriesShown], 3
		p.Add(line, points)
		p.Legend.Add(y.Name, line, points)
	}
	return nil
}

// order lists when the marked takes of all styles were, in order.
func (s *Summary) order() (all []time.Time) {
	for i := range s.Styles {
		for _, h := range s.Styles[i].Heard {
			all = append(all, h.At)
		}
	}
	slices.SortFunc(all, time.Time.Compare)
	return all
}

// takeTicks are at some takes, with their days.
func takeTicks(order []time.Time) (ticks plot.ConstantTicks) {
	const most = 8
	every := (len(order) + most - 1) / most
	for i := 0; i < len(order); i += every {
		ticks = append(ticks, plot.Tick{Value: float64(i), Label: order[i].Format("2 Jan")})
	}
	return ticks
}

// rungPlot has a staircase for each style.
func (s *Summary) rungPlot() (*plot.Plot, error) {
	p := s.newPlot("rung")
	top := 1
	for i := range s.Styles {
		y := &s.Styles[i]
		if len(y.Rungs) == 0 {
			continue
		}
		var all plotter.XYs
		for _, r := range y.Rungs {
			all = append(all, plotter.XY{X: s.day(r.At), Y: float64(r.Rung)})
			top = max(top, r.Rung)
		}
		last := all[len(all)-1]
		all = append(all, plotter.XY{X: max(s.day(s.Made), last.X+0.5), Y: last.Y}) // half a day at least, to be seen
		line, err := plotter.NewLine(all)
		if err != nil {
			return nil, err
		}
		line.StepStyle = plotter.PostStep
		line.Color, line.Width, line.Dashes = series(i), 2, dashes[i%seriesShown]
		p.Add(line)
		p.Legend.Add(y.Name, line)
	}
	p.Legend.Top = true // stairs go up
	p.Y.Min, p.Y.Max = 0, float64(top)+2
	var ticks plot.ConstantTicks
	for r := 1; r <= top; r++ {
		ticks = append(ticks, plot.Tick{Value: float64(r), Label: fmt.Sprint(r)})
	}
	p.Y.Tick.Marker = ticks
	return p, nil
}

var (
	opening  = regexp.MustCompile(`(?s)^.*?<svg[^>]*>\s*`) // with the declaration and comments before
	comments = regexp.MustCompile(`(?s)<!--.*?-->\s*`)
	fonts    = regexp.MustCompile(`font-family:[^;"]*;font-variant:[^;"]*;font-weight:[^;"]*;font-style:[^;"]*;?`)
	colours  = regexp.MustCompile(`#0([0-3])000([0-9])`)
)

// drawn is the plot as SVG that stands in a page: in the page's font, in colours of its
// ground, and named for those who do not see it.
func drawn(p *plot.Plot, name string) (template.HTML, error) {
	canvas := vgsvg.New(plotWidth, plotHeight)
	p.Draw(draw.New(canvas))
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return "", err
	}
	text := comments.ReplaceAllString(opening.ReplaceAllString(b.String(), ""), "")
	text = fonts.ReplaceAllString(text, "")
	text = colours.ReplaceAllStringFunc(text, themed)
	head := fmt.Sprintf(`<svg viewBox="0 0 %d %d" role="img" aria-label="%s">`, plotWidth, plotHeight, template.HTMLEscapeString(name))
	return template.HTML(head + "\n" + strings.TrimSpace(text)), nil
}

// themed is the page's colour for one of ours.
func themed(colour string) string {
	switch colour[:3] {
	case "#00":
		return "currentColor"
	case "#01":
		return "var(--grid)"
	case "#02":
		return "var(--band)"
	}
	return "var(--s" + colour[6:] + ")"
}
