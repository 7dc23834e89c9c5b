package progress_test

import (
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
)

// TestSimulationPlots draws the simulations, for whoever wants to look: with
// ONWARD_PLOTS=DIR, a PNG for each player.
func TestSimulationPlots(t *testing.T) {
	dir := os.Getenv("ONWARD_PLOTS")
	if dir == "" {
		t.Skip("ONWARD_PLOTS=DIR draws the simulations into DIR")
	}
	for name, sim := range simulations() {
		draw(t, filepath.Join(dir, name+"-rung.png"), name+": rung proposed, believed, and true", 0, 16, []curve{
			{"truth", sim.middle(0.5, func(s step) float64 { return s.truth }), color.Black},
			{"proposed, median", sim.middle(0.5, func(s step) float64 { return float64(s.rung) }), color.RGBA{R: 200, A: 255}},
			{"10 in 100", sim.middle(0.1, func(s step) float64 { return float64(s.rung) }), color.RGBA{R: 240, G: 160, B: 160, A: 255}},
			{"90 in 100", sim.middle(0.9, func(s step) float64 { return float64(s.rung) }), color.RGBA{R: 240, G: 160, B: 160, A: 255}},
			{"believed, median", sim.middle(0.5, func(s step) float64 { return s.believed }), color.RGBA{B: 200, A: 255}},
		})
		draw(t, filepath.Join(dir, name+"-right.png"), name+": measures right and tempo, mean over seeds and ten takes", 0.6, 1.05, []curve{
			{"right", smoothed(sim.mean(func(s step) float64 { return s.right })), color.RGBA{G: 150, A: 255}},
			{"expected", smoothed(sim.mean(func(s step) float64 { return s.expected })), color.RGBA{G: 150, B: 150, A: 255}},
			{"tempo", smoothed(sim.mean(func(s step) float64 { return float64(s.percent) / 100 })), color.RGBA{R: 200, G: 120, A: 255}},
			{"80 %", sim.mean(func(step) float64 { return 0.8 }), color.Gray{Y: 180}},
			{"90 %", sim.mean(func(step) float64 { return 0.9 }), color.Gray{Y: 180}},
		})
	}
}

// middle is the quantile of a value over the seeds, by take.
func (sim simulation) middle(q float64, of func(step) float64) []float64 {
	var out []float64
	for i := range sim.runs[0] {
		var all []float64
		for _, run := range sim.runs {
			all = append(all, of(run[i]))
		}
		slices.Sort(all)
		out = append(out, all[int(q*float64(len(all)-1)+0.5)])
	}
	return out
}

// mean is the mean of a value over the seeds, by take.
func (sim simulation) mean(of func(step) float64) []float64 {
	out := make([]float64, len(sim.runs[0]))
	for _, run := range sim.runs {
		for i, s := range run {
			out[i] += of(s) / float64(len(sim.runs))
		}
	}
	return out
}

// smoothed is the mean of ten values about each.
func smoothed(values []float64) []float64 {
	var out []float64
	for i := range values {
		sum, n := 0.0, 0.0
		for _, v := range values[max(i-5, 0):min(i+5, len(values))] {
			sum, n = sum+v, n+1
		}
		out = append(out, sum/n)
	}
	return out
}

type curve struct {
	name   string
	values []float64
	color  color.Color
}

func draw(t *testing.T, file, title string, low, high float64, curves []curve) {
	t.Helper()
	p := plot.New()
	p.Title.Text, p.X.Label.Text = title, "take"
	p.Y.Min, p.Y.Max = low, high
	p.Legend.Top, p.Legend.Left = true, true
	for _, c := range curves {
		var points plotter.XYs
		for i, v := range c.values {
			points = append(points, plotter.XY{X: float64(i + 1), Y: math.Min(math.Max(v, low), high)})
		}
		line, err := plotter.NewLine(points)
		if err != nil {
			t.Fatal(err)
		}
		line.Color, line.Width = c.color, vg.Points(1.5)
		p.Add(line)
		p.Legend.Add(c.name, line)
	}
	p.Y.Min, p.Y.Max = low, high
	if err := p.Save(20*vg.Centimeter, 10*vg.Centimeter, file); err != nil {
		t.Fatal(err)
	}
}
