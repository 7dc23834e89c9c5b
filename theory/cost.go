package theory

// What a player's instrument makes costly, in points: one point is a small trouble,
// three a place to practise. The list is common practice of brass players; the
// weights are this program's own.
const (
	costHigh        = 2 // in the top fifth of the widest range, or above it
	costLeap        = 3 // a leap beyond an octave
	costLongValves  = 1 // 13 or 123: long tube, out of tune, two or three fingers
	costBadPartial  = 1 // partials 5, 7 and 10 stand low against the keyboard
	costSamePartial = 1 // same fingering, another partial: the lip alone
	costLongSlide   = 2 // a slide move of four positions or more
	costSlurPartial = 2 // a slur to another partial
	costSlurSame    = 2 // ... on the same fingering, on top of that
)

// Cost reports what it costs a player to go from one written pitch to the next when
// each is tongued, in points from 0; an ordinary move costs nothing, one point is a
// small trouble, three a place to practise. Counted are, of the note reached, the top
// fifth of the widest range (2), valves 13 and 123 (1), the partials 5, 7 and 10 (1);
// of the move, a leap beyond an octave (3), the same fingering on another partial
// (1), a slide move of four positions or more (2). An instrument or a note without
// fingerings counts range and leap only. It does not allocate.
func (i *Instrument) Cost(from, to Pitch) int {
	cost, _, _ := i.move(from, to)
	return cost
}

// SlurCost is Cost where the two notes are slurred: on valve brass and trombone, 2
// more if the partial changes and 2 more again if the fingering stays.
func (i *Instrument) SlurCost(from, to Pitch) int {
	cost, partial, same := i.move(from, to)
	if partial {
		cost += costSlurPartial
		if same {
			cost += costSlurSame
		}
	}
	return cost
}

// move reports the cost of a tongued move, whether it changes the partial, and
// whether the fingering stays.
func (i *Instrument) move(from, to Pitch) (cost int, partial, same bool) {
	a, b := from.MIDI(), to.MIDI()
	if leap := b - a; leap > 12 || leap < -12 {
		cost += costLeap
	}
	if i.inTopFifth(b) {
		cost += costHigh
	}
	g, known := i.Fingerings[b]
	if !known {
		return cost, false, false
	}
	cost += g.cost()
	f, known := i.Fingerings[a]
	if !known {
		return cost, false, false
	}
	partial, same = f.Partial != g.Partial, f.Valves == g.Valves
	if partial && same {
		cost += costSamePartial
	}
	if i.Slide {
		if far := int(f.Valves[0]) - int(g.Valves[0]); far >= 4 || far <= -4 {
			cost += costLongSlide
		}
	}
	return cost, partial, same
}

// inTopFifth reports whether a written MIDI number lies in the top fifth, by
// semitones, of the widest range, or above it.
func (i *Instrument) inTopFifth(key int) bool {
	low, high := i.Ranges[Beyond].Low.MIDI(), i.Ranges[Beyond].High.MIDI()
	return 5*(key-low) > 4*(high-low)
}

// cost reports what the note itself costs, in points.
func (f Fingering) cost() int {
	cost := 0
	if f.Valves == "13" || f.Valves == "123" {
		cost += costLongValves
	}
	if f.Partial == 5 || f.Partial == 7 || f.Partial == 10 {
		cost += costBadPartial
	}
	return cost
}
