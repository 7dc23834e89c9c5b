package compose

import (
	"onward/compose/score"
	"onward/rhythm"
)

// A placedNote is one sounding note of the page: ties merged, rests left out.
type placedNote struct {
	first, last *score.Note // as written; the same note unless tied
	measure     int         // index of the measure it starts in
	at          rhythm.Offset
	start, end  int64 // from the start of the page, in ticks
	slot        *slot
	in          int // which of the slot's notes
	phrase      *phrase
	section     *section
	bar         *bar
}

// duration reports how long the note sounds.
func (n *placedNote) duration() rhythm.Duration { return rhythm.Duration(n.end - n.start) }

// flat lists the notes of the page in order.
func (p *piece) flat(part *score.Part) []*placedNote {
	var out []*placedNote
	measure, start := 0, int64(0)
	for _, s := range p.sections {
		for _, b := range p.onPage(s) {
			m := &part.Measures[measure]
			out = p.flatBar(out, m, b, s, measure, start)
			measure++
			start += int64(m.Length)
		}
	}
	return out
}

func (p *piece) flatBar(out []*placedNote, m *score.Measure, b *bar, s *section, measure int, start int64) []*placedNote {
	si, in := 0, 0
	for i := range m.Notes {
		n := &m.Notes[i]
		end := start + int64(n.At) + int64(n.Value.Duration())
		switch {
		case n.Rest:
			continue
		case n.TieStop:
			out[len(out)-1].last, out[len(out)-1].end = n, end
			continue
		}
		for in >= len(b.slots[si].onsets) {
			si, in = si+1, 0
		}
		out = append(out, &placedNote{first: n, last: n, measure: measure, at: n.At + p.upbeatAt(b), start: start + int64(n.At), end: end,
			slot: b.slots[si], in: in, phrase: b.phrase, section: s, bar: b})
		in++
	}
	return out
}
