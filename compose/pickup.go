package compose

import (
	"math/rand/v2"
	"slices"

	"onward/compose/idiom"
	"onward/rhythm"
)

// singleEighth is the rung from which an eighth stands by itself in simple meters: the
// published levels have it with its rest before.
const singleEighth = 4

// leadIn lets the section set in with the pickup of its form, before its first measure.
func (p *piece) leadIn(st *stock, s *section) {
	up := p.upbeat(st, s.plan.Pickup)
	if up == nil {
		return
	}
	first := s.bars[0]
	s.lead = &bar{Measure: idiom.Measure{Chord: first.Chord, End: idiom.None}, phrase: first.phrase, key: first.key,
		chords: []spell{{0, first.chords[0].chord}}, cells: up}
	s.lead.Kind = idiom.New
}

// upbeat writes a pickup as cells at the end of a measure: whole cells where there are such,
// else its last note alone; nil for none.
func (p *piece) upbeat(st *stock, pickup []idiom.Place) []laid {
	end := rhythm.Offset(p.meter.Measure())
	for k := range pickup {
		var want []sound
		at := rhythm.Offset(0)
		add := func(to rhythm.Offset, rest bool) {
			if to > at {
				want, at = append(want, sound{at, to, rest}), to
			}
		}
		for i, n := range pickup[k:] {
			from := end + p.learned.offset(n.Onset)
			to := end + p.learned.offset(n.Onset+n.Ticks)
			if i+1 < len(pickup[k:]) {
				to = min(to, end+p.learned.offset(pickup[k+i+1].Onset))
			} else {
				to = end
			}
			if from <= 0 {
				break
			}
			add(from, true)
			add(to, false)
		}
		if at != end {
			continue
		}
		if cells := st.match(want, end); cells != nil {
			for len(cells) > 0 && cells[0].cell.Onsets() == 0 {
				cells = cells[1:]
			}
			if len(cells) > 0 && !cells[0].cell.Events[0].Rest {
				return cells
			}
		}
	}
	if len(pickup) == 0 || p.drilled != nil {
		return nil
	}
	beat := p.meter.Beat()
	short := beat / 2
	if p.meter.Compound() {
		short = beat / 3
	}
	if short < rhythm.Eighth || short == rhythm.Eighth && !p.meter.Compound() && p.req.Rung < singleEighth {
		return nil
	}
	at := end - rhythm.Offset(short)
	v := rhythm.Spell(at, short, p.meter)[0] // a half or a third of a beat is one value
	name := map[rhythm.Duration]string{rhythm.Quarter: "quarter", rhythm.Eighth: "eighth"}[short]
	return []laid{{&rhythm.Cell{Name: name, Span: short, Level: 1, Events: []rhythm.Event{{Value: v}}}, at}}
}

// before reports a cadence's cells with the upbeat after them: its last note is shortened
// to make room, down to a beat's rest between; nil if there is no room.
func (p *piece) before(st *stock, cadence, up []laid) []laid {
	final := cadence[len(cadence)-1]
	for _, l := range cadence {
		if l.cell.Onsets() > 0 {
			final = l
		}
	}
	at := up[0].at
	stop := at - at%rhythm.Offset(p.meter.Beat())
	var tail []laid
	if held := st.holding(final.at, at); held != nil {
		tail = []laid{{held, final.at}}
	} else if held := st.holding(final.at, stop); held != nil && final.at < stop {
		tail = []laid{{held, final.at}, {st.rest(stop, at), stop}}
	}
	if tail == nil || final.at >= at {
		return nil
	}
	var cells []laid
	for _, l := range cadence {
		if l.at < final.at {
			cells = append(cells, l)
		}
	}
	return append(append(cells, tail...), up...)
}

// leadsBack fills the first ending with the cadence and the upbeat that opened the
// section; it reports false where the cadence leaves no room.
func (p *piece) leadsBack(st *stock, b *bar, s *section) bool {
	cells := p.before(st, s.bars[len(s.bars)-1].cells, s.lead.cells)
	if cells == nil {
		return false
	}
	b.chords = b.chords[:1]
	b.cells, b.pickup = cells, s.lead.cells[0].at
	if c := s.lead.chords[0].chord; c != b.chords[0].chord && p.meter.Strong(b.pickup) {
		b.chords = append(b.chords, spell{b.pickup, c}) // as when it opened
	}
	return true
}

// leadBack fills the first ending: the cadence note, then notes that lead to the
// strain's start.
func (p *piece) leadBack(rng *rand.Rand, st *stock, s *section) {
	b, last := s.ending, s.bars[len(s.bars)-1]
	b.held = last.held
	if s.lead != nil && p.leadsBack(st, b, s) {
		return
	}
	at := p.half()
	end := rhythm.Offset(p.meter.Measure())
	held := st.holding(0, at)
	calm := slices.Clone(st.weight)
	for i, c := range st.cells {
		if c.Onsets() > 2 {
			calm[i] = 0
		}
	}
	second := st.tile(rng, at, end, calm)
	if at == 0 || len(b.chords) < 2 || held == nil || second == nil {
		b.chords = b.chords[:1]
		b.cells = last.cells
		return
	}
	b.cells = append([]laid{{held, 0}}, second...)
}
