package band

import (
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
)

// What counts for a counter-melody, beside costParallel and costUnison.
const (
	costBeyond   = 40   // further than an octave from the player
	costNear     = 12   // within a whole tone of the player
	costGrating  = 10   // a half step or major seventh from what the player has on a beat
	costOctave   = 12   // the player's note in another octave
	costUpper    = 4    // above the player
	costSide     = 8    // to the player's other side
	costAlike    = 2    // the way the player goes
	costTendency = 7    // a seventh that does not fall, a leading tone that does not rise
	costFive     = 60   // fifths or octaves with the bass
	costTwice    = 1000 // two unisons in a row
	costSilence  = 150  // to leave a note out
	costStill    = 10   // the same note again, under one chord
)

// An entry is a note of a counter-melody before it has its pitch.
type entry struct {
	at, end rhythm.Offset
	span    int
	passing bool // off the beat: it may be foreign to the chord
}

// counter is a line of its own: it moves where the player's line holds or rests, holds
// where that moves, and has chord tones on the beats.
func (c *companion) counter() []timeline.Tone {
	entries := c.entries()
	line := c.line()
	choices := make([][]choice, len(entries))
	for i, e := range entries {
		choices[i] = c.counterChoices(line, e)
	}
	move := func(i int, a, b choice) int { return c.counterMove(line, entries, i, a, b) }
	var way []choice
	for range retries {
		way = cheapest(choices, move)
		if !c.mend(line, entries, choices, way) {
			break
		}
	}
	var tones []timeline.Tone
	for i, w := range way {
		if e := entries[i]; !w.rest {
			tones = append(tones, timeline.Tone{At: e.at, Hold: e.end.Since(e.at), Key: uint8(w.key), Velocity: c.t.velocity(e.at, companyPercent)})
		}
	}
	tones = (&player{t: c.t}).yield(tones)
	for i := range tones {
		tones[i].Hold = c.breathe(tones[i])
	}
	return tones
}

// line is the player's, each note heard for its length on the page.
func (c *companion) line() voice {
	v := make(voice, len(c.notes))
	for i, n := range c.notes {
		v[i] = note{n.At, n.At.Add(n.Length), int(n.Key)}
	}
	return v
}

// breathe is how long a tone sounds: to a breath of the player's, or nearly all of it.
func (c *companion) breathe(n timeline.Tone) rhythm.Duration {
	hold := n.Hold
	for _, b := range c.t.breaths {
		if b > n.At && b <= n.At.Add(hold) {
			hold = b.Since(n.At)
			return max(hold*3/4, hold-rhythm.Sixteenth)
		}
	}
	return hold - min(hold/8, rhythm.Quarter/8)
}

// entries is the rhythm of a counter-melody: it comes in with each measure and chord, on
// the strong beats on which the player has one note, on every beat on which the player
// begins none, and between two such beats. An upbeat is the player's alone, and the last
// note is struck together.
func (c *companion) entries() []entry {
	var at []entry
	for i := range c.t.bars {
		b := &c.t.bars[i]
		if i == 0 && b.Lead > 0 {
			continue
		}
		at = append(at, c.barEntries(b)...)
	}
	for _, sp := range c.t.spans {
		if i := slices.IndexFunc(at, func(e entry) bool { return e.at >= sp.at }); i > 0 && at[i].at > sp.at {
			at = slices.Insert(at, i, entry{at: sp.at})
		}
	}
	last := c.t.lastNotes(&c.t.bars[len(c.t.bars)-1])
	if len(last) > 0 {
		at = slices.DeleteFunc(at, func(e entry) bool { return e.at >= last[0].At })
		for _, n := range last {
			at = append(at, entry{at: n.At, end: n.At.Add(n.Hold)})
		}
	}
	for i := range at {
		at[i].span = c.t.spanAt(at[i].at)
		if i+1 < len(at) && at[i].end == 0 {
			at[i].end = at[i+1].at
		}
		if at[i].end == 0 {
			at[i].end = c.t.l.End
		}
	}
	return at
}

// barEntries are those of one bar.
func (c *companion) barEntries(b *bar) (list []entry) {
	beat := b.Meter.Beat()
	late := beat / 2
	if b.Meter.Compound() {
		late = beat * 2 / 3
	}
	for from := -b.Lead; from < b.Length; from += beat {
		at := b.At.Add(from)
		if from < 0 {
			continue
		}
		onBeat, within := c.begun(at, at+1), c.begun(at+1, at.Add(beat))
		holds := onBeat+within == 0
		switch {
		case onBeat == 0, from == 0, b.Meter.Strong(rhythm.Offset(from+b.Lead)) && within == 0:
			list = append(list, entry{at: at})
		}
		if half := at.Add(late); holds && from+late < b.Length && c.begun(half.Add(beat-late), half.Add(2*beat-late)) == 0 {
			list = append(list, entry{at: half, passing: true})
		}
	}
	return list
}

// begun reports how many notes the player begins from one point to before another.
func (c *companion) begun(from, to rhythm.Offset) int {
	find := func(at rhythm.Offset) int {
		i, _ := slices.BinarySearchFunc(c.notes, at, func(n timeline.Tone, at rhythm.Offset) int { return int(n.At - at) })
		return i
	}
	return find(to) - find(from)
}

// near is the key of the player's that sounds at a point, or the last one before.
func (v voice) near(at rhythm.Offset) int {
	if key, ok := v.at(at); ok {
		return key
	}
	last := v[0].key
	for _, n := range v {
		if n.at <= at {
			last = n.key
		}
	}
	return last
}

// counterChoices lists what may sound at an entry: tones of its chord within an octave of
// the player, in passing any of the scale.
func (c *companion) counterChoices(line voice, e entry) []choice {
	list := []choice{{rest: true, cost: costSilence}}
	sp := &c.t.spans[e.span]
	mine := line.near(e.at)
	for key := max(c.low, mine-12); key <= min(c.high, mine+12); key++ {
		member := sp.members.of(key)
		if member < 0 && !(e.passing && inScale(*sp, key)) {
			continue
		}
		cost := 0
		if member >= 0 {
			cost = counterCosts[member]
		}
		side := -1
		if key > mine {
			side, cost = 1, cost+costUpper
		}
		cost += c.against(line, e, key)
		list = append(list, choice{key: key, cost: cost, heading: side, foreign: member < 0})
	}
	return list
}

// against is what a key costs beside what the player has while it sounds.
func (c *companion) against(line voice, e entry, key int) int {
	cost := 0
	for _, n := range line.between(e.at, e.end) {
		m, _ := c.t.l.At(n.at)
		onBeat := m.Meter.OnBeat(rhythm.Offset(n.at.Since(m.At) + m.Lead))
		switch d := abs(n.key - key); {
		case d == 0:
			cost += costUnison
		case d > 12:
			cost += costBeyond
		case d <= 2:
			cost += costNear
		case d == 12:
			cost += costOctave
		}
		if d := abs(n.key-key) % 12; onBeat && (d == 1 || d == 11) {
			cost += costGrating
		}
	}
	return min(cost, 2*costUnison)
}

// counterMove is what it costs to go on to entry i.
func (c *companion) counterMove(line voice, entries []entry, i int, a, b choice) int {
	if (a.foreign || b.foreign) && (a.rest || b.rest || a.key == b.key || abs(a.key-b.key) > 2) {
		return costStranded
	}
	if a.rest || b.rest {
		return 0
	}
	from, to := entries[i-1], entries[i]
	was, is := line.near(from.at), line.near(to.at)
	cost := 2 * leapCost(abs(b.key-a.key))
	if a.key == b.key && from.span == to.span {
		cost += costStill
	}
	if (is-was)*(b.key-a.key) > 0 {
		cost += costAlike
	}
	if a.heading != b.heading {
		cost += costSide
	}
	if was == a.key && is == b.key {
		cost += costTwice
	}
	sp := &c.t.spans[from.span]
	rises := from.span != to.span && a.key%12 == sp.key.LeadingTone().Chroma() && b.key != a.key+1
	falls := from.span != to.span && sp.members.of(a.key) == 3 && (b.key >= a.key || b.key < a.key-2)
	if rises || falls {
		cost += costTendency
	}
	if c.t.parallelTo(line, from.at, to.at, a.key, b.key) {
		cost += costParallel
	}
	if c.t.bass.parallels(from.at, to.at, a.key, b.key) {
		cost += costFive
	}
	return cost
}

// parallelTo reports whether a line that goes from key a to key b goes in fifths or
// octaves with v: from entry to entry, from the note that v leaves then, or from the beat
// before.
func (t *take) parallelTo(v voice, from, to rhythm.Offset, a, b int) bool {
	if v.parallels(from, to, a, b) {
		return true
	}
	m, _ := t.l.At(to)
	beat := to - rhythm.Offset(m.Meter.Beat())
	other, had := v.at(beat)
	next, has := v.at(to)
	return beat > from && had && has && parallel(a, b, other, next)
}

// mend looks for fifths and octaves in a row from beat to beat that no move from entry to
// entry shows, since a note in passing lies between them; it makes the second dear, and
// reports whether there are any.
func (c *companion) mend(line voice, entries []entry, choices [][]choice, way []choice) (again bool) {
	before := -1 // the last entry on a beat
	for i, w := range way {
		if entries[i].passing {
			continue
		}
		if k := before; k >= 0 && k < i-1 && !w.rest && !way[k].rest && c.t.parallelTo(line, entries[k].at, entries[i].at, way[k].key, w.key) {
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
