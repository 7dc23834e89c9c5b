package critic

import (
	"math"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// A vector is the features of a tune, always the same ones in the same order.
type vector struct {
	values []float64
	names  []string
	naming bool // else names stay empty, since making them takes longer than all the rest
}

// put adds one feature.
func (v *vector) put(group, name string, x float64) {
	v.values = append(v.values, x)
	if v.naming {
		v.names = append(v.names, group+"."+name)
	}
}

// shares adds what share each of the counts has of all.
func (v *vector) shares(group, name string, labels []string, counts []int) {
	total := 0
	for _, n := range counts {
		total += n
	}
	for i, n := range counts {
		v.values = append(v.values, ratio(n, total))
		if v.naming {
			v.names = append(v.names, group+"."+name+" "+labels[i])
		}
	}
}

// ratio is a/b, and 0 of nothing.
func ratio(a, b int) float64 { return float64(a) / float64(max(1, b)) }

// A line is a tune with what several features ask of it.
type line struct {
	*tune.Tune
	measures     [][]tune.Note // onsets counted from the barline
	intervals    []int         // in steps
	length, beat int           // ticks of a measure and of a beat
}

func lineOf(t *tune.Tune) *line {
	l := &line{Tune: t, measures: t.ByMeasure(), length: t.Measured(), beat: t.Beat()}
	for i := 1; i < len(t.Notes); i++ {
		l.intervals = append(l.intervals, t.Notes[i].Step-t.Notes[i-1].Step)
	}
	return l
}

// Features reports the features of a tune that has notes. What tells real tunes from ours for
// no reason of music is not among them: mode, compass, altered notes.
func Features(t *tune.Tune) []float64 {
	v := vector{values: make([]float64, 0, len(names))}
	v.add(lineOf(t))
	return v.values
}

// names are the names of the features, GROUP.NAME.
var names = nameAll()

func nameAll() []string {
	v := vector{naming: true}
	v.add(lineOf(&tune.Tune{Beats: 2, Unit: 4, Measures: 1, Notes: []tune.Note{{Ticks: idiom.Quarter}}}))
	return v.names
}

// Names reports the name of each feature, GROUP.NAME.
func Names() []string { return names }

func (v *vector) add(l *line) {
	v.moves(l)
	v.degrees(l)
	v.leaps(l)
	v.barlines(l)
	v.cells(l)
	v.lengths(l)
	v.returns(l)
	v.variety(l)
	v.phrases(l)
	v.ends(l)
	v.contour(l)
	v.harmony(l)
}

var phraseNames = []string{"measure 4 ", "measure 8 ", "measure 12 ", "measure 16 "}

// phrases is how phrases end, in each fourth measure; what a tune has no measures for is 0.
func (v *vector) phrases(l *line) {
	average := max(.5, l.Density())
	for p, name := range phraseNames {
		i := 4*p + 3
		var notes []tune.Note
		if i < l.Measures {
			notes = l.measures[i]
		}
		var last tune.Note
		var lastDegree, firstDegree [7]int
		silence := 0.0
		if n := len(notes); n > 0 {
			last = notes[n-1]
			lastDegree[mod7(last.Step)]++
			silence = float64(l.length-last.Onset-last.Ticks) / float64(l.length)
		}
		for _, n := range notes {
			if n.Onset%l.beat == 0 {
				firstDegree[mod7(n.Step)]++
				break
			}
		}
		v.put("cadence", name+"notes", float64(len(notes))/average)
		v.put("cadence", name+"last note long", ratio(last.Ticks, l.beat))
		v.put("cadence", name+"last note late", ratio(last.Onset, l.length))
		v.put("cadence", name+"silence", silence)
		v.shares("cadence", name+"last degree", degreeLabels, lastDegree[:])
		v.shares("cadence", name+"first degree", degreeLabels, firstDegree[:])
	}
}

// ends is how a tune begins and ends.
func (v *vector) ends(l *line) {
	var first, last [7]int
	var approach [9]int
	pickup := l.Pickup()
	from := 0
	for _, p := range pickup {
		from = max(from, -p.Onset)
	}
	if len(l.measures[0]) > 0 {
		first[mod7(l.measures[0][0].Step)]++
	}
	end := l.Notes[len(l.Notes)-1]
	last[mod7(end.Step)]++
	if n := len(l.intervals); n > 0 {
		approach[clip(l.intervals[n-1], 4)+4]++
	}
	v.put("cadence", "pickup notes", float64(len(pickup)))
	v.put("cadence", "pickup length", ratio(from, l.length))
	v.shares("cadence", "first degree", degreeLabels, first[:])
	v.shares("cadence", "last degree", degreeLabels, last[:])
	v.shares("cadence", "last interval", signed[2:11], approach[:])
	v.put("cadence", "last note long", ratio(end.Ticks, l.beat))
	v.put("cadence", "last note late", ratio(((end.Onset%l.length)+l.length)%l.length, l.length))
}

var eighthNames = []string{"eighth 1", "eighth 2", "eighth 3", "eighth 4", "eighth 5", "eighth 6", "eighth 7", "eighth 8"}

// contour is how high the eighths of a tune lie above its mean, in steps, and where its
// highest and lowest notes stand.
func (v *vector) contour(l *line) {
	total, sum := l.Measures*l.length, 0
	var heights, notes [8]int
	high, low := l.Notes[0], l.Notes[0]
	for _, n := range l.Notes {
		sum += n.Step
		if n.Step > high.Step {
			high = n
		}
		if n.Step < low.Step {
			low = n
		}
		if e := n.Onset * 8 / total; n.Onset >= 0 && e < 8 {
			heights[e] += n.Step
			notes[e]++
		}
	}
	peaks := 0
	for _, n := range l.Notes {
		if n.Step == high.Step {
			peaks++
		}
	}
	mean := ratio(sum, len(l.Notes))
	for e, name := range eighthNames {
		height := 0.0
		if notes[e] > 0 {
			height = ratio(heights[e], notes[e]) - mean
		}
		v.put("contour", name, height)
	}
	v.put("contour", "place of peak", ratio(high.Onset, total))
	v.put("contour", "share of peak", ratio(peaks, len(l.Notes)))
	v.put("contour", "place of lowest", ratio(low.Onset, total))
	v.spans(l)
}

// spans is how far measures lie apart, and how wide each is, in steps.
func (v *vector) spans(l *line) {
	var means []float64
	width := 0
	for _, notes := range l.measures {
		if len(notes) == 0 {
			continue
		}
		high, low, sum := notes[0].Step, notes[0].Step, 0
		for _, n := range notes {
			high, low, sum = max(high, n.Step), min(low, n.Step), sum+n.Step
		}
		means = append(means, ratio(sum, len(notes)))
		width += high - low
	}
	v.put("contour", "spread of measures", deviation(means))
	v.put("contour", "span of a measure", ratio(width, len(means)))
}

// deviation is the standard deviation; 0 of nothing.
func deviation(all []float64) float64 {
	if len(all) == 0 {
		return 0
	}
	mean, sum := 0.0, 0.0
	for _, x := range all {
		mean += x / float64(len(all))
	}
	for _, x := range all {
		sum += float64((x - mean) * (x - mean))
	}
	return math.Sqrt(sum / float64(len(all)))
}

// harmony is how clearly measures are of one chord, and of which.
func (v *vector) harmony(l *line) {
	var chords [5]int
	clear, tonic := 0.0, 0.0
	pure, changes, sounding, before := 0, 0, 0, -1
	for _, notes := range l.measures {
		if len(notes) == 0 {
			continue
		}
		chord, fit, one := chordOf(notes)
		chords[chord]++
		clear += fit
		tonic += one
		if fit > .99 {
			pure++
		}
		if before >= 0 && chord != before {
			changes++
		}
		before = chord
		sounding++
	}
	v.put("harmony", "time in I", tonic/float64(l.Measures))
	v.put("harmony", "clearness", clear/float64(max(1, sounding)))
	v.put("harmony", "pure measures", ratio(pure, sounding))
	v.shares("harmony", "chord", []string{"I", "V", "IV", "ii", "vi"}, chords[:])
	v.put("harmony", "changes", ratio(changes, sounding-1))
	broken := 0
	for i := 2; i < len(l.Notes); i++ {
		a, b, c := l.Notes[i-2].Step, l.Notes[i-1].Step, l.Notes[i].Step
		if abs(a-b) >= 2 && abs(b-c) >= 2 && inOneChord(a, b, c) {
			broken++
		}
	}
	v.put("harmony", "broken chords", ratio(broken, len(l.Notes)))
}

// members says which degrees each chord has.
var members = func() (all [5][7]bool) {
	for chord, degrees := range tune.Triads {
		for _, d := range degrees {
			all[chord][d] = true
		}
	}
	return all
}()

// chordOf reports the chord that fits most of the time of some notes, what share of the time
// that is, and the share of the tonic chord. Of two alike I, V and IV come first.
func chordOf(notes []tune.Note) (chord int, fit, tonic float64) {
	total := 0
	var time [5]int
	for _, n := range notes {
		total += n.Ticks
		for c := range members {
			if members[c][mod7(n.Step)] {
				time[c] += n.Ticks
			}
		}
	}
	best := -1.0
	for c := range time {
		x := ratio(time[c], total)
		if c <= int(idiom.IV) {
			x += .02
		}
		if x > best {
			chord, best = c, x
		}
	}
	return chord, ratio(time[chord], total), ratio(time[idiom.I], total)
}

func inOneChord(a, b, c int) bool {
	for _, has := range members {
		if has[mod7(a)] && has[mod7(b)] && has[mod7(c)] {
			return true
		}
	}
	return false
}
