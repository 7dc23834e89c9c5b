package band

import (
	"onward/rhythm"
	"onward/styles"
)

// sounded is a tone still to be given its velocity and last touches.
type sounded struct {
	stroke
	key int
}

// bassLine finds the notes of a bass.
func (p *player) bassLine() []sounded {
	p.stateChords()
	choices := make([][]choice, len(p.strokes))
	for i, s := range p.strokes {
		choices[i] = p.bassChoices(i, s)
	}
	tones := p.way(choices, p.bassMove)
	if len(p.t.bass) == 0 {
		p.t.bass = lineOf(tones, p.t.l.End)
	}
	p.t.doubling = append(p.t.doubling, tones...)
	return tones
}

// lineOf is the line that the tones make, each heard until the next.
func lineOf(tones []sounded, end rhythm.Offset) voice {
	v := make(voice, len(tones))
	for i, s := range tones {
		v[i] = note{s.at, end, s.key}
		if i > 0 {
			v[i-1].end = s.at
		}
	}
	return v
}

// stateChords makes the first stroke of every chord its root, and adds one where a
// chord comes in within a measure in which the bass plays and is silent just there.
func (p *player) stateChords() {
	var all []stroke
	stated := -1 // the span stated last
	for i, s := range p.strokes {
		all = append(all, p.entries(s.bar, stated, s.span, s.at)...)
		if s.span != stated && (s.Play != 'r' || s.at == p.t.spans[s.span].at) {
			s.Play = '1'
		}
		all, stated = append(all, s), s.span
		if s.final || i+1 < len(p.strokes) && p.strokes[i+1].bar == s.bar {
			continue
		}
		last := p.t.spanAt(p.t.bars[s.bar].End() - 1)
		all = append(all, p.entries(s.bar, stated, last, p.t.bars[s.bar].End())...)
		stated = last
	}
	p.strokes = all
}

// entries are strokes for the chords of a bar from after span stated to span last that
// come in within the bar and before limit.
func (p *player) entries(bar, stated, last int, limit rhythm.Offset) []stroke {
	var list []stroke
	for k := stated + 1; k <= last; k++ {
		if sp := p.t.spans[k]; sp.bar == bar && sp.at > p.t.bars[bar].At && sp.at < limit {
			list = append(list, p.entry(k, limit))
		}
	}
	return list
}

// entry is a stroke that states chord k, before the next one at limit.
func (p *player) entry(k int, limit rhythm.Offset) stroke {
	sp := p.t.spans[k]
	s := stroke{at: sp.at, span: k, bar: sp.bar}
	s.Play, s.Short = '1', true
	s.hold = min(p.t.bars[sp.bar].Meter.Beat(), sp.end.Since(sp.at), limit.Since(sp.at))
	return s
}

// What each member of a chord costs, root first, where the pattern asks for one. A
// six-four chord is the last resort.
var memberCosts = map[byte][4]int{
	'1': {0, 9, 24, 14},
	'8': {0, 9, 24, 14},
	'5': {3, 5, 0, 7},
	'3': {5, 0, 7, 9},
}

const (
	costNotRoot  = 2000 // another member than the root in the last chord
	costUnrooted = 40   // the same where a section begins
	costLeaveIt  = 260  // to leave out a root
	costLeave    = 120  // to leave out another stroke
	costStranded = 3000 // a note foreign to its chord that does not go on by step
)

// bassChoices lists the notes that may sound on stroke i.
func (p *player) bassChoices(i int, s stroke) []choice {
	if s.Play == 'r' {
		return p.runChoices(i, s)
	}
	var list []choice
	sp := &p.t.spans[s.span]
	costs := memberCosts[s.Play]
	for key := p.low; key <= p.high; key++ {
		member := sp.members.of(key)
		if member < 0 {
			continue
		}
		cost := costs[member]
		switch b := &p.t.bars[s.bar]; {
		case member == 0:
		case s.final:
			cost += costNotRoot
		case s.at == b.At && b.in&styles.Opening != 0:
			cost += costUnrooted
		}
		if member == 2 && diminished(sp.chord) {
			cost += 4
		}
		if s.Play == '8' && key < p.low+12 || s.Play != '8' && key > p.low+17 {
			cost += 2
		}
		list = append(list, choice{key: key, cost: cost + p.registerCost(key) + p.nearCost(s, key)})
	}
	leave := costLeave
	if s.Play == '1' {
		leave = costLeaveIt
	}
	return append(list, choice{rest: true, cost: leave})
}

// registerCost draws a line to the middle of its range.
func (p *player) registerCost(key int) int {
	return max(0, abs(2*key-p.low-p.high)/2-5) / 3
}

// nearCost is what a key costs against the player's line while the stroke sounds: a
// bass keeps below it.
func (p *player) nearCost(s stroke, key int) int {
	cost := 0
	for _, n := range p.t.line.between(s.at, s.end()) {
		switch {
		case n.key == key:
			cost += costUnison
		case key > n.key:
			cost += costCross
		case n.key-key <= 2:
			cost += costClose
		}
	}
	return min(cost, 2*costUnison)
}

// runChoices lists the notes of the scale, and the half step under the root that is to
// come.
func (p *player) runChoices(i int, s stroke) []choice {
	sp := p.t.spans[s.span]
	var list []choice
	for key := p.low; key <= p.high; key++ {
		cost := 0
		switch {
		case inScale(sp, key):
		case p.leadsOn(i, key):
			cost = 1
		default:
			continue
		}
		cost += p.nearCost(s, key)
		up := choice{key: key, cost: cost, heading: 1, foreign: sp.members.of(key) < 0}
		down := up
		down.heading = -1
		list = append(list, up, down)
	}
	return append(list, choice{rest: true, cost: costLeave})
}

// leadsOn reports whether key is a half step under the root of the chord at the next
// stroke, of which the stroke is the last before.
func (p *player) leadsOn(i, key int) bool {
	if i+1 >= len(p.strokes) || p.strokes[i+1].Play == 'r' {
		return false
	}
	root := p.t.spans[p.strokes[i+1].span].chord.Root
	return (key+1)%12 == root.Chroma()
}

// bassMove is what it costs to go from one note to the next.
func (p *player) bassMove(i int, a, b choice) int {
	if a.foreign && (b.rest || abs(a.key-b.key) > 2) {
		return costStranded
	}
	if a.rest || b.rest {
		return 0
	}
	from, to := p.strokes[i-1], p.strokes[i]
	d := abs(a.key - b.key)
	cost := 0
	switch {
	case from.Play == 'r':
		cost = runMove(a, b)
	case to.Play == 'r':
		cost = 2 * max(0, d-2) / 3 // a run may set out with a leap
	case d == 0:
		cost = 1
	case d <= 2:
	case d <= 7:
		cost = 1
	case d <= 12:
		cost = 3
	default:
		cost = 12
	}
	if p.t.line.parallels(from.at, to.at, a.key, b.key) {
		cost += costParallel
	}
	return cost
}

// runMove is what it costs to go on from a note of a run: nothing by a step onward.
func runMove(a, b choice) int {
	d := (b.key - a.key) * a.heading
	cost := 0
	if d < 1 || d > 2 {
		cost = 20 + abs(d)
	}
	if b.heading != 0 && b.heading != a.heading {
		cost += 20
	}
	return cost
}
