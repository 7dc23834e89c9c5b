package critic

import (
	"fmt"
	"math"
	"slices"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// slot is a sixteenth in ticks; a beat has up to slots of them.
const (
	slot  = idiom.Quarter / 4
	slots = 6
)

var (
	cellLabels = labelCells()
	lags       = []int{1, 2, 4, 8}
	lagNames   = []string{" 1 before", " 2 before", " 4 before", " 8 before"}
	lengthMost = []int{6, 12, 18, 24, 36, 48, 72, 96, math.MaxInt} // classes of lengths, each up to so many ticks
	lengthName = []string{"6", "12", "18", "24", "36", "48", "72", "96", "more"}
)

// labelCells spells which sixteenths of a beat a note begins on, the first one first.
func labelCells() []string {
	all := make([]string, 1<<slots)
	for mask := range all {
		word := []byte("------")
		for i := range slots {
			if mask>>i&1 == 1 {
				word[i] = 'x'
			}
		}
		all[mask] = string(word)
	}
	return all
}

// cells is the rhythm of beats: where notes begin in each, and how often one is that of the
// beat before.
func (v *vector) cells(l *line) {
	masks := make([]int, l.Measures*l.length/l.beat)
	hashes := make([]uint64, len(masks))
	for _, n := range l.Notes {
		if i := n.Onset / l.beat; n.Onset >= 0 && i < len(masks) {
			masks[i] |= 1 << min(slots-1, n.Onset%l.beat/slot)
			hashes[i] = (hashes[i]*1000003+uint64(n.Onset%l.beat+1))*1000003 + uint64(min(n.Ticks, 2*l.beat))
		}
	}
	var counts [1 << slots]int
	for _, m := range masks {
		counts[m]++
	}
	v.shares("rhythm", "cell", cellLabels, counts[:])
	for k, lag := range lags[:3] {
		same := 0
		for i := lag; i < len(hashes); i++ {
			if hashes[i] == hashes[i-lag] {
				same++
			}
		}
		v.put("rhythm", "same cell"+lagNames[k], ratio(same, len(hashes)-lag))
	}
	slices.Sort(hashes)
	v.put("rhythm", "kinds of cells", float64(len(slices.Compact(hashes)))/math.Sqrt(float64(len(masks))))
}

// lengths is how long notes are, and where they stand in the measure.
func (v *vector) lengths(l *line) {
	var counts [9]int
	off, syncopated, rests, held, down, beats, sounding := 0, 0, 0, 0, 0, 0, 0
	for i, n := range l.Notes {
		for k, most := range lengthMost {
			if n.Ticks <= most {
				counts[k]++
				break
			}
		}
		sounding += n.Ticks
		at := n.Onset + l.length // a pickup begins before 0
		last := at + n.Ticks - 1
		if at/l.length != last/l.length {
			held++
		}
		if at%l.beat != 0 {
			off++
			if at/l.beat != last/l.beat {
				syncopated++
			}
		} else if n.Onset >= 0 {
			beats++
			if n.Onset%l.length == 0 {
				down++
			}
		}
		if i > 0 && n.Onset > l.Notes[i-1].Onset+l.Notes[i-1].Ticks {
			rests++
		}
	}
	v.shares("rhythm", "ticks", lengthName, counts[:])
	v.put("rhythm", "silence", 1-min(1, ratio(sounding, l.Measures*l.length)))
	v.put("rhythm", "rests", ratio(rests, l.Measures))
	v.put("rhythm", "held over barlines", ratio(held, l.Measures))
	v.put("rhythm", "syncopation", ratio(syncopated, len(l.Notes)))
	v.put("rhythm", "off the beat", ratio(off, len(l.Notes)))
	v.put("rhythm", "downbeats sounded", ratio(down, l.Measures))
	v.put("rhythm", "beats sounded", ratio(beats, l.Measures*l.length/l.beat))
}

// A likeness is how a measure is like another; each field but pitches implies onsets.
type likeness struct{ onsets, contour, shape, notes bool }

func compare(a, b []tune.Note) likeness {
	if len(a) != len(b) {
		return likeness{}
	}
	like := likeness{true, true, true, true}
	for i := range a {
		if a[i].Onset != b[i].Onset {
			return likeness{}
		}
		like.notes = like.notes && a[i].Step == b[i].Step
		if i > 0 {
			x, y := a[i].Step-a[i-1].Step, b[i].Step-b[i-1].Step
			like.contour = like.contour && sign(x) == sign(y)
			like.shape = like.shape && x == y
		}
	}
	return like
}

// shared reports how many onsets two measures have between them, and on how many of these
// both have the same step.
func shared(a, b []tune.Note) (same, all int) {
	all = len(a) + len(b)
	for _, x := range a {
		for _, y := range b {
			if x.Onset == y.Onset {
				all--
				if x.Step == y.Step {
					same++
				}
			}
		}
	}
	return same, all
}

// returns is how often a measure takes up the one 1, 2, 4 and 8 before.
func (v *vector) returns(l *line) {
	for k, lag := range lags {
		onsets, contours, shapes, sequences, exact, same, all := 0, 0, 0, 0, 0, 0, 0
		for i := lag; i < l.Measures; i++ {
			a, b := l.measures[i], l.measures[i-lag]
			like := compare(a, b)
			onsets += one(like.onsets)
			contours += one(like.contour)
			exact += one(like.notes)
			shapes += one(like.shape && len(a) > 1)
			sequences += one(like.shape && len(a) > 1 && !like.notes)
			x, y := shared(a, b)
			same, all = same+x, all+y
		}
		pairs := l.Measures - lag
		v.put("form", "same rhythm"+lagNames[k], ratio(onsets, pairs))
		v.put("form", "same contour"+lagNames[k], ratio(contours, pairs))
		v.put("form", "same shape"+lagNames[k], ratio(shapes, pairs))
		v.put("form", "sequence"+lagNames[k], ratio(sequences, pairs))
		v.put("form", "same measure"+lagNames[k], ratio(exact, pairs))
		v.put("form", "pitches shared"+lagNames[k], ratio(same, all))
	}
}

func one(is bool) int {
	if is {
		return 1
	}
	return 0
}

// variety is how many kinds of measures there are, and how full they are.
func (v *vector) variety(l *line) {
	rhythms, shapes, measures, early, run, longest := 0, 0, 0, 0, 0, 0
	var sizes []float64
	var places, counts [4]int
	for i, a := range l.measures {
		var found likeness
		for j, b := range l.measures[:i] {
			like := compare(a, b)
			if like.onsets && !found.onsets && i > 1 && j < 2 {
				early++
			}
			found.onsets = found.onsets || like.onsets
			found.shape = found.shape || like.shape
			found.notes = found.notes || like.notes
		}
		rhythms += one(!found.onsets)
		shapes += one(!found.shape)
		measures += one(!found.notes)
		if run++; i > 0 && !compare(a, l.measures[i-1]).onsets {
			run = 1
		}
		longest = max(longest, run)
		sizes = append(sizes, float64(len(a)))
		places[i%4] += len(a)
		counts[i%4]++
	}
	v.put("form", "kinds of rhythms", ratio(rhythms, l.Measures))
	v.put("form", "kinds of shapes", ratio(shapes, l.Measures))
	v.put("form", "kinds of measures", ratio(measures, l.Measures))
	v.put("form", "rhythms of the first two", ratio(early, l.Measures-2))
	v.put("form", "longest run of one rhythm", float64(longest))
	average := max(.5, l.Density())
	for k := range places {
		name := ""
		if v.naming {
			name = fmt.Sprintf("notes in measure %d of four", k+1)
		}
		v.put("form", name, ratio(places[k], counts[k])/average)
	}
	v.put("form", "spread of density", deviation(sizes)/average)
	v.put("form", "3 intervals come again", again(l.intervals, 3))
	v.put("form", "5 intervals come again", again(l.intervals, 5))
}

// again reports what share of the runs of n intervals, n up to 5, stood before.
func again(intervals []int, n int) float64 {
	var runs []uint64 // an interval is one of 64
	for i := range max(0, len(intervals)-n+1) {
		run := uint64(0)
		for _, by := range intervals[i : i+n] {
			run = run<<6 | uint64(clip(by, 31)+31)
		}
		runs = append(runs, run)
	}
	number := len(runs)
	slices.Sort(runs)
	return 1 - float64(len(slices.Compact(runs)))/float64(max(1, number))
}
