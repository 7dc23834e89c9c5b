package synth

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A read as the program plays it, with its count-in.
type played struct {
	name  string
	style string
	t     *timeline.Timeline
}

// plays composes a read and arranges its band; even takes all dynamics off, so that it
// is mezzo forte throughout.
func plays(t testing.TB, style, form string, rung int, seed uint64, even bool) played {
	t.Helper()
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := styles.Shipped(style)
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("euphonium-tc")
	if err != nil {
		t.Fatal(err)
	}
	r, err := compose.Compose(&compose.World{Catalogue: cat, Ladder: l},
		compose.Request{Style: sheet, Rung: rung, Instrument: in, Seed: seed, Form: form})
	if err != nil {
		t.Fatal(err)
	}
	if even {
		for i := range r.Score.Parts[0].Measures {
			m := &r.Score.Parts[0].Measures[i]
			m.Dynamics, m.Hairpins = nil, nil
		}
		for i := range r.Sections {
			r.Sections[i].Dynamic, r.Sections[i].Again = "mf", ""
		}
	}
	tl, err := band.Arrange(r, band.Options{CountIn: timeline.FullCountIn(), Click: band.EveryBeat})
	if err != nil {
		t.Fatal(err)
	}
	return played{fmt.Sprintf("%s, %s, rung %d, seed %d", style, form, rung, seed), style, tl}
}

// frames renders a read from the start of its piece on, or with its count-in.
func frames(t testing.TB, p played, countIn bool) []float32 {
	t.Helper()
	e, err := newEngine(builtin(t), testRate, programsOf(p.t)...)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float32, 2*frameOf(p.t.Time(p.t.End)+time.Second, testRate))
	e.fill(out, &timed{events: p.t, rate: testRate})
	if !countIn {
		out = out[2*frameOf(p.t.Time(rhythm.Offset(p.t.CountIn)), testRate):]
	}
	return out
}

// manyReads are reads of both styles, all forms and many rungs.
func manyReads(t testing.TB, even bool) (all []played) {
	forms := map[string][]string{"march": {"march", "strain", "snippet"}, "lyrical": {"song", "strain", "snippet"}}
	seeds := uint64(1)
	if os.Getenv("ONWARD_LONG") != "" {
		seeds = 12
	}
	for seed := range seeds {
		for _, style := range []string{"march", "lyrical"} {
			for i, rung := range []int{2, 5, 8, 12} {
				all = append(all, plays(t, style, forms[style][i%3], rung, seed, even))
			}
		}
	}
	return all
}

// No read clips, and none leans on the limiter: over the knee lies three frames in
// a thousand at most.
func TestReadsNeverClip(t *testing.T) {
	for _, p := range manyReads(t, false) {
		var peak float64
		bent, all := 0, frames(t, p, true)
		for _, v := range all {
			a := math.Abs(float64(v))
			if peak = max(peak, a); a > knee {
				bent++
			}
		}
		if peak >= 1 {
			t.Errorf("%s: peak %g of full scale", p.name, peak)
		}
		if share := float64(bent) / float64(len(all)); share > 0.003 {
			t.Errorf("%s: %.2f %% of the sound meets the limiter, want 0.3 at most", p.name, 100*share)
		}
	}
}

// At the same dynamic marches and songs are about equally loud, so that a player sets
// the volume once, and modest: around the -23 LUFS of broadcasting (EBU R 128).
func TestReadsAreAboutAsLoud(t *testing.T) {
	mean := map[string]float64{}
	n := map[string]float64{}
	for _, p := range manyReads(t, true) {
		l := lufs(frames(t, p, false), testRate)
		t.Logf("%6.1f LUFS  %s", l, p.name)
		if l < -27 || l > -19 {
			t.Errorf("%s: %.1f LUFS at mezzo forte, want -27 to -19", p.name, l)
		}
		mean[p.style] += l
		n[p.style]++
	}
	march, song := mean["march"]/n["march"], mean["lyrical"]/n["lyrical"]
	t.Logf("marches %.1f, songs %.1f LUFS at mezzo forte", march, song)
	if math.Abs(march-song) > 2.5 {
		t.Errorf("marches are at %.1f LUFS, songs at %.1f: want within 2.5", march, song)
	}
}

// BenchmarkRenderRead is BenchmarkRenderMarch with whole reads, count-in and click.
func BenchmarkRenderRead(b *testing.B) {
	for _, c := range []struct{ style, form string }{{"march", "march"}, {"lyrical", "song"}} {
		b.Run(c.form, func(b *testing.B) { benchmarkRender(b, plays(b, c.style, c.form, 8, 11, false).t) })
	}
}
