package compose

import (
	"math"
	"math/rand/v2"
	"slices"

	"onward/rhythm"
)

// breakArch is the arch of a break strain's phrases, which stay high or low.
const breakArch = 0.15

// An arch is where the line of a phrase should be: from its start up to one peak and down
// to its end, with waves on the way. Heights are shares of the range, times of the phrase.
type arch struct {
	start, peak, end float64
	top              float64 // when the peak comes
	wave, every      float64 // how far the waves go and how long one lasts
	phase            float64
}

// at reports the height at a time.
func (a arch) at(t float64) float64 {
	return a.bone(t) + float64(a.wave*math.Sin(2*math.Pi*(t/a.every+a.phase)))
}

// bone reports the height at a time without the waves.
func (a arch) bone(t float64) float64 {
	if t < a.top {
		return a.start + float64((a.peak-a.start)*math.Sin(t/a.top*math.Pi/2))
	}
	return a.end + float64((a.peak-a.end)*math.Cos((t-a.top)/(1-a.top)*math.Pi/2))
}

// drawArch draws the arch of one of a section's phrases.
func (p *piece) drawArch(rng *rand.Rand, s *section, index int) arch {
	m := p.req.Style.Melody
	a := arch{peak: s.top(index) - float64(0.06*rng.Float64()), top: 0.4 + float64(0.35*rng.Float64()),
		wave: m.Wave * (0.6 + float64(0.8*rng.Float64())), every: []float64{0.25, 0.5, 0.5}[rng.IntN(3)], phase: rng.Float64()}
	spread := m.Arch
	switch {
	case s.Character == "break": // high against low
		a.peak, spread = []float64{1, 0.4}[index%2], breakArch
	case s.climbs(index):
		if index == len(s.phrases)-1 {
			a.top = 0.15 + float64(0.25*rng.Float64())
		}
	}
	a.start = a.peak - float64(spread*(0.6+float64(0.6*rng.Float64())))
	a.end = a.peak - float64(spread*(0.7+float64(0.6*rng.Float64())))
	switch {
	case s.climbs(index):
	case rng.IntN(6) == 0: // falls from the start
		a.top, a.start = 0.1, a.peak-0.1
	case rng.IntN(6) == 0: // rises to the end
		a.top, a.end = 0.85, a.peak-float64(spread*0.4)
	}
	return a
}

// top reports how high a phrase goes, as a share of the range: the phrases climb to the
// section's peak, and after it the line stays below.
func (s *section) top(index int) float64 {
	switch {
	case index == s.summit:
		return 1
	case index > s.summit:
		return afterSummit
	}
	return firstTop + (lastTop-firstTop)*float64(index)/float64(max(s.summit-1, 1))
}

// How high phrases go before and after the section's peak.
const (
	firstTop    = 0.7
	lastTop     = 0.82
	afterSummit = 0.75
)

// climbs reports whether the section's peak lies in the phrase: the third of four.
func (s *section) climbs(index int) bool {
	return s.Character != "break" && len(s.phrases) > 1 && index == s.summit
}

// chooseSummit reports which phrase has the section's peak: in its third quarter, or near
// the start of the last, and not one that repeats what was heard.
func (s *section) chooseSummit(rng *rand.Rand) int {
	n := len(s.phrases)
	third := n * 5 / 8
	last := min(third+1, n-1)
	if s.phrases[third].keeps() > 0 || s.phrases[last].keeps() == 0 && rng.IntN(3) == 0 {
		return last
	}
	return third
}

// contour sets where the line of each phrase should be, and how high it may go.
func (p *piece) contour(rng *rand.Rand, s *section) {
	s.summit = s.chooseSummit(rng)
	arches := map[string]arch{}
	for i, ph := range s.phrases {
		a := p.drawArch(rng, s, i)
		if earlier, ok := arches[ph.Letter]; ok && !s.climbs(i) && ph.keeps() > 0 {
			a = earlier
		}
		arches[ph.Letter] = a
		p.follow(s, ph, a, i)
	}
}

// follow sets the slots of one phrase along its arch, marks what opens the phrase and the
// slot of its cadence.
func (p *piece) follow(s *section, ph *phrase, a arch, index int) {
	bars := s.bars[ph.first : ph.first+ph.measures]
	length := float64(len(bars)) * float64(p.meter.Measure())
	span, foot := float64(p.high.Step()-p.low.Step()), float64(p.low.Step())
	height := func(t float64) float64 { return foot + float64(span*a.at(min(t, 1))) }
	limit := p.high.Step()
	if !s.climbs(index) && s.Character != "break" && len(s.phrases) > 1 {
		limit = int(foot + math.Ceil(span*min(s.top(index)+0.04, 0.86)))
	}
	first := ph.first == 0 || s.bars[ph.first-1].pickup == 0 // else the pickup opened it
	if ph.first == 0 && s.lead != nil {
		for i, sl := range s.lead.slots {
			sl.target, sl.opens, sl.cap = even(height(0)), i == 0, limit
		}
		first = false
	}
	for i, b := range bars {
		for j, sl := range b.slots {
			from := int64(i)*int64(p.meter.Measure()) + int64(sl.at)
			t, u := float64(from)/length, float64(from+int64(sl.cell.Span))/length
			sl.target, sl.rise, sl.cap = even(height((t+u)/2)), even(height(u)-height(t)), limit
			sl.opens = first || b.pickup > 0 && sl.at == b.pickup
			first = false
			sl.bone = even(foot + float64(span*a.bone(t)))
			sl.peak = s.climbs(index) && t < a.top+0.15 && u > a.top-0.15
			sl.leads = ph.Cadence == "close" && i == len(bars)-2
			if i == len(bars)-1 && p.ends(b, j) && ph.Cadence != "on" {
				sl.final = ph.Cadence
			}
		}
	}
}

// ends reports whether the bar's slot j is the last before the barline or the pickup.
func (p *piece) ends(b *bar, j int) bool {
	end := rhythm.Offset(p.meter.Measure())
	if b.pickup > 0 {
		end = b.pickup
	}
	after := slices.IndexFunc(b.slots, func(sl *slot) bool { return sl.at >= end })
	if after < 0 {
		after = len(b.slots)
	}
	return j == after-1
}
