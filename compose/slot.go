package compose

import (
	"math"
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
	opens  bool    // the first of a phrase
	// final is the cadence that the slot's last note makes, "" for none.
	final  string
	same   *slot // sounds the same notes
	like   *slot // takes up the shape
	trap   bool  // gets a trap
	wanted bool  // gets a shape that the read is to bring
	pick   *pick
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
				b.slots[i].like = b.like.slots[i]
			}
		}
	}
	for i, ph := range s.phrases {
		p.contour(rng, s, ph, i)
	}
	if s.ending != nil && len(s.ending.slots) > 0 {
		for _, sl := range s.ending.slots {
			sl.target = s.bars[len(s.bars)-1].slots[0].target
		}
		s.ending.slots[0].final = "open"
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

// end reports where the bar's phrase ends: at the pickup, or the barline.
func (b *bar) end(m rhythm.Meter) rhythm.Offset {
	if b.pickup > 0 {
		return b.pickup
	}
	return rhythm.Offset(m.Measure())
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

// breakArch is the arch of a break strain's phrases, which stay high or low.
const breakArch = 0.15

// contour sets where the line of a phrase should be: an arch to one peak, mostly;
// the phrase in the section's third quarter peaks highest.
func (p *piece) contour(rng *rand.Rand, s *section, ph *phrase, index int) {
	m := p.req.Style.Melody
	span := float64(p.high.Step() - p.low.Step())
	foot := float64(p.low.Step())
	peak := m.Height - float64(0.18*rng.Float64())
	if len(s.phrases) > 2 && index == len(s.phrases)*5/8 {
		peak = 1
	}
	if s.Character == "break" { // high against low
		peak = []float64{1, 0.4}[index%2]
		m.Arch = breakArch
	}
	start := peak - float64(m.Arch*(0.6+float64(0.6*rng.Float64())))
	end := peak - float64(m.Arch*(0.7+float64(0.6*rng.Float64())))
	top := 0.45 + float64(0.3*rng.Float64())
	switch rng.IntN(8) {
	case 0: // falls from the start
		top, start = 0.1, peak-0.1
	case 1: // rises to the end
		top, end = 0.85, peak-float64(m.Arch*0.4)
	}
	bars := s.bars[ph.first : ph.first+ph.measures]
	length := float64(len(bars)) * float64(p.meter.Measure())
	first := ph.first == 0 || s.bars[ph.first-1].pickup == 0 // else the pickup opened it
	for i, b := range bars {
		for j, sl := range b.slots {
			t := float64(int64(i)*int64(p.meter.Measure())+int64(sl.at)) / length
			h := 0.0
			if t < top {
				h = start + float64((peak-start)*math.Sin(t/top*math.Pi/2))
			} else {
				h = end + float64((peak-end)*math.Cos((t-top)/(1-top)*math.Pi/2))
			}
			sl.target = even(foot + float64(span*h))
			sl.opens = first || b.pickup > 0 && sl.at == b.pickup
			first = false
			last := j == len(b.slots)-1 || b.pickup > 0 && b.slots[j+1].at == b.pickup
			if i == len(bars)-1 && last && sl.at < b.end(p.meter) && ph.Cadence != "on" {
				sl.final = ph.Cadence
			}
		}
	}
}
