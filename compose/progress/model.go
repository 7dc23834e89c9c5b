package progress

import (
	"math"
	"slices"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
)

// slope is how steeply right measures grow fewer with load, in natural logarithms of load:
// a player right in 85 of 100 equal measures at a load is right in 73 at a load two rungs
// up and in 56 four rungs up. The program's own.
const slope = 0.25

// What is believed before anything was seen, and how fast it may change: deviations in
// natural logarithms of load, where a rung is about 0.115. The program's own, chosen by the
// simulation.
const (
	abilitySpread = 0.7  // of a new player's ability about the first read's rung
	styleSpread   = 0.1  // of a style against the others
	keysSpread    = 0.15 // of a family of keys against the others
	formSpread    = 0.06 // of the form from take to take
	figureSpread  = 0.2  // of one figure's weakness
	unknownCost   = 0.2  // what a measure of unknown figures alone costs more than its load says
	unknownSpread = 0.1
	pressureCost  = 0.06 // what a pressure costs
	pressureSpan  = 0.06

	takeDrift   = 0.016 // of ability, each take
	dayDrift    = 0.03  // of ability, each day of a pause, with the square root of days
	restDays    = 2     // days without a take that are no pause
	mostDrift   = 0.4   // of ability, in any pause
	figureDrift = 0.012 // of a figure's weakness, each time that it is met
)

// A Model is what a player can take in, as the takes so far tell. Make one with Read or New.
type Model struct {
	rungs *ladder.Ladder
	belief
	figures map[figure.Figure]normal // how weak; apart from the belief and each other
	styles  map[string]*standing
	last    time.Time // the latest marked take
	takes   int       // marked
	climb   climb
	// families are those met, in order; lastStyle is the latest take's.
	families  []figure.Family
	lastStyle string
}

// A standing is where the player stands in a style.
type standing struct {
	latest []Take // marked, the latest, oldest first
	usual  []usual
	inKeys int // takes since one in a weak family of keys
}

// A usual is what one take gave to read, of which the next is likely to give the like.
type usual struct {
	keys    figure.Family
	unknown float64   // share of the notes
	weak    float64   // how much its figures' weaknesses cost
	loads   []float64 // logarithms of its measures' loads about the rung's aim
}

// New is the model of a player of whom nothing is known.
func New(rungs *ladder.Ladder) *Model {
	return &Model{rungs: rungs, figures: map[figure.Figure]normal{}, styles: map[string]*standing{}}
}

// Add goes on by one take, later than all before. A take that is not marked, or of a rung
// that the ladder has not, changes nothing.
func (m *Model) Add(t Take) {
	r, err := m.rungs.Rung(t.Rung)
	played := t.played()
	if !t.Marked || err != nil || len(played) == 0 {
		return
	}
	ability := m.enter(abilityPart(m.first(r)))[0].at
	m.cov[ability][ability] += takeDrift*takeDrift + m.drift(t.At)
	for i := range played {
		if !slices.Contains(m.families, played[i].Key) {
			m.families = append(m.families, played[i].Key)
		}
	}
	m.see(&t, played)
	m.last = latest(m.last, t.At)
	m.takes++
	m.stand(&t, played, r.Aim)
	m.climb.add(&t)
}

// see learns from the measures of a take. Form and figures are part of the belief while it
// does: form is another next time, and of figures only what is believed of each alone is
// kept, or the belief would grow with all that was ever met.
func (m *Model) see(t *Take, played []Measure) {
	terms := make([][]term, len(played))
	for i := range played {
		terms[i] = m.enter(append(m.parts(t.Style, t.Pressure, played[i].Unknown), keysPart(played[i].Key))...)
	}
	lasting := len(m.mean)
	met := map[figure.Figure]bool{}
	for i := range played {
		terms[i] = append(terms[i], m.enter(formPart)...)
		for _, f := range kinds(played[i].Figures) {
			terms[i] = append(terms[i], m.enter(m.figurePart(f))...)
			met[f] = true
		}
	}
	m.propagate(terms, func(i int, n normal) normal {
		load := math.Log(played[i].Load * float64(t.percent()) / 100)
		n.mean -= load
		n = n.see(played[i].right())
		n.mean += load
		return n
	})
	for f := range met {
		w := m.guess(m.figurePart(f))
		m.figures[f] = normal{-w.mean, min(w.variance+figureDrift*figureDrift, figureSpread*figureSpread)}
	}
	m.leave(lasting)
}

// kinds lists the figures, each once: it is as weak as often as it stands there.
func kinds(figures []figure.Figure) []figure.Figure {
	var out []figure.Figure
	for _, f := range figures {
		if !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out
}

// parts lists what ability is the sum of in a take's measures, keys and form left out.
func (m *Model) parts(style string, pressure []string, unknown float64) []weighed {
	out := []weighed{
		abilityPart(normal{}), // met, or put right by the caller
		{part{"style", style}, spread(0, styleSpread), 1},
		{part{"unknown", ""}, spread(unknownCost, unknownSpread), -unknown},
	}
	for _, p := range pressure {
		out = append(out, weighed{part{"pressure", p}, spread(pressureCost, pressureSpan), -1})
	}
	return out
}

func spread(mean, deviation float64) normal { return normal{mean, deviation * deviation} }

func abilityPart(prior normal) weighed { return weighed{part{"ability", ""}, prior, 1} }

func keysPart(f figure.Family) weighed {
	return weighed{part{"keys", f.String()}, spread(0, keysSpread), 1}
}

// usualKeys are the families that the latest takes of the style were in, by their share.
func (m *Model) usualKeys(style string) []weighed {
	s := m.styles[style]
	if s == nil {
		return nil
	}
	var out []weighed
	for _, f := range m.families {
		w := keysPart(f)
		w.times = 0
		for _, u := range s.usual {
			if u.keys == f {
				w.times += 1 / float64(len(s.usual))
			}
		}
		if w.times > 0 {
			out = append(out, w)
		}
	}
	return out
}

var formPart = weighed{part{"form", ""}, spread(0, formSpread), 1}

// figurePart is a figure's weakness as a part of ability.
func (m *Model) figurePart(f figure.Figure) weighed {
	return weighed{part{"figure", f.Shape + "/" + f.Cell}, m.weakness(f), -1}
}

// weakness is what is believed of a figure: how much more load it is than it counts.
func (m *Model) weakness(f figure.Figure) normal {
	if w, ok := m.figures[f]; ok {
		return w
	}
	return spread(0, figureSpread)
}

// first is what is believed of a player whose first read is on the rung: that it was well
// chosen, by the player or for want of better.
func (m *Model) first(r *ladder.Rung) normal {
	return spread(math.Log(r.Aim)+margin(Aimed, within), abilitySpread)
}

// drift is the variance that a pause up to then adds to ability.
func (m *Model) drift(then time.Time) float64 {
	if m.last.IsZero() {
		return 0
	}
	days := max(0, then.Sub(m.last).Hours()/24-restDays)
	return min(dayDrift*dayDrift*days, mostDrift*mostDrift)
}

// stand puts a take among the latest of its style.
func (m *Model) stand(t *Take, played []Measure, aim float64) {
	s := m.styles[t.Style]
	if s == nil {
		s = &standing{}
		m.styles[t.Style] = s
	}
	m.lastStyle = t.Style
	if s.inKeys++; slices.Contains(m.weakKeys(), played[0].Key) {
		s.inKeys = 0
	}
	s.usual = lastOf(append(s.usual, m.gave(played, aim)), usualTakes)
	s.latest = lastOf(append(s.latest, *t), latestTakes)
}

// gave is what a take gave to read.
func (m *Model) gave(played []Measure, aim float64) usual {
	u := usual{keys: played[0].Key}
	for i := range played {
		u.unknown += played[i].Unknown / float64(len(played))
		for _, f := range kinds(played[i].Figures) {
			u.weak += m.weakness(f).mean / float64(len(played))
		}
		u.loads = append(u.loads, math.Log(played[i].Load/aim))
	}
	return u
}

// lastOf is the end of the list, at most n long.
func lastOf[T any](list []T, n int) []T { return list[max(0, len(list)-n):] }

// latestTakes is how many takes tell where the player stands.
const latestTakes = 5

// usualTakes is how many tell what is usual.
const usualTakes = 20

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
