package progress

import "math"

// Tempo reports the tempo, in percent of the page's, for a read as it was composed, and the
// share of its measures that should come out right at it. It is slower than the proposal's
// where the page turned out harder than usual, and never faster.
func (m *Model) Tempo(ask Ask, p Proposal, page []Measure) (percent int, expected float64) {
	margins := m.asked(ask).margins(&p, page)
	percent = p.Percent
	for percent > slowest && mean(margins, percent, false) < Least {
		percent -= paceStep
	}
	return percent, mean(margins, percent, true)
}

// margins are those of ability over the load of each measure at the page's tempo.
func (a *asking) margins(p *Proposal, page []Measure) []normal {
	var out []normal
	for i := range page {
		if !page[i].tells() {
			continue
		}
		n := a.ability(p.Pressure, page[i].Unknown, &page[i].Key)
		for _, f := range kinds(page[i].Figures) {
			w := a.weakness(f)
			n.mean -= w.mean
			n.variance += w.variance
		}
		out = append(out, normal{n.mean - math.Log(page[i].Load), n.variance})
	}
	return out
}

// mean is the share of measures with such margins that come out right at a tempo, with or
// without what is not known of them; 1 of none.
func mean(margins []normal, percent int, unsure bool) float64 {
	if len(margins) == 0 {
		return 1
	}
	sum := 0.0
	for _, n := range margins {
		if !unsure {
			n.variance = 0
		}
		sum += normal{n.mean - math.Log(float64(percent)/100), n.variance}.right()
	}
	return sum / float64(len(margins))
}
