package compose

import "onward/theory"

// A measure that takes up another is a sequence of it: its notes are the other's, moved
// up or down the scale together. As the other stands when the line is drawn around it,
// this is a matter of neighbours: each cell is moved as a whole, and inside the measure
// the interval between two cells is the model's.

// sequence weighs a cell's pitches against those it takes up: 0 where they are no
// sequence, less the farther it moves; 1 where none is asked.
func (sl *slot) sequence(pitches []theory.Pitch) float64 {
	if !sl.moved || sl.like == nil || sl.like.pick == nil {
		return 1
	}
	model := sl.like.pick.pitches
	move := pitches[0].Step() - model[0].Step()
	for i, q := range pitches {
		if q.Step()-model[i].Step() != move {
			return 0
		}
	}
	if sl != sl.bar.slots[0] { // the first cell has said how far
		return 1
	}
	w := 0.3
	switch move {
	case 0:
		return 0
	case 1, -1:
		w = 1
	case 2, -2:
		w = 0.6
	}
	if member(sl.chords[0], pitches[0]) == member(sl.like.chords[0], model[0]) { // what the chord asks
		w *= sameMember
	}
	return w
}

// sameMember is how much likelier a sequence is that puts the same member of its chord on
// the downbeat.
const sameMember = 6

// member reports which member of the chord the pitch is, -1 for none.
func member(c theory.Chord, q theory.Pitch) int {
	for i, t := range c.Tones() {
		if t == q.Class() {
			return i
		}
	}
	return -1
}

// continues reports whether the interval into the slot is that of its model, where both
// cells belong to one measure that takes up another.
func (sl *slot) continues(prev *slot, from, to theory.Pitch) bool {
	if !sl.moved || prev == nil || prev.bar != sl.bar || !prev.moved || prev.like == nil || sl.like == nil ||
		prev.like.pick == nil || sl.like.pick == nil {
		return true
	}
	model := prev.like.pick.pitches
	return to.Step()-from.Step() == sl.like.pick.pitches[0].Step()-model[len(model)-1].Step()
}

// movable reports whether the measure's cells can be moved together, by what the chords,
// the range and the rules of the line allow.
func (p *piece) movable(b *bar) bool {
	var ends []theory.Pitch // where the ways so far have come
	for i, sl := range b.slots {
		if sl.pick != nil {
			return true
		}
		var next []theory.Pitch
		for _, in := range p.instances(sl) {
			last := in.pitches[len(in.pitches)-1]
			if i == 0 {
				next = append(next, last)
				continue
			}
			for _, from := range ends {
				if p.joint(b.slots[i-1], from, free, sl, in.pitches[0]) > 0 {
					next = append(next, last)
					break
				}
			}
		}
		if ends = next; len(ends) == 0 {
			return false
		}
	}
	return true
}

// settleSequences reports how many measures of the passage take up one that cannot be
// moved there as a whole. If it is to let go of them, they take up the shapes only.
func (p *piece) settleSequences(pas *passage, letGo bool) int {
	stuck := 0
	for _, sl := range pas.slots {
		if !sl.moved || sl != sl.bar.slots[0] || p.movable(sl.bar) {
			continue
		}
		if stuck++; letGo {
			for _, o := range sl.bar.slots {
				o.moved = false
			}
		}
	}
	return stuck
}
