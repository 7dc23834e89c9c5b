package band

import (
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// What an interval between company and player costs, in semitones: thirds, sixths, then
// tenths; the rest in need, the unison where the range ends, and what is not here never
// (common practice).
var intervalCosts = map[int]int{3: 0, 4: 0, 8: 2, 9: 2, 15: 9, 16: 9, 5: 12, 7: 14, 12: 30, 6: 34, 10: 50, 2: 60, 0: 55}

// What else counts for a second part.
const (
	costForeign     = 30  // no chord tone under the player's chord tone, where it is heard
	costPassing     = 3   // no chord tone, in passing
	costAlong       = 8   // no chord tone, under one of the player's that is none
	costRub         = 14  // a half step from a chord tone, where it is heard
	costOpenCadence = 200 // no chord tone at the end of a phrase
	costOpenEnd     = 16  // another interval than a third or sixth there
	costAbove       = 9   // above the player
	costSwap        = 500 // on the player's other side, within a phrase
	costSwapAnew    = 25  // the same where a phrase begins
	costMissing     = 75  // to leave a note out
	costMissingEnd  = 300 // at the end of a phrase
	costOverlap     = 6   // beyond where the player just was
	costFourths     = 60  // fourths in a row
	costLeaping     = 4   // a leap where the player goes by step
	costAugmented   = 16  // from the sixth of a minor key to its leading tone, or back
	costHarsh       = 300 // seconds, sevenths or tritones in a row
	costWithBass    = 15  // fifths or octaves with the bass
)

// thirds is a second part: the player's rhythm and length of notes, a third or a sixth
// below, above where below leaves the range.
func (c *companion) thirds() []timeline.Tone {
	ends := c.phraseEnds()
	choices := make([][]choice, len(c.notes))
	for i := range c.notes {
		choices[i] = c.thirdChoices(i, ends[i])
	}
	move := func(i int, a, b choice) int { return c.thirdMove(i, ends[i-1], a, b) }
	var way []choice
	for range retries {
		way = cheapest(choices, move)
		if !c.mendThirds(choices, way) {
			break
		}
	}
	var tones []timeline.Tone
	for i, w := range way {
		if !w.rest {
			n := c.notes[i]
			tones = append(tones, timeline.Tone{At: n.At, Hold: n.Hold, Key: uint8(w.key), Velocity: softer(n.Velocity)})
		}
	}
	return tones
}

// mendThirds looks for fifths and octaves in a row that notes left out bring together; it
// makes the second dear, and reports whether there are any.
func (c *companion) mendThirds(choices [][]choice, way []choice) (again bool) {
	before := -1 // the last note that is played along
	for i, w := range way {
		if w.rest {
			continue
		}
		if k := before; k >= 0 && k < i-1 && parallel(way[k].key, w.key, int(c.notes[k].Key), int(c.notes[i].Key)) {
			again = true
			for j := range choices[i] {
				if choices[i][j].key == w.key && !choices[i][j].rest {
					choices[i][j].cost += costParallel
				}
			}
		}
		before = i
	}
	return again
}

// thirdChoices lists what may sound with note i of the player's.
func (c *companion) thirdChoices(i int, end bool) []choice {
	n := &c.notes[i]
	leave := costMissing
	if end {
		leave = costMissingEnd
	}
	list := []choice{{rest: true, cost: leave, heading: -1}, {rest: true, cost: leave, heading: 1}}
	for key := max(c.low, int(n.Key)-16); key <= min(c.high, int(n.Key)+16); key++ {
		cost, may := intervalCosts[abs(int(n.Key)-key)]
		if !may {
			continue
		}
		fit, may := c.fit(n, key, end)
		if !may {
			continue
		}
		if key <= int(n.Key) {
			list = append(list, choice{key: key, cost: cost + fit, heading: -1})
		}
		if key >= int(n.Key) { // a unison belongs to either side
			list = append(list, choice{key: key, cost: cost + fit + costAbove, heading: 1})
		}
	}
	return list
}

// fit is what a key costs against the chords that hold while the player's note sounds; it
// may not be foreign to the scale, or make a dissonance that the chord does not have.
func (c *companion) fit(n *timeline.Tone, key int, end bool) (cost int, may bool) {
	first := c.t.spanAt(n.At)
	sp := &c.t.spans[first]
	member, own := sp.members.of(key) >= 0, sp.members.of(int(n.Key)) >= 0
	d := abs(int(n.Key)-key) % 12
	if !inScale(*sp, key) || harsh(d) && !(member && own) {
		return 0, false
	}
	heard := c.isHeard(n)
	switch {
	case member:
	case !heard:
		cost += costPassing
	case own:
		cost += costForeign
	default:
		cost += costAlong
	}
	if !member && heard && sp.rubs(key) {
		cost += costRub
	}
	if end && !member {
		cost += costOpenCadence
	}
	if end && !sweet(d) {
		cost += costOpenEnd
	}
	for i := first + 1; i < len(c.t.spans) && c.t.spans[i].at < n.At.Add(n.Hold); i++ {
		if later := &c.t.spans[i]; later.members.of(key) < 0 {
			cost += costAlong
			if later.rubs(key) {
				cost += costRub
			}
		}
	}
	return cost, true
}

// isHeard reports whether a note is heard against its chord: it begins on a felt beat or
// lasts one.
func (c *companion) isHeard(n *timeline.Tone) bool {
	m, _ := c.t.l.At(n.At)
	return n.Length >= m.Meter.Beat() || m.Meter.OnBeat(rhythm.Offset(n.At.Since(m.At)+m.Lead))
}

// rubs reports whether a key lies a half step from a tone of the chord.
func (sp *span) rubs(key int) bool { return sp.members.of(key+1) >= 0 || sp.members.of(key+11) >= 0 }

// augmented reports whether two keys are the augmented second of a minor key.
func (sp *span) augmented(a, b int) bool {
	return sp.key.Mode == theory.Minor && abs(a-b) == 3 && min(a, b)%12 == sp.key.Harmonic(6).Chroma()
}

// sweet reports whether an interval within the octave, in semitones, is a third or sixth.
func sweet(d int) bool { return d == 3 || d == 4 || d == 8 || d == 9 }

// harsh reports whether it is a second, a seventh or a tritone.
func harsh(d int) bool { return d == 1 || d == 2 || d == 6 || d == 10 || d == 11 }

// thirdMove is what it costs to go on to note i of the player's; anew says that a phrase
// begins with it.
func (c *companion) thirdMove(i int, anew bool, a, b choice) int {
	cost := 0
	if a.heading != b.heading {
		cost = costSwap
		if anew {
			cost = costSwapAnew
		}
	}
	if a.rest || b.rest {
		return cost
	}
	from, to := &c.notes[i-1], &c.notes[i]
	was, is := int(from.Key), int(to.Key)
	cost += max(0, leapCost(abs(b.key-a.key))-abs(is-was)/2)
	switch step := abs(is - was); {
	case step == 0 && a.key != b.key:
		cost += costLeaping
	case step > 0 && step <= 2 && abs(b.key-a.key) > 2:
		cost += costLeaping
	}
	if c.t.spans[c.t.spanAt(to.At)].augmented(a.key, b.key) {
		cost += costAugmented
	}
	if a.heading < 0 && (b.key >= was || a.key >= is) || a.heading > 0 && (b.key <= was || a.key <= is) {
		cost += costOverlap
	}
	before, after := abs(was-a.key)%12, abs(is-b.key)%12
	if sweet(before) && sweet(after) && (before < 5) != (after < 5) {
		cost++ // thirds go on as thirds
	}
	if a.key == b.key || was == is {
		return cost
	}
	switch {
	case parallel(a.key, b.key, was, is):
		cost += costParallel
	case harsh(before) && harsh(after):
		cost += costHarsh
	case before == 5 && after == 5:
		cost += costFourths
	}
	if c.t.bass.parallels(from.At, to.At, a.key, b.key) {
		cost += costWithBass
	}
	return cost
}

// leapCost is what a line's move by so many semitones costs: steps nothing.
func leapCost(d int) int {
	switch {
	case d == 0:
		return 2
	case d <= 2:
		return 0
	case d <= 4:
		return 1
	case d <= 5:
		return 3
	case d <= 7:
		return 5
	case d <= 9:
		return 9
	case d <= 12:
		return 16
	}
	return 40
}
