package compose_test

import (
	"math"
	"slices"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A graded read is one of a rung, with its load.
type graded struct {
	*compose.Read
	style string
	load  float64
	share float64 // of the rung's aim that the style bears in the meter
}

// gradedMade keeps the reads of gradedReads by form, for each seed those of all rungs and
// styles: the tests that are not run beside each other share them.
var gradedMade = map[string][]*compose.Read{}

// gradedReads makes so many reads of a form for each style and rung, by rung.
func gradedReads(t *testing.T, form string, count int) [13][]graded {
	t.Helper()
	in := instrument(t, "euphonium-tc")
	all, each := gradedMade[form], 12*len(styles.Names())
	var more []compose.Request
	for i := len(all); i < count*each; i++ {
		more = append(more, compose.Request{Style: sheet(t, styles.Names()[i%2]), Rung: 1 + i/2%12, Instrument: in, Form: form, Seed: uint64(i / each)})
	}
	all = append(all, composed(t, world(t), more)...)
	gradedMade[form] = all
	var out [13][]graded
	for _, r := range all[:count*each] {
		out[r.Rung] = append(out[r.Rung], graded{r, r.Style.Name, r.Mean(), shareOf(r.Style, r.Meter)})
	}
	return out
}

// shareOf reports how much a read of the style bears in a meter against its rung's aim.
func shareOf(s *styles.Sheet, m rhythm.Meter) float64 {
	share := 1.0
	if s.Load != 0 {
		share = s.Load
	}
	for i := range s.Meters {
		if own := s.Meters[i].Load; s.Meters[i].Name == m.String() && own != 0 {
			share *= own
		}
	}
	return share
}

func instrument(t *testing.T, id string) theory.Instrument {
	t.Helper()
	in, err := theory.InstrumentByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// Rungs are as hard as they say: load rises with the rung, and the reads of one rung and style
// (the middle 80 in 100) lie closer together than the medians of it and the next but one. Against
// each other styles and meters bear different shares, as real tunes have fewer notes a second
// where the beat is slow; loads are compared by these shares. With ONWARD_LONG=1 over 2,016 reads.
func TestLoadRisesWithTheRung(t *testing.T) {
	form, count := "snippet", 10
	if long() {
		form, count = "strain", 84
	}
	all := gradedReads(t, form, count)
	w := world(t)
	var rungs, loads, difficulties []float64
	medians, spreads := map[string]*[13]float64{}, map[string]*[13]float64{}
	inBand := 0
	for rung := 1; rung <= 12; rung++ {
		var own []float64
		r := w.Ladder.Rungs[rung-1]
		for _, g := range all[rung] {
			own, rungs = append(own, g.load/g.share), append(rungs, float64(rung))
			difficulties = append(difficulties, g.Difficulty()/g.share)
			if own := g.load / g.share; own >= r.Load[0]-0.01 && own <= r.Load[1]+0.01 {
				inBand++
			}
		}
		loads = append(loads, own...)
		t.Logf("rung %2d: aim %.2f, load %.2f %.2f %.2f (p10, median, p90)", rung, r.Aim, quantile(own, 0.1), quantile(own, 0.5), quantile(own, 0.9))
		for _, name := range styles.Names() {
			if rung == 1 {
				medians[name], spreads[name] = &[13]float64{}, &[13]float64{}
			}
			var alone []float64
			for _, g := range all[rung] {
				if g.style == name {
					alone = append(alone, g.load/g.share)
				}
			}
			medians[name][rung], spreads[name][rung] = quantile(alone, 0.5), quantile(alone, 0.9)-quantile(alone, 0.1)
		}
	}
	most := 1.0
	if !long() { // few reads tell a spread roughly
		most = 1.15
	}
	for _, name := range styles.Names() {
		for rung := 1; rung <= 10; rung++ {
			if step := medians[name][rung+2] - medians[name][rung]; spreads[name][rung] >= most*step {
				t.Errorf("%s rung %d: loads spread over %.2f, want less than the %.2f to rung %d", name, rung, spreads[name][rung], step, rung+2)
			}
		}
	}
	for name, values := range map[string][]float64{"load": loads, "difficulty": difficulties} {
		rho := spearman(rungs, values)
		t.Logf("Spearman (rung, %s) %.3f over %d reads", name, rho, len(values))
		if rho < 0.95 {
			t.Errorf("rung and %s correlate by %.3f (Spearman) over %d reads, want 0.95", name, rho, len(values))
		}
	}
	for _, name := range styles.Names() {
		var at, of []float64
		for rung, reads := range all {
			for _, g := range reads {
				if g.style == name {
					at, of = append(at, float64(rung)), append(of, g.load/g.share)
				}
			}
		}
		rho := spearman(at, of)
		t.Logf("%s: Spearman (rung, load) %.3f over %d reads", name, rho, len(of))
		if rho < 0.98 {
			t.Errorf("%s: rung and load correlate by %.3f (Spearman) over %d reads, want 0.98", name, rho, len(of))
		}
	}
	if 100*inBand < 95*len(loads) {
		t.Errorf("%d of %d reads lie in the load band of their rung, want 95 in 100", inBand, len(loads))
	}
}

// Each style bears what its sheet says against the rung's aim.
func TestStylesAreAsHard(t *testing.T) {
	all := gradedReads(t, "snippet", reads(216)/12)
	for rung := 1; rung <= 12; rung++ {
		by := map[string][]float64{}
		for _, g := range all[rung] {
			by[g.style] = append(by[g.style], g.load/g.share)
		}
		march, song := quantile(by["march"], 0.5), quantile(by["lyrical"], 0.5)
		if math.Abs(math.Log(march/song)) > 0.1 {
			t.Errorf("rung %d: a march bears %.2f figures a second, a song %.2f", rung, march, song)
		}
	}
}

// Tempos stay what the styles' players know: a march from rung 5 on in concert tempo, 96 to
// 126 beats a minute (textbooks give 110-120; a tenth either way at most); a song
// at most 108 quarters, Andante (published lists), and not under 36 beats.
func TestTemposAreTheStyles(t *testing.T) {
	looked := 0
	for rung, all := range gradedReads(t, "snippet", reads(72)/12) {
		for _, g := range all {
			looked++
			low, high := 36, 108*int(rhythm.Quarter)/int(g.Meter.Beat())
			if g.style == "march" && rung >= 5 {
				low, high = 96, 126
			}
			if g.Tempo < low || g.Tempo > high {
				t.Errorf("%s: %s at %d beats a minute, want %d to %d", g.Identity, g.Meter, g.Tempo, low, high)
			}
		}
	}
	if looked < 24 {
		t.Errorf("only %d reads looked at", looked)
	}
}

// A tempo that is asked for stays, and the page is the one that the seed has anyway.
func TestATempoAskedForStays(t *testing.T) {
	w := world(t)
	req := compose.Request{Style: sheet(t, "march"), Rung: 7, Instrument: instrument(t, "trumpet"), Form: "snippet", Seed: 4}
	free, err := compose.Compose(w, req)
	if err != nil {
		t.Fatal(err)
	}
	req.Tempo = 66
	slow, err := compose.Compose(w, req)
	if err != nil {
		t.Fatal(err)
	}
	if slow.Tempo != 66 || slow.Score.Parts[0].Measures[0].Tempo.BPM != 66 {
		t.Errorf("tempo %d, on the page %d, want 66", slow.Tempo, slow.Score.Parts[0].Measures[0].Tempo.BPM)
	}
	if got, want := slow.Mean()*float64(free.Tempo), free.Mean()*66; math.Abs(got-want) > 0.02*want {
		t.Errorf("load %.2f at 66, %.2f at %d: not in proportion", slow.Mean(), free.Mean(), free.Tempo)
	}
	for i, m := range slow.Score.Parts[0].Measures {
		if !samePitches(m, free.Score.Parts[0].Measures[i]) {
			t.Errorf("measure %d differs from the page without a tempo asked for", m.Number)
		}
	}
}

func samePitches(a, b score.Measure) bool {
	return slices.EqualFunc(a.Notes, b.Notes, func(x, y score.Note) bool { return x.At == y.At && x.Pitch == y.Pitch && x.Value == y.Value })
}

// A snippet shows what its rung adds: at least one thing in 85 of 100.
func TestSnippetsShowWhatTheirRungAdds(t *testing.T) {
	shown, looked := 0, 0
	for _, all := range gradedReads(t, "snippet", reads(144)/12) {
		for _, g := range all {
			looked++
			if len(g.Fresh) > 0 {
				shown++
			}
		}
	}
	t.Logf("%d of %d", shown, looked)
	if 100*shown < 85*looked {
		t.Errorf("%d of %d snippets show a thing of their rung, want 85 in 100", shown, looked)
	}
}

// A read's page, looked at as any other part, stands where its load does: a march that bears what
// its rung aims at near its rung, one or a song that bears less lower, never higher by more than
// the catalogue's ignorance of what the rung brings new.
func TestReadsAreRatedByTheirRung(t *testing.T) {
	w := world(t)
	in := instrument(t, "euphonium-tc")
	beside, full := 0, 0
	for rung, all := range gradedReads(t, "strain", reads(48)/12) {
		for _, g := range all {
			got := w.Ladder.Rate(&g.Score.Parts[0], &in, w.Catalogue, nil)
			if got.Rung > rung+2 {
				t.Errorf("%s: rated %d", g.Identity, got.Rung)
			}
			if g.share < 0.95 {
				continue
			}
			full++
			if got.Rung >= rung-1 && got.Rung <= rung+1 {
				beside++
			}
			if got.Rung < rung-3 {
				t.Errorf("%s: rated %d", g.Identity, got.Rung)
			}
		}
	}
	if full < 5 || 100*beside < 75*full {
		t.Errorf("%d of %d reads that bear their rung's load are rated within a rung of their own, want 75 in 100 of 5 or more", beside, full)
	}
}

// quantile reports the value below which that share of the values lies, 0 to 1.
func quantile(values []float64, share float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	return sorted[int(math.Round(share*float64(len(sorted)-1)))]
}

// spearman reports Spearman's rank correlation, ties sharing their ranks.
func spearman(a, b []float64) float64 {
	x, y := ranks(a), ranks(b)
	mean := float64(len(a)-1) / 2
	var xy, xx, yy float64
	for i := range x {
		xy += (x[i] - mean) * (y[i] - mean)
		xx += (x[i] - mean) * (x[i] - mean)
		yy += (y[i] - mean) * (y[i] - mean)
	}
	return xy / math.Sqrt(xx*yy)
}

func ranks(values []float64) []float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		switch {
		case values[i] < values[j]:
			return -1
		case values[i] > values[j]:
			return 1
		}
		return 0
	})
	out := make([]float64, len(values))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for k := i; k < j; k++ {
			out[order[k]] = float64(i+j-1) / 2
		}
		i = j
	}
	return out
}
