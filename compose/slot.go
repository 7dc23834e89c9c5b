package compose

import (
	"slices"

	"onward/compose/figure"
	"onward/compose/idiom"
	"onward/rhythm"
	"onward/theory"
)

// A slot is a cell waiting for its shape.
type slot struct {
	bar    *bar
	cell   *rhythm.Cell
	at     rhythm.Offset
	onsets []rhythm.Offset   // in the measure
	chords []theory.Chord    // in force at each onset
	strong []bool            // onsets that must be chord tones
	held   []rhythm.Duration // how long each note sounds
	ctx    []idiom.Context   // of each note: what does not depend on the line
	key    theory.Key
	opens  bool // the first of a phrase
	// final is the cadence that the slot's last note makes, "" for none.
	final string
	// end is the degree that its last note must have, 0 the tonic; idiom.None for any.
	end int
	// begin is the degree that its first note should have; idiom.None for any.
	begin int
	same  *slot // sounds the same notes
	// like is the slot whose notes it takes up otherwise: all moved by so many steps where
	// moved is set, the first ones where head is above 0, else the directions alone.
	like   *slot
	moved  int
	head   int
	trap   bool // gets a trap
	wanted bool // gets a shape that the read is to bring
	// must says, for the read's aims, that it gets a known figure, 1, or one that is not, -1;
	// 0 for either. only is the one new shape that it may get, nil for any.
	must int8
	only *figure.Shape
	pick *pick
}

// A pick is what a slot got: a shape and its pitches, written.
type pick struct {
	shape   *figure.Shape
	pitches []theory.Pitch
}

// slots makes the slots of a section's bars and links them as the bars are linked.
func (p *piece) slots(s *section) {
	if s.lead != nil {
		p.barSlots(s, s.lead, 0)
	}
	for i, b := range s.bars {
		p.barSlots(s, b, i)
	}
	for i, b := range s.bars {
		b.link()
		p.markPhrase(s, b, i)
	}
	if first := s.bars[0].slots; len(first) > 0 && s.plan != nil {
		first[0].begin = s.plan.First
	}
	if s.lead != nil && len(s.lead.slots) > 0 {
		s.lead.slots[0].opens = true
		if first := s.bars[0].slots; len(first) > 0 {
			first[0].opens = false
		}
	}
	if s.ending != nil {
		p.barSlots(s, s.ending, len(s.bars)-1)
		if len(s.ending.slots) > 0 {
			s.ending.slots[0].final = "open"
			s.ledBack()
		}
	}
}

// barSlots makes the slots of one bar, the section's i-th.
func (p *piece) barSlots(s *section, b *bar, i int) {
	b.slots = nil
	next := s.bars[min(i+1, len(s.bars)-1)].Chord
	held, before := b.into > 0, rhythm.Duration(0)
	if i > 0 && len(s.bars[i-1].slots) > 0 {
		sl := s.bars[i-1].slots[len(s.bars[i-1].slots)-1]
		before = sl.held[len(sl.held)-1]
	}
	for _, l := range b.cells {
		if sl := p.newSlot(b, l, s.key, held); len(sl.onsets) > 0 {
			for k, at := range sl.onsets {
				chord := b.Chord
				if len(b.chords) > 1 && at >= b.chords[1].at { // the dominant, see prepareClose and firstEnding
					chord = idiom.V
				}
				sl.ctx[k] = idiom.Context{Chord: chord, Next: next, Onset: p.learned.tick(at), Place: b.place,
					Measured: p.learned.Measured, Beat: p.learned.Beat, Minor: s.key.Mode == theory.Minor,
					Held: int(before / p.learned.unit), Ticks: int(sl.held[k] / p.learned.unit)}
				before = sl.held[k]
			}
			b.slots = append(b.slots, sl)
		}
		held = false
	}
}

// link lets the bar's slots take up those of its source.
func (b *bar) link() {
	if b.source == nil || b.Kind >= idiom.Beat || !sameCells(b.cells, b.source.cells) || b.into != b.source.into {
		return
	}
	notes := 0
	for i, sl := range b.slots {
		src := b.source.slots[i]
		switch b.Kind {
		case idiom.Same:
			sl.same = src
		case idiom.Sequence:
			sl.like, sl.moved = src, b.Value
		case idiom.Contour:
			sl.like = src
		case idiom.Head:
			switch kept := b.Value - notes; {
			case kept >= len(sl.onsets) && slices.Equal(sl.chords, src.chords):
				sl.same = src
			case kept > 0:
				sl.like, sl.head = src, min(kept, len(sl.onsets))
			}
		}
		notes += len(sl.onsets)
	}
}

// markPhrase marks what opens a phrase, and the notes that close one.
func (p *piece) markPhrase(s *section, b *bar, i int) {
	for j, sl := range b.slots {
		sl.opens = b.pickup > 0 && sl.at == b.pickup ||
			j == 0 && i == b.phrase.first && (i == 0 || s.bars[i-1].pickup == 0)
	}
	n := len(b.slots)
	if n == 0 || b.Kind == idiom.Same && b.source != nil && i != len(s.bars)-1 {
		return
	}
	if b.End != idiom.None {
		b.slots[n-1].end = b.End
	}
	if i != b.phrase.first+b.phrase.measures-1 || b.phrase.cadence == "on" {
		return
	}
	for j := n - 1; j >= 0; j-- {
		if b.pickup == 0 || b.slots[j].at < b.pickup {
			b.slots[j].final = b.phrase.cadence
			return
		}
	}
}

// ledBack lets a first ending that leads back with the section's own upbeat have its
// notes.
func (s *section) ledBack() {
	if s.lead == nil || s.ending.pickup == 0 || s.ending.pickup != s.lead.cells[0].at {
		return
	}
	from := len(s.ending.slots) - len(s.lead.slots)
	for i, sl := range s.lead.slots {
		s.ending.slots[from+i].same = sl
	}
	for i, sl := range s.ending.slots {
		sl.opens = i == from
		sl.final = ""
		if i == from-1 {
			sl.final = "open"
		}
	}
}

// newSlot makes the slot of a laid cell; held says that its first note is tied over from the
// measure before, and no onset.
func (p *piece) newSlot(b *bar, l laid, key theory.Key, held bool) *slot {
	sl := &slot{bar: b, cell: l.cell, at: l.at, key: key, end: idiom.None, begin: idiom.None}
	at, tied := l.at, held
	for _, e := range l.cell.Events {
		switch {
		case e.Rest:
		case !tied:
			sl.onsets = append(sl.onsets, at)
			sl.chords = append(sl.chords, b.chordAt(at))
			sl.strong = append(sl.strong, p.accented(at) || b.changes(at))
			sl.held = append(sl.held, e.Value.Duration())
		case len(sl.held) > 0:
			sl.held[len(sl.held)-1] += e.Value.Duration()
		}
		tied = e.Tied && !e.Rest
		at = at.Add(e.Value.Duration())
	}
	sl.ctx = make([]idiom.Context, len(sl.onsets))
	return sl
}

// tiedIn reports whether the slot's cell begins with a note tied over from the measure before.
func (sl *slot) tiedIn() bool { return sl.bar.into > 0 && sl.at == 0 }

// changes reports whether another chord sets in at the measure offset.
func (b *bar) changes(at rhythm.Offset) bool {
	return slices.ContainsFunc(b.chords[1:], func(s spell) bool { return s.at == at })
}

// accented reports whether a note at the measure offset must belong to the chord.
func (p *piece) accented(at rhythm.Offset) bool {
	if at != 0 && p.meter.Count() == 2 {
		return false
	}
	return p.meter.Strong(at)
}
