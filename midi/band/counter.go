package band

// counterCosts is what each member costs in a counter-line, root first: thirds and
// sevenths say most.
var counterCosts = [4]int{3, 0, 2, 0}

const costSilent = 90 // to leave a counter-line's note out

// counterLine finds a line of chord tones against the player's: by steps, without
// parallels to the player or the bass, silent where it would come in the way.
func (p *player) counterLine() []sounded {
	choices := make([][]choice, len(p.strokes))
	for i, s := range p.strokes {
		sp := &p.t.spans[s.span]
		for key := p.low; key <= p.high; key++ {
			if m := sp.members.of(key); m >= 0 {
				choices[i] = append(choices[i], choice{key: key, cost: counterCosts[m] + p.registerCost(key) + p.besideCost(s, key)})
			}
		}
		choices[i] = append(choices[i], choice{rest: true, cost: costSilent})
	}
	return p.way(choices, p.counterMove)
}

// besideCost is what a key costs next to the player's line: either side will do, too
// near will not.
func (p *player) besideCost(s stroke, key int) int {
	cost := 0
	above, below := false, false
	for _, n := range p.t.line.between(s.at, s.end()) {
		above, below = above || key > n.key, below || key < n.key
		switch d := abs(n.key - key); {
		case d == 0:
			cost += costUnison
		case d <= 2:
			cost += 2 * costClose
		}
	}
	if above && below {
		cost += costCross
	}
	return min(cost, costUnison)
}

func (p *player) counterMove(i int, a, b choice) int {
	if a.rest || b.rest {
		return 0
	}
	from, to := p.strokes[i-1].at, p.strokes[i].at
	cost := 0
	switch d := abs(a.key - b.key); {
	case d == 0:
		cost = 4
	case d <= 2:
	case d <= 4:
		cost = 2
	case d <= 7:
		cost = 6
	default:
		cost = 20
	}
	if p.t.line.parallels(from, to, a.key, b.key) || p.t.bass.parallels(from, to, a.key, b.key) {
		cost += costParallel
	}
	return cost
}

// double plays along with the bass, bar by bar: an octave above it where the part's
// range has that and it stays a third below the player, else in unison.
func (p *player) double() []sounded {
	var tones []sounded
	for _, s := range p.strokes {
		from, end := p.t.bars[s.bar].At, p.t.bars[s.bar].End()
		if s.final {
			from, end = s.at, s.at+1
		}
		var along []sounded
		for _, b := range p.t.doubling {
			if from <= b.at && b.at < end && b.bar == s.bar {
				b.Accent = s.Accent
				along = append(along, b)
			}
		}
		if p.clearAbove(along) {
			for i := range along {
				along[i].key += 12
			}
		}
		tones = append(tones, along...)
	}
	return tones
}

// clearAbove reports whether the octave above all the tones is in the part's range and
// clear of the player.
func (p *player) clearAbove(along []sounded) bool {
	for _, s := range along {
		if s.key+12 < p.low || s.key+12 > p.high {
			return false
		}
		for _, n := range p.t.line.between(s.at, s.end()) {
			if s.key+12 >= n.key-2 {
				return false
			}
		}
	}
	return true
}
