package compose

import (
	"math/rand/v2"

	"onward/rhythm"
)

// An upbeat is what stands before the barline for a phrase to set in with: cells that fill
// the end of a measure.

// singleEighth is the rung from which an eighth stands by itself in simple meters: the
// published levels have it with its rest before.
const singleEighth = 4

// upbeat draws the upbeat of a section's phrases: one short note, or what fills the last
// beat; nil where the meter has a single beat or no cell fits.
func (p *piece) upbeat(rng *rand.Rand, st *stock, w []float64) []laid {
	end := rhythm.Offset(p.meter.Measure())
	beat := p.meter.Beat()
	if p.meter.Count() < 2 {
		return nil
	}
	short, share := beat/2, 0.3
	switch {
	case p.meter.Compound():
		short, share = beat/3, 0.7
	case beat == rhythm.Half:
		share = 0.7
	}
	single := rng.Float64() < share && (short > rhythm.Eighth || p.meter.Compound() || p.req.Rung >= singleEighth)
	lead := st.tile(rng, end-rhythm.Offset(beat), end, w)
	if lead != nil && lead[0].cell.Events[0].Rest {
		lead = nil
	}
	if p.drilled != nil || lead != nil && !single {
		return lead
	}
	at := end - rhythm.Offset(short)
	v := rhythm.Spell(at, short, p.meter)[0] // a half or a third of a beat is one value
	name := map[rhythm.Duration]string{rhythm.Quarter: "quarter", rhythm.Eighth: "eighth"}[short]
	return []laid{{&rhythm.Cell{Name: name, Span: short, Level: 1, Events: []rhythm.Event{{Value: v}}}, at}}
}

// leadIn lets the section set in with an upbeat of its own, before its first measure.
func (p *piece) leadIn(s *section, up []laid) {
	if up == nil {
		return
	}
	first := s.bars[0]
	s.lead = &bar{phrase: first.phrase, key: first.key, chords: []spell{{0, first.chords[0].chord}}, cells: up}
}

// pickup lets the next phrase set in with the upbeat, if the note of the cadence in the
// bar began well before.
func (p *piece) pickup(st *stock, b *bar, up []laid) {
	if cells := p.before(st, b.cells, up); cells != nil && p.carries(b, cells) {
		b.cells, b.pickup = cells, up[0].at
	}
}

// before reports a cadence's cells with the upbeat after them: its last note is shortened
// to make room, down to a beat's rest between; nil if there is no room.
func (p *piece) before(st *stock, cadence, up []laid) []laid {
	if up == nil {
		return nil
	}
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
func (p *piece) leadBack(rng *rand.Rand, st *stock, w []float64, s *section) error {
	b := s.ending
	if s.lead != nil && p.leadsBack(st, b, s) {
		return nil
	}
	at := p.half()
	if at == 0 || len(b.chords) < 2 {
		b.cells = s.bars[len(s.bars)-1].cells
		return nil
	}
	end := rhythm.Offset(p.meter.Measure())
	var first []laid
	for i, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && rhythm.Offset(c.Span) == at && st.mayStart(c, 0) && st.wanted[i] > 0 {
			first = []laid{{c, 0}}
			break
		}
	}
	second := st.tile(rng, at, end, w)
	if first == nil || second == nil {
		b.chords = b.chords[:1]
		b.cells = s.bars[len(s.bars)-1].cells
		return nil
	}
	b.cells = append(first, second...)
	return nil
}
