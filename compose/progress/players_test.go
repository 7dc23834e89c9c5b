package progress_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/progress"
)

// A player has a true skill that the model does not see.
type player struct {
	name    string
	style   string
	start   int                       // rung asked for at first
	rung    func(take int) float64    // on which Aimed of the measures come out right, by take
	slope   float64                   // how steeply fewer come out right with load
	weak    map[figure.Figure]float64 // how much more load some figures are
	keys    map[figure.Family]float64 // and some families of keys
	stops   float64                   // chance to stop after two slips in a row
	pauses  map[int]int               // days of pause before a take
	forgets float64                   // rungs lost in a pause of two weeks; come back in ten takes
}

// What no player of the simulation can help: the form of the day, in logarithms of load;
// measures marked wrongly; what unknown figures and pressures cost.
const (
	trueForm     = 0.06
	trueMarks    = 0.05
	trueUnknown  = 0.15
	truePressure = 0.08
)

// A hall is where players play: the real reads, and what each player finds of them right.
type hall struct {
	rungs  *ladder.Ladder
	table  *readTable
	byRung map[string][][]*realRead // by style; index 0 is rung 1
	pages  map[*realRead][]progress.Measure
}

// openHall reads the hall once.
var openHall = sync.OnceValue(func() *hall {
	l, err := ladder.Default(figure.Default())
	if err != nil {
		panic(err)
	}
	table, err := keptTable()
	if err != nil {
		panic(err)
	}
	h := &hall{rungs: l, table: table, byRung: map[string][][]*realRead{}, pages: map[*realRead][]progress.Measure{}}
	for style := range bears {
		h.byRung[style] = make([][]*realRead, len(h.rungs.Rungs))
	}
	for i := range h.table.Reads {
		r := &h.table.Reads[i]
		h.byRung[r.Style][r.Rung-1] = append(h.byRung[r.Style][r.Rung-1], r)
		h.pages[r] = h.table.page(r)
	}
	return h
})

// right is the chance that the player gets a measure right.
func (p *player) right(skill float64, m *progress.Measure, percent int, pressure []string) float64 {
	margin := skill - math.Log(m.Load*float64(percent)/100) - trueUnknown*m.Unknown - p.keys[m.Key] - truePressure*float64(len(pressure))
	seen := map[figure.Figure]bool{}
	for _, f := range m.Figures {
		if !seen[f] {
			margin -= p.weak[f]
		}
		seen[f] = true
	}
	return 1 / (1 + math.Exp(-margin/p.slope))
}

// share is the share of measures that the player gets right on average over the rung's
// reads, at the page's tempo.
func (h *hall) share(p *player, skill float64, rung int) float64 {
	sum, all := 0.0, 0.0
	for _, r := range h.byRung[p.style][rung-1] {
		for i := range h.pages[r] {
			if m := &h.pages[r][i]; m.Load > 0 {
				sum, all = sum+p.right(skill, m, 100, nil), all+1
			}
		}
	}
	return sum / all
}

// skills lists, by rung, the skill with which the player gets Aimed of its measures right.
func (h *hall) skills(p *player) []float64 {
	var out []float64
	for rung := 1; rung <= len(h.rungs.Rungs); rung++ {
		low, high := -3.0, 3.0
		for range 30 {
			mid := (low + high) / 2
			if h.share(p, mid, rung) < progress.Aimed {
				low = mid
			} else {
				high = mid
			}
		}
		out = append(out, low)
	}
	return smooth(out, h.rungs)
}

// smooth evens out that twelve reads of a rung are not all of them: what a rung and those
// beside it ask for beyond their aim is taken together.
func smooth(skills []float64, l *ladder.Ladder) []float64 {
	out := make([]float64, len(skills))
	for i := range out {
		sum, n := 0.0, 0.0
		for j := max(i-1, 0); j <= min(i+1, len(skills)-1); j++ {
			sum, n = sum+skills[j]-math.Log(l.Rungs[j].Aim), n+1
		}
		out[i] = math.Log(l.Rungs[i].Aim) + sum/n
	}
	return out
}

// at reports the skill of a rung with its fraction.
func at(skills []float64, rung float64) float64 {
	i := min(max(int(rung), 1), len(skills)-1)
	return skills[i-1] + (rung-float64(i))*(skills[i]-skills[i-1])
}

// A step is one take of a simulation.
type step struct {
	truth          float64 // the true rung
	rung, percent  int     // as proposed
	believed, sure float64 // the model's rung, and its deviation
	right          float64 // share of measures right in truth
	expected       float64
	wanted         []figure.Figure
	met            []figure.Figure // in the read as played
	weakKeys       []figure.Family
	family         figure.Family
	pressure       []string
	stopped        bool
}

// simulate lets the player play so many takes as proposed.
func (h *hall) simulate(p *player, seed uint64, takes int) []step {
	rng := rand.New(rand.NewPCG(seed, 7))
	skills := h.skills(p)
	m := progress.New(h.rungs)
	now := day0
	lost := 0.0
	var out []step
	for i := range takes {
		if i%2 == 0 { // two takes a day, on five or six days of a week
			now = now.Add(24 * time.Hour)
			if i%12 == 0 {
				now = now.Add(24 * time.Hour)
			}
		} else {
			now = now.Add(20 * time.Minute)
		}
		lost *= 0.8
		if days := p.pauses[i]; days > 0 {
			now, lost = now.AddDate(0, 0, days), p.forgets
		}
		truth := p.rung(i) - lost
		skill := at(skills, truth) + trueForm*rng.NormFloat64()
		ask := progress.Ask{Style: p.style, Share: bears[p.style], Now: now, Rung: p.start}
		prop := m.Next(ask)
		read := h.draw(rng, p.style, &prop)
		page := slices.Clone(h.pages[read])
		h.place(rng, page, &prop)
		percent, expected := m.Tempo(ask, prop, page)
		take := progress.Take{At: now, Style: p.style, Rung: prop.Rung, Percent: percent, Pressure: prop.Pressure, Measures: page, StoppedAt: -1, Marked: true}
		s := step{truth: truth, rung: prop.Rung, percent: percent, expected: expected, wanted: prop.Wanted, weakKeys: prop.WeakKeys,
			family: read.Keys, pressure: prop.Pressure}
		s.right = p.play(rng, skill, &take)
		s.stopped = take.StoppedAt >= 0
		for _, m := range page {
			s.met = append(s.met, m.Figures...)
		}
		s.believed, s.sure = m.Rung(ask)
		m.Add(take)
		out = append(out, s)
	}
	return out
}

// draw takes a read of the rung, in the family of keys asked for if there is one.
func (h *hall) draw(rng *rand.Rand, style string, p *progress.Proposal) *realRead {
	reads := h.byRung[style][p.Rung-1]
	if p.Key != nil {
		var in []*realRead
		for _, r := range reads {
			if r.Keys == *p.Key {
				in = append(in, r)
			}
		}
		if len(in) > 0 {
			reads = in
		}
	}
	return reads[rng.IntN(len(reads))]
}

// placed is the chance that the composer finds a place for a wanted figure.
const placed = 0.5

// place puts wanted figures into the page, each in the stead of another one.
func (h *hall) place(rng *rand.Rand, page []progress.Measure, p *progress.Proposal) {
	for _, f := range p.Wanted {
		m := &page[rng.IntN(len(page))]
		if len(m.Figures) == 0 || rng.Float64() >= placed {
			continue
		}
		m.Figures = slices.Clone(m.Figures)
		m.Figures[rng.IntN(len(m.Figures))] = f
	}
}

// play plays the take and marks it; it reports the share that was right in truth.
func (p *player) play(rng *rand.Rand, skill float64, t *progress.Take) float64 {
	right, all, running := 0, 0, 0
	for i := range t.Measures {
		m := &t.Measures[i]
		if m.Load <= 0 {
			continue
		}
		all++
		ok := rng.Float64() < p.right(skill, m, t.Percent, t.Pressure)
		if ok {
			right, running = right+1, 0
		} else {
			running++
		}
		if rng.Float64() < trueMarks {
			ok = !ok
		}
		m.Pitch, m.Rhythm = !ok && rng.IntN(2) == 0, !ok
		if running >= 2 && rng.Float64() < p.stops && t.StoppedAt < 0 {
			t.StoppedAt = i
			all += len(t.Measures) - 1 - i
			break
		}
	}
	return float64(right) / float64(all)
}

func steady(rung float64) func(int) float64 { return func(int) float64 { return rung } }

// The players of the simulation.
func beginner() *player {
	return &player{name: "beginner", style: "march", rung: func(i int) float64 { return 3 + 0.5*float64(i)/200 }, slope: 0.25, stops: 0.15}
}

func reader() *player {
	return &player{name: "reader", style: "march", rung: steady(9), slope: 0.25,
		keys: map[figure.Family]float64{{Signs: -1}: 0.35, {Signs: -2}: 0.35}}
}

func learner() *player {
	return &player{name: "learner", style: "lyrical", start: 4, slope: 0.25, pauses: map[int]int{60: 14, 120: 14}, forgets: 1,
		rung: func(i int) float64 { return 4 + 4*min(float64(i)/160, 1) }}
}

// weakened gives the player weak figures: of those that come often on the rungs, so many.
func (h *hall) weakened(p *player, low, high, count int, by float64) *player {
	times := map[figure.Figure]int{}
	for r := low; r <= high; r++ {
		for _, read := range h.byRung[p.style][r-1] {
			for _, m := range h.pages[read] {
				for _, f := range m.Figures {
					times[f]++
				}
			}
		}
	}
	var often []figure.Figure
	for f := range times {
		if f.Shape != "long note" {
			often = append(often, f)
		}
	}
	slices.SortFunc(often, func(a, b figure.Figure) int {
		return cmp.Or(times[b]-times[a], cmp.Compare(a.Shape, b.Shape), cmp.Compare(a.Cell, b.Cell))
	})
	p.weak = map[figure.Figure]float64{}
	for i := range count {
		p.weak[often[3+4*i]] = by // some of the often, some of the less often
	}
	return p
}
