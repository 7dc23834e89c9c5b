package room

import (
	"testing"
	"time"

	"onward/cmd/internal/session"
)

// BenchmarkTake is a beat of a take: find it, draw the screen.
func BenchmarkTake(b *testing.B) {
	for _, c := range []struct {
		name          string
		page          *session.Page
		pressure      []string
		width, height int
	}{
		{"80x24", march(), nil, 80, 24},
		{"120x40", march(), nil, 120, 40},
		{"cover", march(), []string{"cover"}, 80, 24},
		{"thousand-measures", long(session.Choice{}), nil, 80, 24},
		{"thousand-measures-cover", long(session.Choice{}), []string{"cover"}, 80, 24},
	} {
		b.Run(c.name, func(b *testing.B) {
			beats := beatsOf(c.page)
			var now time.Duration
			p := &frozen{state: session.State{Place: session.Take, Page: c.page, Take: &session.Running{Beats: beats}, Step: -1,
				Choice: session.Choice{Kind: session.Read, Pressure: c.pressure}}, clock: func() time.Duration { return now }}
			r := newRoom(p, nil, Options{Environ: []string{"LANG=C.UTF-8"}, Width: c.width, Height: c.height})
			bytes := 0
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				now = beats[6+i%(len(beats)-6)].At
				r.look()
				bytes = len(r.View())
			}
			b.ReportMetric(float64(bytes), "bytes/screen")
		})
	}
}
