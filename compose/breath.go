package compose

import (
	"math"

	"onward/rhythm"
)

// shortestRest is the shortest rest, in seconds, that gives a breath by itself.
const shortestRest = 0.2

// What a breath costs by where it falls; the plan of least cost is taken.
const (
	breathPhraseEnd = -2.5 // a gain: phrases end with a breath though the wind would last
	breathLongNote  = 1.5
	breathBarline   = 2.5
	breathElsewhere = 6.0
	breathResolving = 1.5  // more, where the dominant is about to resolve
	breathLeading   = 8.0  // more, on a leading tone
	breathSoon      = 3.0  // more, less than a measure and a half after the last
	breathTail      = 24.0 // after a note too short to end anything
	breathForced    = 200  // where no place keeps within the wind
)

// breathe marks breaths so that no stretch is longer than the instrument's wind, at
// the loudest dynamic and the tempo of the place.
func (p *piece) breathe(r *Read, notes []*placedNote) {
	n := len(notes)
	best := make([]float64, n+1) // cost of the best plan that breathes after note i-1
	from := make([]int, n+1)
	for i := 1; i <= n; i++ {
		best[i] = math.Inf(1)
		for j := i - 1; j >= 0; j-- {
			stretch, wind := p.seconds(notes[i-1].end-notes[j].start), min(p.wind(notes[j].section), p.wind(notes[i-1].section))
			long := stretch > wind
			cost := best[j] + p.breathCost(notes, i-1)
			if stretch < p.seconds(3*int64(p.meter.Measure())/2) && i < n && !p.rested(notes[i-1], notes[i]) && !p.turnsBack(notes[i-1], notes[i]) {
				cost += breathSoon
			}
			if long {
				cost += breathForced * (stretch / wind) * (stretch / wind)
			}
			if cost < best[i] {
				best[i], from[i] = cost, j
			}
			if long && j < i-1 {
				break
			}
			if j > 0 && (p.rested(notes[j-1], notes[j]) || p.turnsBack(notes[j-1], notes[j]) || p.apart(notes[j-1], notes[j])) { // there is a breath anyway
				break
			}
		}
	}
	for i := from[n]; i > 0; i = from[i] {
		a := notes[i-1]
		if p.apart(a, notes[i]) {
			continue
		}
		rest := p.rested(a, notes[i])
		if !rest {
			a.last.Breath = true
		}
		r.Breaths = append(r.Breaths, Breath{Measure: a.measure, At: rhythm.Offset(a.end - a.start + int64(a.at)), Marked: !rest})
	}
	for i, j := 0, len(r.Breaths)-1; i < j; i, j = i+1, j-1 {
		r.Breaths[i], r.Breaths[j] = r.Breaths[j], r.Breaths[i]
	}
}

// rested reports whether the rest between two notes gives a breath.
func (p *piece) rested(a, b *placedNote) bool { return p.seconds(b.start-a.end) >= shortestRest }

// turnsBack reports whether the player breathes between two notes to be ready for the
// repeat: after the cadence's note of a first ending, before what leads back; at a
// repeat sign without endings, there.
func (p *piece) turnsBack(a, b *placedNote) bool {
	if !a.section.Repeat {
		return false
	}
	if a.section.ending != nil {
		return a.bar == a.section.ending && a.at == 0
	}
	return a.bar != b.bar && a.section != b.section
}

// apart reports whether two notes follow each other on the page but not in time: the
// end of a first ending and the second.
func (p *piece) apart(a, b *placedNote) bool {
	return a.bar == a.section.ending && b.bar != a.bar && a.section.ending != nil
}

// breathCost is what a breath after note i costs.
func (p *piece) breathCost(notes []*placedNote, i int) float64 {
	if i == len(notes)-1 {
		return 0
	}
	a, b := notes[i], notes[i+1]
	if p.rested(a, b) || p.turnsBack(a, b) || p.apart(a, b) {
		return 0
	}
	cost := breathElsewhere
	switch {
	case b.slot.opens && b.in == 0 || a.section != b.section:
		return breathPhraseEnd
	case a.duration() < rhythm.Eighth:
		return breathTail
	case a.duration() >= p.meter.Beat() && b.at == 0 && (i == 0 || notes[i-1].duration() < 2*a.duration()):
		cost = breathLongNote
	case a.duration() > p.meter.Beat():
		cost = breathLongNote + 0.5
	case b.at == 0:
		cost = breathBarline
	case p.meter.OnBeat(b.at) && a.duration() >= rhythm.Eighth:
		cost = breathBarline + 1
	}
	chord, next := a.slot.chords[a.in], b.slot.chords[b.in]
	if chord != next && dominant(chord) && next.Root == chord.Transpose(fourthUp).Root {
		cost += breathResolving
	}
	if degree, _ := a.slot.key.DegreeOf(a.first.Pitch.Class()); degree == 7 {
		cost += breathLeading
	}
	return cost
}

// wind reports how many seconds a breath lasts in the section, at the louder of its
// dynamics.
func (p *piece) wind(s *section) float64 {
	loud := max(loudness(s.Dynamic), loudness(s.Again))
	switch {
	case loud >= loudness("f"):
		return p.req.Instrument.Breath[2]
	case loud >= loudness("mf"):
		return p.req.Instrument.Breath[1]
	}
	return p.req.Instrument.Breath[0]
}

// dynamicMarks lists the marks by loudness.
var dynamicMarks = [...]string{"", "pp", "p", "mp", "mf", "f", "ff"}

// loudness orders the dynamic marks, "" lowest.
func loudness(mark string) int {
	for i, m := range dynamicMarks {
		if m == mark {
			return i
		}
	}
	return 0
}

// seconds reports how long so many ticks last at the piece's tempo.
func (p *piece) seconds(ticks int64) float64 {
	return float64(ticks) / float64(p.meter.Beat()) * 60 / float64(p.tempo)
}
