package quality_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// A set is a set of melodies as it is compared: ours or real ones.
type set struct {
	counts map[string]tally // shares that sum to 1; "other" for what is not told apart
	dense  map[string]density
	points map[string][]float64 // a few numbers that are compared one by one
}

func newSet() *set {
	return &set{map[string]tally{}, map[string]density{}, map[string][]float64{}}
}

// other is the kind of all that a distribution does not tell apart.
const other = "other"

// percent makes shares of percentages; what is missing to 100 is other.
func percent(t tally) tally {
	out, sum := tally{}, 0.0
	for k, x := range t {
		out[k] = x / 100
		sum += x
	}
	if len(t) > 0 && sum < 99.8 {
		out[other] += (100 - sum) / 100
	}
	return share(out)
}

// The names of rows that are points.
const (
	contour     = "phrase contour, 11 points"
	spanPoints  = "range: p10, median, p90"
	leapPoints  = "largest leap: median, p90"
	formPoints  = "form: "
	formRhythms = "form: distinct rhythms in 16"
	formRun     = "form: longest run of one rhythm"
)

// quantityNames are the reference file's names of what each melody has one of.
var quantityNames = map[string]string{
	steps: "step_pct", stepsMoving: "step_pct_of_moving", repeats: "repeat_pct", wideLeaps: "leap_gt5_pct",
	turns: "direction_change_pct_of_moving", onBeat: "on_beat_pct", outOfKey: "out_of_key_pct",
	perMeasure: "notes_per_bar", distinct: "distinct_bar_rhythms_per_bar", longest: "longest_run_of_identical_pitch",
}

// grains are the smallest differences that count.
var grains = map[string]float64{
	steps: 1, stepsMoving: 1, repeats: 1, wideLeaps: 1, turns: 1, onBeat: 1, outOfKey: 1,
	perMeasure: 0.1, distinct: 0.02, longest: 1,
}

// set makes a set of a corpus.
func (c *corpus) set() *set {
	s := newSet()
	put := func(name string, t tally) {
		if t = percent(t); t != nil {
			s.counts[name] = t
		}
	}
	put(signed, c.Signed)
	put(moves, tally{"repeat": c.Repeat, "step": c.Step, "leap": c.Leap})
	put(afterLeap, tally{"contrary": c.AfterLeap["contrary"], "same": c.AfterLeap["same"], "repeat": c.AfterLeap["repeat"]})
	put(leapAnswer, tally{"contrary_step": c.AfterLeap["contrary_step"], other: 100 - c.AfterLeap["contrary_step"]})
	put(inKey, tally{"out": c.OutOfKey, "in": 100 - c.OutOfKey})
	for name, t := range map[string]tally{signed: c.Signed, afterStep: c.AfterStep, positions: c.Positions, finals: c.Finals,
		starts: c.Starts, durations: c.Durations, shapes: c.Shapes} {
		put(name, t)
	}
	for meter, list := range c.Rhythms {
		put(rhythms+meter, tally(list))
	}
	for name, theirs := range quantityNames {
		if q, ok := c.PerMelody[theirs]; ok {
			s.dense[name] = densityOf([5]float64{q.P5, q.P25, q.Median, q.P75, q.P95}, grains[name])
		}
	}
	c.addPoints(s)
	return s
}

// addPoints adds the quantities of which the file has only a few numbers.
func (c *corpus) addPoints(s *set) {
	if len(c.Contour) == 11 {
		s.points[contour] = c.Contour
	}
	if r := c.Range; r.P10 != nil && r.P90 != nil {
		s.points[spanPoints] = []float64{*r.P10, r.Median, *r.P90}
	}
	if l := c.Largest; l.P90 != nil {
		s.points[leapPoints] = []float64{l.Median, *l.P90}
	}
}

// addForm adds a corpus's figures of form.
func (s *set) addForm(f *formRow) {
	if f == nil {
		return
	}
	for i, row := range []map[string]float64{f.Rhythm, f.Shape, f.Same} {
		var p []float64
		for _, lag := range lags {
			p = append(p, row[fmt.Sprint(lag)])
		}
		s.points[formPoints+likes[i]] = p
	}
	s.points[formRhythms], s.points[formRun] = []float64{f.Distinct}, []float64{f.Run}
}

// set makes a set of corpora pooled by their notes.
func (r *reference) set(names ...string) *set {
	var sets []*set
	var weights []float64
	total := 0.0
	for _, n := range names {
		c := r.corpora[n]
		s := c.set()
		s.addForm(r.form[n])
		sets, weights, total = append(sets, s), append(weights, float64(c.Notes)), total+float64(c.Notes)
	}
	for i := range weights {
		weights[i] /= total
	}
	return poolSets(sets, weights)
}

// poolSets pools the sets by weight. A distribution that only some have is pooled of
// these.
func poolSets(sets []*set, weights []float64) *set {
	out := newSet()
	for _, name := range union(sets, func(s *set) map[string]tally { return s.counts }) {
		have, w := having(sets, weights, func(s *set) tally { return s.counts[name] }, func(t tally) bool { return t != nil })
		out.counts[name] = pool(have, w)
	}
	for _, name := range union(sets, func(s *set) map[string]density { return s.dense }) {
		have, w := having(sets, weights, func(s *set) density { return s.dense[name] }, func(d density) bool { return d != nil })
		out.dense[name] = mix(have, w)
	}
	for _, name := range union(sets, func(s *set) map[string][]float64 { return s.points }) {
		have, w := having(sets, weights, func(s *set) []float64 { return s.points[name] }, func(p []float64) bool { return p != nil })
		sum := make([]float64, len(have[0]))
		for i, p := range have {
			for k, x := range p {
				sum[k] += w[i] * x
			}
		}
		out.points[name] = sum
	}
	return out
}

// union lists the names that any of the sets has, in order.
func union[T any](sets []*set, of func(*set) map[string]T) []string {
	all := map[string]bool{}
	for _, s := range sets {
		for name := range of(s) {
			all[name] = true
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// having lists what those sets have that have it, with weights that sum to 1.
func having[T any](sets []*set, weights []float64, of func(*set) T, has func(T) bool) (have []T, w []float64) {
	for i, s := range sets {
		if x := of(s); has(x) {
			have, w = append(have, x), append(w, weights[i])
		}
	}
	return have, shares(w)
}

// A weighed melody counts as so many.
type weighed struct {
	*figures
	weight float64
}

// leastMeasures is how many measures of a meter it takes to speak of their rhythms: fewer
// look poorer, and farther from everything, than they are.
const leastMeasures = 200

// setOf makes a set of measured melodies.
func setOf(all []weighed) *set {
	s := newSet()
	for name, t := range countsOf(all) {
		if n := plain(slices.Collect(maps.Values(t.raw))); !strings.HasPrefix(name, rhythms) || n >= leastMeasures {
			s.counts[name] = share(t.weighed)
		}
	}
	s.points[contour] = contourMean(all)
	for name := range quantityNames {
		if v, w := column(all, name); len(v) > 0 {
			var q [5]float64
			for i, p := range atQuantiles {
				q[i] = quantile(v, w, p)
			}
			s.dense[name] = densityOf(q, grains[name])
		}
	}
	s.addPoints(all)
	return s
}

// A tallied distribution is the melodies' counts together, as they are and weighed.
type tallied struct{ raw, weighed tally }

func countsOf(all []weighed) map[string]tallied {
	out := map[string]tallied{}
	for _, f := range all {
		for name, t := range f.counts {
			if _, ok := out[name]; !ok {
				out[name] = tallied{tally{}, tally{}}
			}
			for k, x := range t {
				out[name].raw[k] += x
				out[name].weighed[k] += x * f.weight
			}
		}
	}
	return out
}

// contourMean is the mean contour of all phrases; nil of none.
func contourMean(all []weighed) []float64 {
	mean, phrases := make([]float64, 11), 0.0
	for _, f := range all {
		phrases += f.phrases * f.weight
	}
	if phrases == 0 {
		return nil
	}
	for _, f := range all {
		for i, x := range f.contour {
			mean[i] += x * f.weight / phrases
		}
	}
	return mean
}

// column lists a quantity of the melodies that have it, with their weights.
func column(all []weighed, name string) (values, weights []float64) {
	for _, f := range all {
		if x, ok := f.values[name]; ok && f.weight > 0 {
			values, weights = append(values, x), append(weights, f.weight)
		}
	}
	return values, weights
}

// addPoints adds the quantities of which the reference has only a few numbers.
func (s *set) addPoints(all []weighed) {
	if v, w := column(all, span); len(v) > 0 {
		s.points[spanPoints] = []float64{quantile(v, w, 0.1), quantile(v, w, 0.5), quantile(v, w, 0.9)}
	}
	if v, w := column(all, largest); len(v) > 0 {
		s.points[leapPoints] = []float64{quantile(v, w, 0.5), quantile(v, w, 0.9)}
	}
	for _, like := range likes {
		var p []float64
		for _, lag := range lags {
			p = append(p, mean(column(all, likeness(like, lag))))
		}
		s.points[formPoints+like] = p
	}
	for name, value := range map[string]string{formRhythms: distinctIn16, formRun: rhythmRun} {
		s.points[name] = []float64{mean(column(all, value))}
	}
}

// mean reports the weighed mean; not a number of nothing.
func mean(values, weights []float64) float64 {
	sum, total := 0.0, 0.0
	for i, x := range values {
		sum, total = sum+x*weights[i], total+weights[i]
	}
	if total == 0 {
		return math.NaN()
	}
	return sum / total
}
