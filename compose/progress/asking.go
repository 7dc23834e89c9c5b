package progress

import (
	"math"
	"slices"

	"onward/compose/figure"
)

// within is how the logarithms of measures' loads lie about what their rung aims at, by
// tenths: measured on 288 reads of both styles and all rungs (testdata/reads.json). It
// counts as much as so many measures of the player's own reads in the style.
var within = []float64{-1.46, -0.97, -0.68, -0.48, -0.34, -0.22, -0.10, 0.04, 0.22, 0.58}

const withinCounts = 40

// margin reports how far, in logarithms, ability must lie above a rung's aim for the share of
// measures that lie so about it to come out right.
func margin(share float64, measures []float64) float64 {
	low, high := -3.0, 3.0
	for range 40 {
		mid := (low + high) / 2
		if (normal{mean: mid}).overRead(measures) < share {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// overRead reports the share of a read's measures that come out right, of the margin over
// its rung's aim and how its measures lie about that.
func (n normal) overRead(measures []float64) float64 {
	sum := 0.0
	for _, w := range measures {
		sum += normal{n.mean - w, n.variance}.right()
	}
	return sum / float64(len(measures))
}

// An asking is a model asked for a read.
type asking struct {
	*Model
	ask      Ask
	measures []float64 // see Model.measures
}

func (m *Model) asked(a Ask) *asking { return &asking{m, a, m.measures(&a)} }

// measures is how the logarithms of measures' loads lie about their rung's aim in the style,
// by twentieths: as in the latest takes, and as far as these are few, as usual.
func (m *Model) measures(a *Ask) []float64 {
	var all []float64
	for range withinCounts / len(within) {
		for _, w := range within {
			all = append(all, w+math.Log(a.share()))
		}
	}
	if s := m.styles[a.Style]; s != nil {
		for _, u := range s.usual {
			all = append(all, u.loads...)
		}
	}
	slices.Sort(all)
	var out []float64
	for i := range 20 {
		out = append(out, all[(2*i+1)*len(all)/40])
	}
	return out
}

// ability is what is believed of the player for a read now: lower by what a pause has made
// uncertain, so that the first read after it is easier.
func (a *asking) ability(pressure []string, unknown float64, keys *figure.Family) normal {
	parts := a.parts(a.ask.Style, pressure, unknown)
	if a.takes == 0 {
		r, _ := a.rungs.Rung(a.start())
		parts[0] = abilityPart(a.first(r))
	}
	if keys != nil {
		parts = append(parts, keysPart(*keys))
	} else {
		parts = append(parts, a.usualKeys(a.ask.Style)...)
	}
	n, drift := a.guess(parts...), a.drift(a.ask.Now)
	return normal{n.mean - cautionary*math.Sqrt(drift), n.variance + drift}
}

// usual reports what the latest takes of the style gave on average: the share of notes in
// unknown figures, and what the weaknesses of figures cost.
func (a *asking) usual() (unknown, weak float64) {
	s := a.styles[a.ask.Style]
	if s == nil {
		return 1 - usualCoverage, 0
	}
	for _, u := range s.usual {
		unknown += u.unknown / float64(len(s.usual))
		weak += u.weak / float64(len(s.usual))
	}
	return unknown, weak
}

// start is the rung to start on.
func (a *asking) start() int {
	if a.ask.Rung > 0 {
		return min(a.ask.Rung, len(a.rungs.Rungs))
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

// over is the margin of ability over what a read's rung aims at, at its tempo.
func (a *asking) over(p *Proposal) normal {
	n := a.reading(p.Coverage, p.Pressure, p.Key)
	n.mean -= math.Log(a.rungs.Rungs[p.Rung-1].Aim * float64(p.Percent) / 100)
	return n
}

// reading is ability less what the figures of a read of such a coverage cost.
func (a *asking) reading(coverage float64, pressure []string, keys *figure.Family) normal {
	unknown, weak := a.usual()
	n := a.ability(pressure, max(unknown+usualCoverage-coverage, 0), keys)
	n.mean -= weak
	return n
}

// suits reports whether the aimed share would come out right. While the level is looked
// for, ability counts as what is believed of it in the middle: what is not known of it
// would hold back a player who reads better than was seen so far.
func (a *asking) suits(p *Proposal) bool {
	n := a.over(p)
	if a.finding() {
		n.variance = 0
	}
	return n.overRead(a.measures) >= Aimed
}

// highest is the highest rung on which the aimed share comes out right at a tempo.
func (a *asking) highest(percent int, coverage float64) int {
	for r := len(a.rungs.Rungs); r > 1; r-- {
		if a.suits(&Proposal{Rung: r, Percent: percent, Coverage: coverage}) {
			return r
		}
	}
	return 1
}

// finding reports whether the level is still looked for.
func (a *asking) finding() bool {
	return a.takes < findTakes || a.takes < findUntil && a.reading(usualCoverage, nil, nil).variance > found*found
}
