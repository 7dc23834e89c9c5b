package compose

import (
	"math"
	"slices"

	"onward/rhythm"
)

// shortestRest is the shortest rest, in seconds, that gives a breath by itself where it
// is no eighth.
const shortestRest = 0.2

// What a breath costs by where it falls; the plan of least cost is taken.
const (
	breathPhraseEnd = -2.5 // a gain: phrases end with a breath though the wind would last
	breathLongNote  = 2.5
	breathBarline   = 3.5
	breathElsewhere = 7.0
	breathHalfway   = -1.0 // less, two measures into the phrase, or four
	breathResolving = 1.5  // more, where the dominant is about to resolve
	breathCadence   = 3.0  // more, ahead of a phrase's last note
	breathLeading   = 8.0  // more, on a leading tone
	breathUnsolved  = 40.0 // more again, if the tonic follows
	breathSoon      = 4.0  // more, less than a measure and a half after the last
	breathAtOnce    = 6.0  // more again, less than a measure after it
	breathInside    = 20.0 // inside a beat after a note shorter than that
	breathDotted    = 25.0 // after a dotted eighth, ahead of its sixteenth
	breathTail      = 40.0 // after a note too short to end anything, or ahead of one
	breathAtRest    = 80.0 // a mark beside a rest too short to breathe in
	breathLong      = 30.0 // for as much over the wind as a player can go; the square of it for less
	breathLongDeep  = 4.0  // the same on instruments that take much wind
	breathForced    = 200  // where no place keeps within that
)

// How much longer than the wind of a cautious table a player can go on: two fifths, and
// more on instruments that take much wind, whose table is the most cautious. A tuba then
// has two measures of a march to a breath, or of a song at p.
const (
	reachUsual = 1.4
	reachDeep  = 1.6
)

// breathe marks breaths so that no stretch is longer than the instrument's wind reaches,
// at the loudest dynamic and the tempo of the place.
func (p *piece) breathe(r *Read, notes []*placedNote) {
	from := p.breathPlan(notes)
	for i := from[len(notes)]; i > 0; i = from[i] {
		a := notes[i-1]
		if p.apart(a, notes[i]) {
			continue
		}
		marked := !p.rested(a, notes[i])
		a.last.Breath = marked
		r.Breaths = append(r.Breaths, Breath{Measure: a.measure, At: a.first.At.Add(a.duration()), Marked: marked})
	}
	slices.Reverse(r.Breaths)
}

// breathPlan reports for each count of notes the count at the breath before, in the plan
// of least cost.
func (p *piece) breathPlan(notes []*placedNote) []int {
	n, reach := len(notes), p.reach()
	best := make([]float64, n+1) // cost of the best plan that breathes after note i-1
	from := make([]int, n+1)
	natural := make([]bool, n+1) // a breath that is taken whether it is marked or not
	natural[0], natural[n] = true, true
	for i := 1; i < n; i++ {
		natural[i] = p.rested(notes[i-1], notes[i]) || p.turnsBack(notes[i-1], notes[i]) || p.apart(notes[i-1], notes[i])
	}
	for i := 1; i <= n; i++ {
		best[i] = math.Inf(1)
		place := p.breathCost(notes, i-1)
		for j := i - 1; j >= 0; j-- {
			wind := min(p.wind(notes[i-1].section), p.wind(notes[j].section))
			over := p.seconds(notes[i-1].end-notes[j].start)/wind - 1
			cost := best[j] + place
			if (!natural[i] || !natural[j]) && !(j > 0 && p.apart(notes[j-1], notes[j])) { // a second ending goes on from before the first
				cost += p.soonCost(notes[i-1].end - notes[j].start)
			}
			switch {
			case over > reach-1:
				cost += float64(breathForced * (1 + over) * (1 + over))
			case over > 0:
				cost += p.longCost(over)
			}
			if cost < best[i] {
				best[i], from[i] = even(cost), j
			}
			if over > reach-1 && j < i-1 || natural[j] {
				break
			}
		}
	}
	return from
}

// longCost is what a stretch costs that is longer than the wind by so much of it.
func (p *piece) longCost(over float64) float64 {
	part := over / (p.reach() - 1)
	if p.deep() {
		return float64(breathLongDeep * part * part)
	}
	return float64(breathLong * part * part)
}

// soonCost is what a breath costs so many ticks after the last.
func (p *piece) soonCost(ticks int64) float64 {
	switch measure := int64(p.meter.Measure()); {
	case ticks <= measure && p.meter.Count() > 1:
		return breathSoon + breathAtOnce
	case 2*ticks < 3*measure:
		return breathSoon
	}
	return 0
}

// rested reports whether the rest between two notes gives a breath.
func (p *piece) rested(a, b *placedNote) bool {
	silence := b.start - a.end
	return silence >= int64(rhythm.Eighth) || p.seconds(silence) >= shortestRest
}

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
	eighth := rhythm.Offset(rhythm.Eighth)
	switch {
	case p.rested(a, b) || p.turnsBack(a, b) || p.apart(a, b):
		return 0
	case b.start > a.end:
		return breathAtRest
	case a.duration() > rhythm.Eighth && b.at%eighth != 0:
		return breathDotted
	case a.duration() < rhythm.Eighth || b.at%eighth != 0:
		return breathTail
	case b.slot.opens && b.in == 0 || a.section != b.section:
		return breathPhraseEnd
	}
	cost := breathElsewhere
	switch {
	case !p.meter.OnBeat(b.at) && a.duration() < p.meter.Beat():
		cost = breathInside
	case a.duration() >= p.meter.Beat() && b.at == 0 && (i == 0 || notes[i-1].duration() < 2*a.duration()):
		cost = breathLongNote
	case a.duration() > p.meter.Beat():
		cost = breathLongNote + 0.5
	case b.at == 0:
		cost = breathBarline
	case p.meter.OnBeat(b.at):
		cost = breathBarline + 1
	}
	if p.halfway(b) {
		cost += breathHalfway
	}
	chord, next := a.slot.chords[a.in], b.slot.chords[b.in]
	if chord != next && dominant(chord) && next.Root == chord.Transpose(fourthUp).Root {
		cost += breathResolving
	}
	if b.slot.final != "" && b.in == len(b.slot.onsets)-1 {
		cost += breathCadence
	}
	if a.first.Pitch.Class() == a.slot.key.LeadingTone() {
		cost += breathLeading
		if b.first.Pitch.Class() == a.slot.key.Tonic() {
			cost += breathUnsolved
		}
	}
	return cost
}

// halfway reports whether the note begins an even measure of its phrase.
func (p *piece) halfway(n *placedNote) bool {
	for i, b := range n.section.bars {
		if b == n.bar {
			return n.at == 0 && (i-n.phrase.first)%2 == 0
		}
	}
	return false
}

// deep reports whether the instrument takes much wind, as a tuba does.
func (p *piece) deep() bool { return p.req.Instrument.Breath[1] < shortWind }

// reach reports how much longer than the wind a player can go on.
func (p *piece) reach() float64 {
	if p.deep() {
		return reachDeep
	}
	return reachUsual
}

// soften writes loud dynamics softer where the piece is so slow that two measures would
// not go on one breath of the instrument.
func (p *piece) soften() {
	two, reach := p.seconds(2*int64(p.meter.Measure())), p.reach()
	for _, s := range p.sections {
		for two > p.windAt(s.Dynamic)*reach && loudness(s.Dynamic) > loudness("mp") {
			s.Dynamic = dynamicMarks[loudness(s.Dynamic)-1]
		}
		for two > p.windAt(s.Again)*reach && loudness(s.Again) > loudness("mp") {
			s.Again = dynamicMarks[loudness(s.Again)-1]
		}
	}
}

// wind reports how many seconds a breath lasts in the section, at the louder of its
// dynamics.
func (p *piece) wind(s *section) float64 { return min(p.windAt(s.Dynamic), p.windAt(s.Again)) }

// windAt reports how many seconds a breath lasts at a dynamic.
func (p *piece) windAt(mark string) float64 {
	switch loud := loudness(mark); {
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
