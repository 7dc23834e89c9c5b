package progress

import (
	"fmt"
	"math"
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
	fastRung  = 97 // who can read the next rung at this tempo may go up
	slowRung  = 92 // a rung that needs a slower tempo than this is too high
	stopSlows = 10 // percent slower after a stop
	stopRung  = 80 // who stops at this tempo or below, twice running, gets a lower rung
)

// How far the rung may go.
const (
	startRung  = 2
	found      = 0.12 // deviation of ability below which the level counts as found: more than a rung
	findTakes  = 4    // takes in which it is looked for in any case
	findUntil  = 15   // and after which it is not
	findRungs  = 3    // up at once while it is looked for
	cautionary = 1.0  // how much of what a pause made uncertain is taken off ability
	few        = 0.5  // fewer right measures than this are not worth a number
)

// Rung reports the rung on which the player would read Aimed of the measures right at the
// page's tempo, with fractions between the rungs and beyond the first and last, and how
// sure that is, as a standard deviation in rungs.
func (m *Model) Rung(ask Ask) (at, deviation float64) {
	a := m.asked(ask)
	n := a.reading(usualCoverage, nil, nil)
	load := n.mean - margin(Aimed, a.measures)
	rungs := m.rungs.Rungs
	i := 0
	for i < len(rungs)-2 && load > math.Log(rungs[i+1].Aim) {
		i++
	}
	step := math.Log(rungs[i+1].Aim / rungs[i].Aim)
	return float64(i+1) + (load-math.Log(rungs[i].Aim))/step, math.Sqrt(n.variance) / step
}

// Next proposes what to read next.
func (m *Model) Next(ask Ask) Proposal {
	a := m.asked(ask)
	p := Proposal{Percent: 100, WeakKeys: m.weakKeys(), Wanted: m.wanted(ask.Known)}
	a.fresh(&p)
	a.choose(&p)
	p.Expected = a.over(&p).overRead(a.measures)
	if p.New > 1 {
		p.Why = append(p.Why, "The last two takes went easily: two new figures.")
	}
	if p.Rung == 1 && len(ask.Known) == 0 {
		p.Coverage, p.New = 0, 0
	}
	switch {
	case m.takes == 0: // a guess about a guess
	case p.Expected < few:
		p.Why = append(p.Why, "Leave notes out rather than stop: the beat comes first, the notes will follow.")
	default:
		p.Why = append(p.Why, fmt.Sprintf("About %.0f of 100 measures should come out right.", 100*p.Expected))
	}
	return p
}

// choose settles rung, tempo, key and pressure.
func (a *asking) choose(p *Proposal) {
	if a.takes == 0 {
		p.Rung = a.start()
		p.Why = append(p.Why, fmt.Sprintf("Nothing is known of your reading yet: rung %d is a first guess, and the next takes will put it right.", p.Rung))
		return
	}
	s := a.standing(a.ask.Style)
	last := &s.latest[len(s.latest)-1]
	at, why := a.moved(p.Coverage, s)
	if a.styles[a.ask.Style] == nil && at >= last.Rung {
		at, why = last.Rung, fmt.Sprintf("You have not read in this style yet: rung %d, as in the other.", last.Rung)
	}
	p.Rung = at
	p.Why = append(p.Why, why)
	if a.at(p); last.stopped() && p.Rung >= last.Rung {
		a.afterStop(s, p)
	}
	if !last.stopped() && p.Percent >= nearly {
		a.extras(s, p)
	}
	if p.Key != nil || p.Pressure != nil {
		a.at(p)
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
// would come out right there at nearly the page's tempo, down only where a slower tempo
// would not do. Between the two the rung stays.
func (a *asking) moved(coverage float64, s *standing) (int, string) {
	full, slow := a.highest(fastRung, coverage), a.highest(slowRung, coverage)
	if a.finding() {
		slow = full
	}
	last := s.latest[len(s.latest)-1].Rung
	low, high := last, last
	for _, t := range s.latest {
		low, high = min(low, t.Rung), max(high, t.Rung)
	}
	up := 1
	if a.finding() && a.takes > 1 { // one take alone is not believed further
		up = findRungs
	}
	share := s.latest[len(s.latest)-1].share()
	switch {
	case a.takes == 1 && share >= Least && share <= Most:
		return last, fmt.Sprintf("Rung %d seems to suit you: one more to be sure.", last)
	case slow < last && a.drift(a.ask.Now) > 0:
		to := max(slow, low-up)
		return to, fmt.Sprintf("After a pause an easier read first: rung %d.", to)
	case full < last && a.drift(a.ask.Now) > 0:
		return last, fmt.Sprintf("After a pause rung %d again, a little slower than the page.", last)
	case full > last:
		to := min(full, high+up)
		return to, fmt.Sprintf("You read rung %d well: rung %d should go, too.", last, to)
	case slow < last:
		to := max(slow, low-up)
		return to, fmt.Sprintf("Rung %d gave too much to take in: rung %d is within reach.", last, to)
	case full < last:
		return last, fmt.Sprintf("Rung %d again, a little slower than the page.", last)
	}
	if share < Least {
		return last, fmt.Sprintf("Rung %d again: last time there was much to take in.", last)
	}
	return last, fmt.Sprintf("Rung %d suits you: stay a while.", last)
}

// at settles the tempo: the fastest at which the aimed share comes out right.
func (a *asking) at(p *Proposal) {
	for p.Percent = 100; p.Percent > slowest && !a.suits(p); p.Percent -= paceStep {
	}
}

// afterStop takes the tempo down before the rung.
func (a *asking) afterStop(s *standing, p *Proposal) {
	last := s.latest[len(s.latest)-1]
	p.Rung = last.Rung
	if n := len(s.latest); n > 1 && s.latest[n-2].stopped() && s.latest[n-2].Rung <= last.Rung && last.percent() <= stopRung && last.Rung > 1 {
		p.Rung = last.Rung - 1
		p.Percent = min(p.Percent, 100-stopSlows)
		p.Why = []string{fmt.Sprintf("You stopped twice, slow as it was: rung %d, and keep going whatever slips.", p.Rung)}
		return
	}
	p.Percent = max(min(p.Percent, last.percent()-stopSlows), slowest)
	p.Why = []string{"You stopped: the same rung, slower, and keep going whatever slips."}
}
