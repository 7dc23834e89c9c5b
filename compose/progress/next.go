package progress

import (
	"fmt"
	"math"

	"onward/compose/figure"
)

// Aimed is the share of measures that a read should leave right; Least and Most bound what
// is as good. 80 % right at an unbroken pulse counts as full marks in one state's judging
// guide (Michigan 2020), and who gets nearly all right could read more.
const (
	Aimed = 0.85
	Least = 0.80
	Most  = 0.90
)

// The tempo, in percent of the page's: paced reading is what training helps by (Mishra,
// meta-analyses of 92 studies, 2013-16), so the pulse stays and only its pace gives way.
const (
	slowest   = 70
	paceStep  = 5
	slowRung  = 85 // a rung that needs a slower tempo than this is too high
	stopSlows = 10 // percent slower after a stop
	stopRung  = 80 // who stops at this tempo or below, twice running, gets a lower rung
)

// How far the rung may go.
const (
	startRung  = 2
	found      = 0.15 // deviation of ability below which the level counts as found: more than a rung
	findTakes  = 4    // takes in which it is looked for in any case
	findRungs  = 3    // up at once while it is looked for
	cautionary = 1.0  // how much of what a pause made uncertain is taken off ability
)

// within is how the logarithms of the measures' loads lie about a read's mean load, by
// tenths: measured on 288 reads of both styles and all rungs (see testdata/reads.txt).
var within = []float64{-1.35, -0.64, -0.34, -0.14, -0.02, 0.08, 0.17, 0.27, 0.37, 0.58}

// margin reports how far, in logarithms, ability must lie above a read's load for the share
// of its measures to come out right.
func margin(share float64) float64 {
	low, high := -3.0, 3.0
	for range 40 {
		mid := (low + high) / 2
		if (normal{mean: mid}).overRead() < share {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// overRead reports the share of a read's measures that come out right, of the margin over
// its mean load.
func (n normal) overRead() float64 {
	sum := 0.0
	for _, w := range within {
		sum += normal{n.mean - w, n.variance}.right()
	}
	return sum / float64(len(within))
}

// ability is what is believed of the player for a read now: lower by what a pause has made
// uncertain, so that the first read after it is easier.
func (m *Model) ability(a *Ask, pressure []string, unknown float64, keys *figure.Family) normal {
	parts := m.parts(a.Style, pressure, unknown)
	if m.takes == 0 {
		r, _ := m.rungs.Rung(m.start(a))
		parts[0] = abilityPart(m.first(r))
	}
	if keys != nil {
		parts = append(parts, keysPart(*keys))
	}
	n, drift := m.guess(parts...), m.drift(a.Now)
	return normal{n.mean - cautionary*math.Sqrt(drift), n.variance + drift}
}

// start is the rung to start on.
func (m *Model) start(a *Ask) int {
	if a.Rung > 0 {
		return min(a.Rung, len(m.rungs.Rungs))
	}
	return startRung
}

// share is what the style bears of a rung's load.
func (a *Ask) share() float64 {
	if a.Share <= 0 {
		return 1
	}
	return a.Share
}

// expect reports the share of measures that come out right on a rung at a tempo.
func (m *Model) expect(a *Ask, p *Proposal) float64 {
	n := m.ability(a, p.Pressure, 1-p.Coverage, p.Key)
	load := m.rungs.Rungs[p.Rung-1].Aim * a.share() * float64(p.Percent) / 100
	return normal{n.mean - math.Log(load), n.variance}.overRead()
}

// highest is the highest rung on which the aimed share comes out right at a tempo.
func (m *Model) highest(a *Ask, percent int, coverage float64) int {
	for r := len(m.rungs.Rungs); r > 1; r-- {
		if m.expect(a, &Proposal{Rung: r, Percent: percent, Coverage: coverage}) >= Aimed {
			return r
		}
	}
	return 1
}

// Rung reports the rung on which the player would read Aimed of the measures right at the
// page's tempo, with fractions between the rungs and beyond the first and last, and how
// sure that is, as a standard deviation in rungs.
func (m *Model) Rung(a Ask) (at, deviation float64) {
	n := m.ability(&a, nil, 1-usualCoverage, nil)
	load := n.mean - margin(Aimed) - math.Log(a.share())
	rungs := m.rungs.Rungs
	i := 0
	for i < len(rungs)-2 && load > math.Log(rungs[i+1].Aim) {
		i++
	}
	step := math.Log(rungs[i+1].Aim / rungs[i].Aim)
	return float64(i+1) + (load-math.Log(rungs[i].Aim))/step, math.Sqrt(n.variance) / step
}

// Next proposes what to read next.
func (m *Model) Next(a Ask) Proposal {
	p := Proposal{Percent: 100, WeakKeys: m.weakKeys(), Wanted: m.wanted(&a)}
	m.fresh(&a, &p)
	m.choose(&a, &p)
	if p.Rung == 1 && len(a.Known) == 0 {
		p.Coverage, p.New = 0, 0
	}
	p.Expected = m.expect(&a, &p)
	p.Why = append(p.Why, fmt.Sprintf("About %.0f of 100 measures should come out right.", 100*p.Expected))
	return p
}

// choose settles rung, tempo, key and pressure.
func (m *Model) choose(a *Ask, p *Proposal) {
	if m.takes == 0 {
		p.Rung = m.start(a)
		p.Why = append(p.Why, fmt.Sprintf("Nothing is known of your reading yet: rung %d is a first guess, and the next takes will put it right.", p.Rung))
		return
	}
	s := m.standing(a.Style)
	last := &s.latest[len(s.latest)-1]
	at, why := m.moved(a, p.Coverage, s)
	p.Rung = at
	p.Why = append(p.Why, why)
	if m.at(a, p); last.stopped() && p.Rung >= last.Rung {
		m.afterStop(s, p)
	}
	if !last.stopped() && p.Percent == 100 {
		m.extras(s, p)
	}
	if p.Key != nil || p.Pressure != nil {
		m.at(a, p)
	}
}

// standing is where the player stands in the style, or else in the style of the latest take.
func (m *Model) standing(style string) *standing {
	if s := m.styles[style]; s != nil {
		return s
	}
	return m.styles[m.lastStyle]
}

// moved reports the rung from where the player stands, and why: up where the aimed share
// comes out right at full tempo, down only where a slower tempo does not do it.
func (m *Model) moved(a *Ask, coverage float64, s *standing) (int, string) {
	full, slow := m.highest(a, 100, coverage), m.highest(a, slowRung, coverage)
	last := s.latest[len(s.latest)-1].Rung
	low, high := last, last
	for _, t := range s.latest {
		low, high = min(low, t.Rung), max(high, t.Rung)
	}
	up := 1
	if m.finding(a) {
		up = findRungs
	}
	switch {
	case full > last:
		to := min(full, high+up)
		return to, fmt.Sprintf("You read rung %d well: rung %d should go, too.", last, to)
	case slow < last:
		to := max(slow, low-up)
		return to, fmt.Sprintf("Rung %d gave too much to take in: rung %d is within reach.", last, to)
	case full < last:
		return last, fmt.Sprintf("Rung %d again, a little slower than the page.", last)
	}
	return last, fmt.Sprintf("Rung %d suits you: stay a while.", last)
}

// finding reports whether the level is still looked for.
func (m *Model) finding(a *Ask) bool {
	return m.takes < findTakes || m.ability(a, nil, 0, nil).variance > found*found
}

// at settles the tempo: the fastest at which the aimed share comes out right.
func (m *Model) at(a *Ask, p *Proposal) {
	for p.Percent = 100; p.Percent > slowest && m.expect(a, p) < Aimed; p.Percent -= paceStep {
	}
}

// afterStop takes the tempo down before the rung.
func (m *Model) afterStop(s *standing, p *Proposal) {
	last := s.latest[len(s.latest)-1]
	p.Rung = last.Rung
	if n := len(s.latest); n > 1 && s.latest[n-2].stopped() && s.latest[n-2].Rung <= last.Rung && last.percent() <= stopRung && last.Rung > 1 {
		p.Rung = last.Rung - 1
		p.Percent = min(p.Percent, 100-stopSlows)
		p.Why = []string{fmt.Sprintf("You stopped twice, slow as it was: rung %d, and keep going whatever slips.", p.Rung)}
		return
	}
	p.Percent = max(min(p.Percent, last.percent()-stopSlows), slowest)
	p.Why = []string{fmt.Sprintf("You stopped in measure %d: the same rung, slower, and keep going whatever slips.", last.StoppedAt+1)}
}

// Tempo reports the tempo, in percent of the page's, for a read as it was composed, and the
// share of its measures that should come out right at it. It is slower than the proposal's
// where the page turned out harder than usual; what is faster would be no help.
func (m *Model) Tempo(a Ask, p Proposal, page []Measure) (percent int, expected float64) {
	for percent = p.Percent; ; percent -= paceStep {
		expected = m.expectPage(&a, &p, page, percent)
		if expected >= Least || percent <= slowest {
			return percent, expected
		}
	}
}

// expectPage is expect for a page as it stands.
func (m *Model) expectPage(a *Ask, p *Proposal, page []Measure, percent int) float64 {
	sum, all := 0.0, 0
	for i := range page {
		if page[i].Load <= 0 {
			continue
		}
		n := m.ability(a, p.Pressure, page[i].Unknown, &page[i].Key)
		for _, f := range kinds(page[i].Figures) {
			w := m.weakness(f)
			n.mean -= w.mean
			n.variance += w.variance
		}
		n.mean -= math.Log(page[i].Load * float64(percent) / 100)
		sum, all = sum+n.right(), all+1
	}
	if all == 0 {
		return 1
	}
	return sum / float64(all)
}
