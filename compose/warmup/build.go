package warmup

import (
	"math/rand/v2"
	"slices"
	"time"

	"onward/rhythm"
)

// build lays a candidate out; nil where it does not come out.
func (w *work) build(f Family, c *candidate, longest time.Duration, rng *rand.Rand) *Exercise {
	at, ok := quickest(c.events, c.meter, w.Rung)
	if !ok {
		return nil
	}
	tempo := metronome[max(0, at-rng.IntN(4))]
	// The page is marked p: the wind lasts as at a soft dynamic.
	breath := rhythm.Duration(w.Instrument.Breath[0] * float64(tempo) / 60 * float64(c.meter.Beat()))
	l := &layout{meter: c.meter, events: c.events, breath: breath}
	if !l.fits() {
		return nil
	}
	d, ok := w.draw(f, c, l.slots(), rng)
	if !ok {
		return nil
	}
	e := &Exercise{Family: f, Title: d.title, Figure: c.figure, Key: d.lines[0].key, Meter: c.meter,
		Rhythm: c.words, Tongue: c.tongue.words, Tempo: tempo, Times: 1}
	if !e.add(l, d.lines, c.tongue) {
		return nil
	}
	if again := w.second(l, c.tongue, f == Tonguing, rng); f != Cycle && e.Through() < max(shortest, longest/5) && 2*e.Through() <= longest && again != nil {
		w.twice(e, l, d.lines, again)
	}
	if e.Through() > longest || !w.inRange(e) {
		return nil
	}
	return e
}

// add lays the patterns and adds them as lines; false where they do not come out.
func (e *Exercise) add(l *layout, patterns []pattern, a *articulation) bool {
	lines, stops, ok := l.lay(patterns)
	if !ok {
		return false
	}
	a.articulate(lines)
	e.stops += stops
	for i, measures := range lines {
		e.Lines = append(e.Lines, Line{Key: patterns[i].key, Words: patterns[i].words, Measures: measures})
	}
	return true
}

// twice adds the patterns in another articulation too, if that makes new lines of them.
func (w *work) twice(e *Exercise, l *layout, patterns []pattern, a *articulation) {
	both := *e
	both.Lines = slices.Clone(e.Lines)
	if !both.add(l, patterns, a) {
		return
	}
	had := map[uint64]bool{}
	for i := range both.Lines {
		h := both.Lines[i].Hash()
		if had[h] || i >= len(e.Lines) && w.avoid[h] {
			return
		}
		had[h] = true
	}
	both.Tongue += ", then " + a.words
	both.Lines[len(e.Lines)].Words = a.words
	*e = both
}

// second draws another articulation for a short pattern to come in once more; nil where
// there is none.
func (w *work) second(l *layout, first *articulation, tongued bool, rng *rand.Rand) *articulation {
	all := w.tonguesFor(l, tongued)
	if i := slices.Index(all, first); i >= 0 {
		all = slices.Delete(all, i, i+1)
	}
	if len(all) == 0 {
		return nil
	}
	return all[rng.IntN(len(all))]
}

func (w *work) draw(f Family, c *candidate, slots int, rng *rand.Rand) (drawn, bool) {
	if f == Figure {
		return sequence(&w.ground, c.shape, c.degrees, c.down)
	}
	if f == Cycle {
		var open []*circle
		for i := range circles {
			if circles[i].level <= w.Rung {
				open = append(open, &circles[i])
			}
		}
		return cycle(open[rng.IntN(len(open))], &w.ground, slots)
	}
	return makers[f](&w.ground, slots, rng)
}

// inRange proves that every note lies in the range.
func (w *work) inRange(e *Exercise) bool {
	for _, l := range e.Lines {
		for _, m := range l.Measures {
			for _, n := range m.Notes {
				if !n.Rest && !w.Range.Has(n.Pitch) {
					return false
				}
			}
		}
	}
	return true
}
