package band

import (
	"slices"

	"onward/theory"
)

// A voicing is a chord's keys from the lowest up.
type voicing []int

// voicings lists the close ways to set the chord in n voices within a range: the third
// and a seventh are there, the root or the fifth may lack where voices are few, and
// neither a leading tone nor a seventh is doubled.
func voicings(c theory.Chord, n, low, high int) []voicing {
	var list []voicing
	m := membersOf(c)
	v := make(voicing, 0, n)
	var grow func(from int)
	grow = func(from int) {
		if len(v) == n {
			if complete(c, &m, v) {
				list = append(list, slices.Clone(v))
			}
			return
		}
		for key := from; key <= high; key++ {
			if len(v) > 0 && (key-v[len(v)-1] > widestGap || key-v[0] > widestChord) {
				break
			}
			if m.of(key) >= 0 {
				v = append(v, key)
				grow(key + 1)
				v = v[:len(v)-1]
			}
		}
	}
	grow(low)
	return list
}

// How far neighbouring voices, and the outer ones, lie apart at most, in semitones.
const (
	widestGap   = 9
	widestChord = 16
)

// complete reports whether a voicing says its chord and doubles nothing that it must
// not.
func complete(c theory.Chord, m *members, v voicing) bool {
	var count [4]int
	for _, key := range v {
		count[m.of(key)]++
	}
	seventh := len(c.Tones()) == 4
	if count[1] == 0 || seventh && count[3] == 0 || count[3] > 1 {
		return false
	}
	tense := seventh || diminished(c)
	if count[1] > 1 && (tense || c.Quality == theory.MajorTriad) {
		return false
	}
	lacking := 0
	for i := range c.Tones() {
		if count[i] == 0 {
			lacking++
		}
	}
	return lacking <= max(0, len(c.Tones())-len(v)) || len(v) < 3 && count[0]+count[2]+count[3] > 0
}

// A turn is a change from one chord to another.
type turn struct{ from, to theory.Chord }

// A hall holds what is reckoned once for every chord and change of chords.
type hall struct {
	p     *player
	sets  map[theory.Chord][]voicing
	moves map[turn][][]int
}

func (h *hall) of(c theory.Chord) []voicing {
	if v, ok := h.sets[c]; ok {
		return v
	}
	v := voicings(c, h.p.part.Voices, h.p.low, h.p.high)
	if len(v) == 0 {
		v = voicings(c, 2, h.p.low, h.p.high)
	}
	h.sets[c] = v
	return v
}

func (h *hall) move(c turn) [][]int {
	if cost, ok := h.moves[c]; ok {
		return cost
	}
	from, to := h.of(c.from), h.of(c.to)
	cost := make([][]int, len(to))
	leads := leading(c)
	for j := range to {
		cost[j] = make([]int, len(from))
		for i := range from {
			cost[j][i] = moveCost(&leads, from[i], to[j])
		}
	}
	h.moves[c] = cost
	return cost
}

// The costs of moving chords: a semitone of one voice is 2.
const (
	costSemitone   = 2
	costLeap       = 4  // each semitone beyond a major third
	costParallels  = 60 // fifths or octaves between two voices
	costUnresolved = 14 // a leading tone or seventh that goes elsewhere
)

// moveCost is what it costs to go from one voicing to the next, voice by voice.
func moveCost(leads *leadings, a, b voicing) int {
	if len(a) != len(b) {
		return 0
	}
	cost := 0
	for i := range a {
		d := abs(a[i] - b[i])
		cost += costSemitone*d + costLeap*max(0, d-4)
		if leads.unresolved(a[i], b[i]) {
			cost += costUnresolved
		}
		for j := range i {
			if parallel(a[i], b[i], a[j], b[j]) {
				cost += costParallels
			}
		}
	}
	return cost
}

// leadings says for each pitch class, C first, where it should go as the chord changes.
type leadings [12]leads

type leads uint8

const (
	freely     leads = iota
	up               // a half step: a leading tone
	downOrHeld       // by step: a seventh
)

// leading finds the leading tone into the next root, and the seventh.
func leading(c turn) leadings {
	var all leadings
	if c.from == c.to {
		return all
	}
	for i, tone := range c.from.Tones() {
		k := tone.Chroma()
		switch {
		case (i == 1 || i == 0 && diminished(c.from)) && (k+1)%12 == c.to.Root.Chroma():
			all[k] = up
		case i == 3:
			all[k] = downOrHeld
		}
	}
	return all
}

// unresolved reports whether a voice goes where its tone should not.
func (l *leadings) unresolved(a, b int) bool {
	switch l[a%12] {
	case up:
		return b != a+1
	case downOrHeld:
		return b > a || b < a-2
	}
	return false
}

// clearFrom is the key, E3, from which close chords sound clear (common practice).
const clearFrom = 52

// setCost is what a voicing costs by itself during a span: how far it lies from the
// middle of the range, and how it stands to the player's line.
func (p *player) setCost(sp span, v voicing) int {
	cost := 0
	for _, key := range v {
		cost += abs(2*key-p.low-p.high)/8 + 2*max(0, clearFrom-key)
	}
	for _, n := range p.t.line.between(sp.at, sp.end) {
		low, high := n.key-v[0], v[len(v)-1]-n.key // above 0: the line lies inside
		for _, key := range v {
			if key == n.key {
				cost += 60
			}
		}
		if low > 0 && high > 0 {
			cost += 24
		}
		if low == -1 || high == -1 || low == -2 || high == -2 {
			cost += 3
		}
	}
	return cost
}

// voice finds the cheapest voicing of every chord of the take.
func (p *player) voice() []voicing {
	h := &hall{p: p, sets: map[theory.Chord][]voicing{}, moves: map[turn][][]int{}}
	spans := p.t.spans
	cost := make([][]int, len(spans))
	from := make([][]int, len(spans))
	for i, sp := range spans {
		set := h.of(sp.chord)
		cost[i], from[i] = make([]int, len(set)), make([]int, len(set))
		var move [][]int
		if i > 0 {
			move = h.move(turn{spans[i-1].chord, sp.chord})
		}
		for j, v := range set {
			if i > 0 {
				k := leastVia(cost[i-1], move[j])
				from[i][j], cost[i][j] = k, cost[i-1][k]+move[j][k]
			}
			cost[i][j] += p.setCost(sp, v)
		}
	}
	way := make([]voicing, len(spans))
	last := len(spans) - 1
	k := leastVia(cost[last], make([]int, len(cost[last])))
	for i := last; i >= 0; i-- {
		way[i] = h.of(spans[i].chord)[k]
		k = from[i][k]
	}
	return way
}

// leastVia reports where the sum of two costs is least, the first of several.
func leastVia(a, b []int) int {
	best := 0
	for k := range a {
		if a[k]+b[k] < a[best]+b[best] {
			best = k
		}
	}
	return best
}

// chords plays the strokes on the voicings: the whole chord, or one voice of it.
func (p *player) chords() []sounded {
	set := p.voice()
	var tones []sounded
	for _, s := range p.strokes {
		v := set[s.span]
		if s.Play == 'x' {
			for _, key := range v {
				tones = append(tones, sounded{s, key})
			}
			continue
		}
		i := int(s.Play - 'a')
		key := v[i%len(v)] + 12*(i/len(v))
		tones = append(tones, sounded{s, key})
	}
	return tones
}
