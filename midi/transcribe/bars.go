package transcribe

import (
	"fmt"
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
)

// A bar is a measure of the take.
type bar struct {
	at     rhythm.Offset
	length rhythm.Duration // the meter's, less where another meter cuts it short
	meter  rhythm.Meter
}

// barsOf lays barlines from the take's start to the measure of the last note.
func barsOf(t *timeline.Timeline, last rhythm.Offset) ([]bar, error) {
	changes := slices.Clone(t.Meters)
	if len(changes) == 0 || changes[0].At > 0 {
		changes = slices.Insert(changes, 0, timeline.MeterChange{Meter: rhythm.Meter{Beats: 4, Unit: 4}})
	}
	var bars []bar
	settleChanges(changes)
	for i, c := range changes {
		if c.Meter.Unit > 16 || c.Meter.Beats > 32 {
			return nil, fmt.Errorf("meter %d/%d cannot be written", c.Meter.Beats, c.Meter.Unit)
		}
		end := last + 1
		if i+1 < len(changes) {
			end = min(end, changes[i+1].At)
		}
		for at := c.At; at < end; at = at.Add(c.Meter.Measure()) {
			b := bar{at, c.Meter.Measure(), c.Meter}
			if i+1 < len(changes) {
				b.length = min(b.length, changes[i+1].At.Since(at))
			}
			if len(bars) == maxMeasures {
				return nil, fmt.Errorf("it has more than %d measures", maxMeasures)
			}
			bars = append(bars, b)
		}
	}
	return bars, nil
}

// settleChanges moves the changes of meter that would cut a measure off a sixteenth to the
// next barline; of two at one place the later holds.
func settleChanges(changes []timeline.MeterChange) {
	for i := range changes[1:] {
		c, before := &changes[i+1], changes[i]
		c.At = max(c.At, before.At)
		if cut := c.At.Since(before.At); cut%rhythm.Sixteenth != 0 {
			measure := before.Meter.Measure()
			c.At = before.At.Add((cut + measure - 1) / measure * measure)
		}
	}
}

// early is how much too early a note of the next measure may come.
const early = rhythm.Quarter / 8

// span reports how long the stretches are that the bar's time is cut from: beats, and
// where these are long, quarters.
func (b bar) span() rhythm.Duration {
	if b.meter.Compound() {
		return b.meter.Beat()
	}
	return min(b.meter.Beat(), rhythm.Quarter)
}

// A grid is a number of equal parts of a span.
type grid struct {
	parts int
	cost  float64 // of using it: plainer ones first
}

// grids are the ways to cut a span; a span of three eighths is mostly cut in three.
var (
	simpleGrids   = []grid{{1, 0}, {2, 0.5}, {4, 1}, {3, 1.1}, {6, 3}, {8, 4}, {12, 6}}
	compoundGrids = []grid{{1, 0}, {3, 0.5}, {6, 1}, {2, 2}, {4, 3}, {12, 6}}
)

// finest is the shortest part of a grid: a sixty-fourth of a triplet.
const finest = rhythm.Quarter / 24

// clash is what it costs that two notes fall on one place, and looseness the part of a
// span by which a note may be off at a cost of 1.
const (
	clash     = 6.0
	looseness = 24
)

// choose picks the grid on which the places, counted from the span's start, fall at least
// cost; one on which they fall exactly before all others.
func choose(places []rhythm.Offset, span rhythm.Duration, compound bool) int {
	grids := simpleGrids
	if compound {
		grids = compoundGrids
	}
	best, least, exact := 1, 0.0, false
	for i, g := range grids {
		if i > 0 && span/rhythm.Duration(g.parts) < finest {
			continue
		}
		cost, fits, before := g.cost, true, rhythm.Offset(-1)
		for _, p := range places {
			to := snap(p, span, g.parts)
			off := float64(p-to) * looseness / float64(span)
			cost += off * off
			fits = fits && to == p
			if to == before {
				cost += clash
			}
			before = to
		}
		if i == 0 || fits && !exact || fits == exact && cost < least {
			best, least, exact = g.parts, cost, fits
		}
	}
	return best
}

// snap reports the nearest place of a span cut into so many parts.
func snap(p rhythm.Offset, span rhythm.Duration, parts int) rhythm.Offset {
	n := (2*int64(p)*int64(parts) + int64(span)) / (2 * int64(span))
	return rhythm.Offset(n * int64(span) / int64(parts))
}

// quantise moves the notes onto the grids of their beats. Notes that fall on one place
// become the highest of them. It reports the bars up to the last in which one begins.
func quantise(all []note, bars []bar) ([]note, []bar) {
	parts := map[rhythm.Offset]int{} // by start of the span
	next := 0
	for i, b := range bars {
		end := b.at.Add(b.length)
		for at := b.at; at < end; at = at.Add(b.span()) {
			var places []rhythm.Offset
			first := next
			for ; next < len(all) && (all[next].at < at.Add(b.span()) && all[next].at < end || i == len(bars)-1 && at.Add(b.span()) >= end); next++ {
				places = append(places, all[next].at-at)
			}
			n := choose(places, b.span(), b.meter.Compound())
			parts[at] = n
			for j := first; j < next; j++ {
				all[j].at = at + snap(all[j].at-at, b.span(), n)
			}
		}
	}
	var kept []note
	for _, n := range all {
		if k := len(kept); k > 0 && kept[k-1].at >= n.at {
			if n.key > kept[k-1].key {
				n.at = kept[k-1].at
				kept[k-1] = n
			}
			continue
		}
		kept = append(kept, n)
	}
	for len(bars) > 1 && bars[len(bars)-1].at > kept[len(kept)-1].at {
		bars = bars[:len(bars)-1]
	}
	for i := range kept {
		to := bars[len(bars)-1].at.Add(bars[len(bars)-1].length)
		if i+1 < len(kept) {
			to = kept[i+1].at
		}
		kept[i].end = ending(&kept[i], to, bars, parts)
	}
	return kept, bars
}

// ending reports where the note ends on the page, to being where the next begins: there,
// if it sounds for most of the time until then, or for half of it, as a staccato note
// does; else where its beat's grid has the next place, but never beyond to.
func ending(n *note, to rhythm.Offset, bars []bar, parts map[rhythm.Offset]int) rhythm.Offset {
	sounds, lasts := n.end-n.at, to-n.at
	half := sounds - lasts/2
	if 10*sounds >= 7*lasts || max(half, -half) < lasts/32 {
		return to
	}
	i, found := slices.BinarySearchFunc(bars, n.end, func(b bar, at rhythm.Offset) int { return int(b.at - at) })
	if !found {
		i--
	}
	b := bars[min(max(i, 0), len(bars)-1)]
	at := b.at + (n.end-b.at)/rhythm.Offset(b.span())*rhythm.Offset(b.span())
	cut := max(parts[at], 2) // the grid of a beat that notes begin on, else halves
	if b.meter.Compound() && parts[at] < 2 {
		cut = 3
	}
	width := rhythm.Offset(b.span()) / rhythm.Offset(cut)
	end := at + (n.end-at+width-1)/width*width
	if end <= n.at {
		end = n.at + width
	}
	return min(end, to)
}
