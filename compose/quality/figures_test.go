package quality_test

import (
	"fmt"
	"slices"

	"onward/compose/score"
	"onward/rhythm"
)

// A tally counts kinds of something.
type tally map[string]float64

// The names of the distributions of kinds.
const (
	signed      = "signed intervals"
	moves       = "repeat, step, leap"
	afterLeap   = "after a leap"
	leapAnswer  = "after a leap: step back or not"
	afterStep   = "after a step"
	positions   = "onset position"
	finals      = "final degree"
	starts      = "start degree"
	durations   = "durations"
	shapes      = "phrase shape"
	inKey       = "in the key or not"
	syncopation = "syncopated or not"
	chordTones  = "strong beats in the chord"
	rhythms     = "measure rhythm " // with the meter
	pairs       = "two measures' rhythm "
)

// The names of the quantities that each melody has one of.
const (
	steps        = "steps, % of intervals"
	stepsMoving  = "steps, % of moving"
	repeats      = "repeats, % of intervals"
	wideLeaps    = "leaps of 6+, %"
	turns        = "turns, % of moving"
	onBeat       = "on a beat, %"
	outOfKey     = "out of key, %"
	perMeasure   = "notes a measure"
	distinct     = "distinct rhythms a measure"
	longest      = "longest run of one pitch"
	span         = "range, semitones"
	largest      = "largest leap, semitones"
	distinctIn16 = "distinct rhythms in 16"
	rhythmRun    = "longest run of one rhythm"
)

// lags are how many measures back a measure is compared with.
var lags = []int{1, 2, 4, 8, 16}

// likes name the ways in which a measure may be like an earlier one.
var likes = []string{"rhythm", "shape", "same"}

// likeness names the share of measures that are like the one so many before.
func likeness(like string, lag int) string { return fmt.Sprintf("%s %d back, %%", like, lag) }

// Figures are all that is measured of one melody.
type figures struct {
	meter   string
	counts  map[string]tally
	values  map[string]float64
	contour [11]float64 // sums over phrases
	phrases float64
}

// measureOf measures a part.
func measureOf(p *score.Part) *figures {
	m := melodyOf(p)
	f := &figures{counts: map[string]tally{}, values: map[string]float64{}}
	if len(m.tones) < 2 {
		return f
	}
	f.meter = meterName(m.tones[0].meter)
	f.intervals(m)
	f.places(m)
	f.degrees(m)
	f.arches(m)
	f.rhythms(m)
	f.form(m)
	return f
}

// count adds one to a kind.
func (f *figures) count(distribution, kind string) {
	if f.counts[distribution] == nil {
		f.counts[distribution] = tally{}
	}
	f.counts[distribution][kind]++
}

// signedKind names an interval as the reference file does.
func signedKind(semitones int) string {
	switch max(semitones, -semitones) {
	case 0:
		return "0"
	case 1, 2, 3, 4, 5, 7, 8, 9, 12:
		return fmt.Sprintf("%+d", semitones)
	}
	if semitones > 0 {
		return "other_up"
	}
	return "other_down"
}

func moveKind(semitones int) string {
	switch max(semitones, -semitones) {
	case 0:
		return "repeat"
	case 1, 2:
		return "step"
	}
	return "leap"
}

// answerKind names how an interval goes on from the one before.
func answerKind(before, next int) string {
	switch {
	case next == 0:
		return "repeat"
	case (before > 0) == (next > 0):
		return "same"
	}
	return "contrary"
}

func (f *figures) intervals(m *melody) {
	all := m.semitones()
	run, longestRun, turned, before := 1, 1, 0, 0
	for i, s := range all {
		f.count(signed, signedKind(s))
		f.count(moves, moveKind(s))
		if s == 0 {
			run++
			longestRun = max(longestRun, run)
		} else {
			run = 1
			if before != 0 && (before > 0) != (s > 0) {
				turned++
			}
			before = s
		}
		f.values[largest] = max(f.values[largest], float64(max(s, -s)))
		if i+1 < len(all) {
			f.answer(s, all[i+1])
		}
	}
	n, c := float64(len(all)), f.counts[moves]
	moving := max(n-c["repeat"], 1)
	f.values[steps] = 100 * c["step"] / n
	f.values[stepsMoving] = 100 * c["step"] / moving
	f.values[repeats] = 100 * c["repeat"] / n
	f.values[turns] = 100 * float64(turned) / max(moving-1, 1) // of the pairs of moves
	f.values[longest] = float64(longestRun)
	wide := 0
	for _, s := range all {
		if max(s, -s) > 5 {
			wide++
		}
	}
	f.values[wideLeaps] = 100 * float64(wide) / n
}

// answer counts what follows a wide leap, and what follows a step.
func (f *figures) answer(s, next int) {
	kind := answerKind(s, next)
	switch size := max(s, -s); {
	case size > 5:
		f.count(afterLeap, kind)
		if kind == "contrary" && max(next, -next) <= 2 {
			f.count(leapAnswer, "contrary_step")
		} else {
			f.count(leapAnswer, "other")
		}
	case size == 1 || size == 2:
		f.count(afterStep, kind)
	}
}

// positionKind names where in the measure a tone begins.
func positionKind(m rhythm.Meter, at rhythm.Offset) string {
	switch {
	case at == 0:
		return "downbeat"
	case m.Strong(at):
		return "half_bar"
	case m.OnBeat(at):
		return "other_beat"
	}
	return "offbeat"
}

func (f *figures) places(m *melody) {
	low, high, on := 1000, 0, 0
	for _, t := range m.tones {
		f.count(positions, positionKind(t.meter, t.at))
		f.count(durations, quarters(t.length))
		beat := rhythm.Offset(t.meter.Beat())
		into := t.at % beat
		if into != 0 && rhythm.Offset(t.length) > beat-into {
			f.count(syncopation, "syncopated")
		} else {
			f.count(syncopation, "not")
		}
		if into == 0 {
			on++
		}
		low, high = min(low, t.pitch.MIDI()), max(high, t.pitch.MIDI())
	}
	sounding := 0
	for i := range m.measures {
		if m.measures[i].sounds {
			sounding++
		}
	}
	n := float64(len(m.tones))
	f.values[onBeat] = 100 * float64(on) / n
	f.values[perMeasure] = n / float64(sounding)
	f.values[span] = float64(high - low)
}

// degrees counts the degrees of the first and the last tone, and tones that the key
// signature does not have (the raised steps of minor among them).
func (f *figures) degrees(m *melody) {
	degree := func(t tone) string {
		if d, altered := t.key.DegreeOf(t.pitch.Class()); altered == 0 {
			return fmt.Sprint(d)
		}
		return "chrom"
	}
	f.count(starts, degree(m.tones[0]))
	last := m.tones[len(m.tones)-1]
	last.key = m.key
	f.count(finals, degree(last))
	out := 0
	for _, t := range m.tones {
		if t.key.Alter(t.pitch.Letter) != t.pitch.Alter {
			out++
			f.count(inKey, "out")
		} else {
			f.count(inKey, "in")
		}
	}
	f.values[outOfKey] = 100 * float64(out) / float64(len(m.tones))
}

// phraseMeasures is the window in which contour is looked at.
const phraseMeasures = 4

// arches looks at the contour of windows of four measures from the first full one.
func (f *figures) arches(m *melody) {
	first := 0
	if m.measures[0].pickup {
		first = 1
	}
	for ; first < len(m.measures); first += phraseMeasures {
		last := min(first+phraseMeasures, len(m.measures)) - 1
		var in []tone
		for _, t := range m.tones {
			if t.measure >= first && t.measure <= last {
				in = append(in, t)
			}
		}
		if len(in) < 3 || last-first+1 < phraseMeasures {
			continue
		}
		f.count(shapes, shapeKind(in))
		f.phrases++
		for i, x := range contourOf(in) {
			f.contour[i] += x
		}
	}
}

// contourOf reads the pitch at 11 equally spaced times from the first tone's start to
// the last one's end, less their mean; in a rest the tone before it counts.
func contourOf(in []tone) [11]float64 {
	var out [11]float64
	start, end := in[0].start, in[len(in)-1].end()
	mean := 0.0
	for i := range out {
		at := start + (end-start)*int64(i)/10
		k := 0
		for k+1 < len(in) && in[k+1].start <= at {
			k++
		}
		out[i] = float64(in[k].pitch.MIDI())
		mean += out[i] / 11
	}
	for i := range out {
		out[i] -= mean
	}
	return out
}

// shapeKind names a phrase's shape by its first tone, the mean of the inner ones and its
// last (the nine-class scheme), half a semitone counting as level.
func shapeKind(in []tone) string {
	middle := 0.0
	for _, t := range in[1 : len(in)-1] {
		middle += float64(t.pitch.MIDI()) / float64(len(in)-2)
	}
	way := func(d float64) int {
		switch {
		case d > 0.5:
			return 2
		case d < -0.5:
			return 0
		}
		return 1
	}
	a := way(middle - float64(in[0].pitch.MIDI()))
	b := way(float64(in[len(in)-1].pitch.MIDI()) - middle)
	return [3][3]string{
		{"descending", "desc-horizontal", "concave"},
		{"horiz-desc", "horizontal", "horiz-asc"},
		{"convex (arch)", "asc-horizontal", "ascending"},
	}[a][b]
}

// rhythms counts the rhythms of full measures, alone and in pairs.
func (f *figures) rhythms(m *melody) {
	before := ""
	kinds, sounding := map[string]bool{}, 0
	for i := range m.measures {
		r := m.fullRhythm(i)
		meter := meterName(m.measures[i].meter)
		if r != "" {
			f.count(rhythms+meter, r)
		}
		if r != "" && before != "" {
			f.count(pairs+meter, before+" | "+r)
		}
		before = r
		if len(m.measures[i].tones) > 0 {
			sounding++
			kinds[m.placed(i)] = true
		}
	}
	f.values[distinct] = float64(len(kinds)) / float64(max(sounding, 1))
}

// form compares each measure with earlier ones. Shares are of all sounding measures, as
// the reference file has them: one that has none so far before it is like none.
func (f *figures) form(m *melody) {
	texts := make([][3]string, len(m.measures))
	var sounding []string
	for i := range m.measures {
		texts[i][0], texts[i][1], texts[i][2] = m.onsets(i)
		if texts[i][0] != "" {
			sounding = append(sounding, texts[i][0])
		}
	}
	for _, lag := range lags {
		hits := [3]int{}
		for i := lag; i < len(texts); i++ {
			if texts[i][0] == "" {
				continue
			}
			for k := range hits {
				if texts[i][k] == texts[i-lag][k] {
					hits[k]++
				}
			}
		}
		for k, like := range likes {
			f.values[likeness(like, lag)] = 100 * float64(hits[k]) / float64(max(len(sounding), 1))
		}
	}
	f.rhythmForm(sounding)
}

// rhythmForm looks at how many rhythms there are, and for how long one goes on.
func (f *figures) rhythmForm(sounding []string) {
	windows, sum := 0, 0
	for i := 0; i+16 <= len(sounding); i += 16 {
		window := slices.Clone(sounding[i : i+16])
		slices.Sort(window)
		sum += len(slices.Compact(window))
		windows++
	}
	if windows > 0 {
		f.values[distinctIn16] = float64(sum) / float64(windows)
	}
	run := 0
	for i, r := range sounding {
		if i > 0 && r == sounding[i-1] {
			run++
		} else {
			run = 1
		}
		f.values[rhythmRun] = max(f.values[rhythmRun], float64(run))
	}
}
