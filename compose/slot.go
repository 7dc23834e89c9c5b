package compose

import (
	"math/rand/v2"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// A slot is a cell waiting for its shape: one layer of the lattice.
type slot struct {
	bar    *bar
	cell   *rhythm.Cell
	at     rhythm.Offset
	onsets []rhythm.Offset   // in the measure
	chords []theory.Chord    // in force at each onset
	strong []bool            // onsets that must be chord tones
	held   []rhythm.Duration // how long each note sounds
	key    theory.Key
	target float64 // the staff position the line should be near
	bone   float64 // where the line without its waves should be at the slot's start
	rise   float64 // how many steps it should climb from the slot's start to its end
	cap    int     // the staff position that only the section's peak goes above
	peak   bool    // near the section's summit
	leads  bool    // in the measure before a phrase closes
	opens  bool    // the first of a phrase
	// final is the cadence that the slot's last note makes, "" for none.
	final  string
	same   *slot // sounds the same notes
	like   *slot // takes up the shape
	moved  bool  // a sequence: with its measure, like's notes all moved by as many steps
	trap   bool  // gets a trap
	wanted bool  // gets a shape that the read is to bring
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
func (p *piece) slots(rng *rand.Rand, s *section) {
	bars := s.bars
	if s.ending != nil {
		bars = append(bars[:len(bars):len(bars)], s.ending)
	}
	if s.lead != nil {
		bars = append([]*bar{s.lead}, bars...)
	}
	for _, b := range bars {
		for _, l := range b.cells {
			if l.cell.Onsets() > 0 {
				b.slots = append(b.slots, p.newSlot(b, l, s.key))
			}
		}
		for i := range b.slots {
			if b.same != nil && i < len(b.same.slots) {
				b.slots[i].same = b.same.slots[i]
			} else if b.like != nil && i < len(b.like.slots) && b.like.slots[i].cell == b.slots[i].cell {
				b.slots[i].like, b.slots[i].moved = b.like.slots[i], true
			}
		}
	}
	p.contour(rng, s)
	if s.ending != nil && len(s.ending.slots) > 0 {
		for _, sl := range s.ending.slots {
			sl.target = s.bars[len(s.bars)-1].slots[0].target
		}
		s.ending.slots[0].final = "open"
		s.ledBack()
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

func (p *piece) newSlot(b *bar, l laid, key theory.Key) *slot {
	sl := &slot{bar: b, cell: l.cell, at: l.at, key: key}
	at, tied := l.at, false
	for _, e := range l.cell.Events {
		if !e.Rest && !tied {
			sl.onsets = append(sl.onsets, at)
			sl.chords = append(sl.chords, b.chordAt(at))
			sl.strong = append(sl.strong, p.accented(at))
		}
		if n := len(sl.onsets); !e.Rest && tied {
			sl.held[n-1] += e.Value.Duration()
		} else if !e.Rest {
			sl.held = append(sl.held, e.Value.Duration())
		}
		tied = e.Tied && !e.Rest
		at = at.Add(e.Value.Duration())
	}
	return sl
}

// stepwiseRungs is up to which rung lines go mostly by step: there, in meters of two,
// the second beat may pass between chord tones.
const stepwiseRungs = 2

// accented reports whether a note at the measure offset must belong to the chord.
func (p *piece) accented(at rhythm.Offset) bool {
	if at != 0 && p.meter.Count() == 2 && p.req.Rung <= stepwiseRungs {
		return false
	}
	return p.meter.Strong(at)
}
