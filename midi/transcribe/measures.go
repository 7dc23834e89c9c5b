package transcribe

import (
	"onward/compose/score"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// measures writes the notes into measures, from the first that has one.
func measures(bars []bar, all []note, keys []timeline.KeyChange) []score.Measure {
	spellAll(all, keys)
	for len(bars) > 1 && bars[1].at <= all[0].at {
		bars = bars[1:]
	}
	var page []score.Measure
	next, tied := 0, false
	for i, b := range bars {
		m := score.Measure{Number: i + 1, Length: b.length}
		key := keyAt(keys, b.at)
		if i == 0 || key != keyAt(keys, bars[i-1].at) {
			m.Key = &key
		}
		if i == 0 || b.meter != bars[i-1].meter {
			m.Meter = &b.meter
		}
		w := writer{bar: b, measure: &m}
		for ; next < len(all) && all[next].at < b.at.Add(b.length); next++ {
			n := all[next]
			from, to := max(n.at, b.at), min(n.end, b.at.Add(b.length))
			w.rest(from)
			w.note(&n, from, to, tied)
			if tied = n.end > to; tied {
				break
			}
		}
		w.rest(b.at.Add(b.length))
		page = append(page, m)
	}
	page[len(page)-1].FinalBar = true
	return page
}

func keyAt(keys []timeline.KeyChange, at rhythm.Offset) theory.Key {
	k := theory.Key{}
	for i, c := range keys {
		if i == 0 || c.At <= at {
			k = c.Key
		}
	}
	return k
}

func spellAll(all []note, keys []timeline.KeyChange) {
	for i := range all {
		n := &all[i]
		key, next := keyAt(keys, n.at), 0
		if i+1 < len(all) {
			next = all[i+1].key
		}
		n.pitch = spell(key, n.key, next)
		for j, g := range n.grace {
			to := n.key
			if j+1 < len(n.grace) {
				to = n.grace[j+1]
			}
			n.graces = append(n.graces, spell(key, g, to))
		}
	}
}

// A writer fills a measure.
type writer struct {
	bar     bar
	measure *score.Measure
	filled  rhythm.Duration
}

// rest writes rests up to a place of the take.
func (w *writer) rest(to rhythm.Offset) {
	at, d := rhythm.Offset(w.filled), to.Since(w.bar.at)-w.filled
	switch {
	case d <= 0:
		return
	case d == w.measure.Length:
		w.measure.Notes = append(w.measure.Notes, score.Note{Rest: true, WholeMeasure: true, Value: rhythm.Value{Base: 1}})
		w.filled = d
		return
	}
	for _, v := range w.values(at, d, rhythm.SpellRest) {
		w.measure.Notes = append(w.measure.Notes, score.Note{At: rhythm.Offset(w.filled), Value: v, Rest: true})
		w.filled += v.Duration()
	}
}

// note writes a note or the part of it that stands in the measure, tied into from the
// measure before where that is so.
func (w *writer) note(n *note, from, to rhythm.Offset, tied bool) {
	values := w.values(rhythm.Offset(w.filled), to.Since(from), rhythm.Spell)
	for i, v := range values {
		out := score.Note{At: rhythm.Offset(w.filled), Value: v, Pitch: n.pitch, TieStop: tied || i > 0,
			TieStart: i+1 < len(values) || n.end > to}
		if !out.TieStop {
			out.Grace = n.graces
		}
		w.measure.Notes = append(w.measure.Notes, out)
		w.filled += v.Duration()
	}
}

// values reports the values that fill a stretch of the measure, beat by beat where no
// row of values fills it as a whole.
func (w *writer) values(at rhythm.Offset, d rhythm.Duration, spell func(rhythm.Offset, rhythm.Duration, rhythm.Meter) []rhythm.Value) []rhythm.Value {
	if all := spell(at, d, w.bar.meter); all != nil {
		return all
	}
	span := w.bar.span()
	to := min(d, span-rhythm.Duration(at)%span)
	if to < d {
		return append(w.values(at, to, spell), w.values(at.Add(to), d-to, spell)...)
	}
	return smallest(d)
}

// smallest fills a stretch of a beat with the longest values that go into it.
func smallest(d rhythm.Duration) []rhythm.Value {
	var all []rhythm.Value
	for base := 4; base <= 128 && d > 0; base *= 2 {
		for _, v := range []rhythm.Value{{Base: base}, {Base: base, Tuplet: rhythm.Triplet}} {
			for d >= v.Duration() && (d-v.Duration())%(rhythm.Quarter/48) == 0 {
				all = append(all, v)
				d -= v.Duration()
			}
		}
	}
	return all
}
