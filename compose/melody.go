package compose

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"

	"onward/compose/idiom"
	"onward/compose/lattice"
	"onward/theory"
)

// A passage is a stretch of slots drawn in one lattice: what was written before it
// and what comes after it stand fixed.
type passage struct {
	section *section
	slots   []*slot
	before  []noted       // notes already fixed before it, the latest last
	after   []noted       // notes already fixed after it
	learned []lattice.Run // that came up in draws of it, of tunes that were learned from
	seam    bool          // what comes after is another section: the line need not lead to it
}

// A noted note is one of the line with where it starts, in ticks from the start of
// the piece on the page.
type noted struct {
	pitch theory.Pitch
	at    int64
	chord theory.Chord // in force
}

// melody draws all sections' notes. Where no melody is left that repeats no run of so
// many notes, and the lower rungs allow longer runs, it is drawn again with those; the
// certificate says which length held.
func (p *piece) melody() error {
	lengths := p.lengths()
	for i, n := range lengths {
		p.run, p.legal = n, 0
		err := p.melodies()
		var refused *RequestError
		if err == nil || i == len(lengths)-1 || !errors.As(err, &refused) {
			return err
		}
		p.clear()
		p.loosened = append(p.loosened, fmt.Sprintf("runs of %d notes are used up: %d", n, lengths[i+1]))
	}
	return nil
}

// clear takes the slots out of the bars again, and what was loosened for them.
func (p *piece) clear() {
	p.loosened = nil
	for _, s := range p.sections {
		for _, b := range s.bars {
			b.slots = nil
		}
		if s.lead != nil {
			s.lead.slots = nil
		}
		if s.ending != nil {
			s.ending.slots = nil
		}
	}
}

// lengths lists the lengths of run to try: the rung's own, but one that the read has
// at least four thirds of in notes, then the longer ones of rungs as low.
func (p *piece) lengths() []int {
	notes := 0
	for _, s := range p.sections {
		for _, b := range s.bars {
			for _, l := range b.cells {
				notes += l.cell.Onsets()
			}
		}
	}
	all := p.world.Ladder.Runs()
	var out []int
	for _, n := range all {
		if n <= p.rung.Run {
			if n == all[0] || 4*n <= 3*notes {
				out = []int{n}
			}
		}
	}
	for _, n := range all {
		if n > out[0] && n <= p.rung.Run {
			out = append(out, n)
		}
	}
	return out
}

func (p *piece) melodies() error {
	rng := stream(p.req.Seed, fmt.Sprintf("melody%s", strings.Repeat("'", p.attempt)))
	place := stream(p.req.Seed, "traps")
	m := p.memory()
	aims := stream(p.req.Seed, fmt.Sprintf("aims%s", strings.Repeat("'", p.attempt)))
	if p.aim != nil {
		place = aims
		p.aim.restart()
	}
	start := int64(0)
	var before []noted
	for i, s := range p.sections {
		p.slots(s)
		if s.lead != nil {
			start += int64(p.meter.Measure()) - int64(s.lead.cells[0].at)
		}
		s.start = start
		if s.of != nil {
			p.copySection(s)
			if err := p.keepSting(m, s); err != nil {
				return err
			}
		} else {
			p.placeTraps(place, s)
			p.placeAims(aims, s)
			if p.aim.noNearer(p.lastDrawn(s)) {
				return errNoNearer
			}
			var next []noted
			if i+1 < len(p.sections) {
				next = p.standing(p.sections[i+1], s)
			}
			if err := p.drawSection(rng, m, s, next, before); err != nil {
				return err
			}
		}
		notes := p.tail(s, p.run)
		before = last(append(before[:len(before):len(before)], notes...), p.run)
		start += int64(p.meter.Measure()) * int64(s.written())
	}
	return nil
}

// written reports how many measures the section has on the page.
func (s *section) written() int {
	if s.ending != nil {
		return len(s.bars) + 1
	}
	return len(s.bars)
}

// standing lists the notes that a section after s has from an earlier one at its start, as
// if they began the piece; none if they are still to be drawn.
func (p *piece) standing(next, s *section) []noted {
	source, kept := next.of, len(next.bars)
	if next.from != nil {
		source, kept = next.from, phraseLength/2
	}
	if source == nil || source == s {
		return nil
	}
	notes := p.notesOf(source, source.bars[:kept])
	notes = notes[:min(len(notes), p.run-1)]
	for i := range notes {
		notes[i].at -= source.start
	}
	return notes
}

// drawSection draws a section's body with its last ending, then the first ending. next is
// what follows as far as it is known, as if it began the piece.
func (p *piece) drawSection(rng *rand.Rand, m *memory, s *section, next, before []noted) error {
	var slots []*slot
	if s.lead != nil {
		slots = append(slots, s.lead.slots...)
	}
	for _, b := range s.bars {
		slots = append(slots, b.slots...)
	}
	pas := &passage{section: s, slots: slots, before: before}
	for _, n := range next {
		n.at += s.start + int64(len(s.bars))*int64(p.meter.Measure())
		pas.seam, pas.after = true, append(pas.after, n)
	}
	if err := p.drawLinked(rng, m, s, pas); err != nil {
		return err
	}
	if s.ending == nil {
		return nil
	}
	if sameCells(s.ending.cells, s.bars[len(s.bars)-1].cells) { // nothing leads back: the same notes
		for i, sl := range s.ending.slots {
			sl.pick = s.bars[len(s.bars)-1].slots[i].pick
		}
		return nil
	}
	return p.drawEnding(rng, m, s, before)
}

// drawEnding draws the first ending, between the body and the strain's start.
func (p *piece) drawEnding(rng *rand.Rand, m *memory, s *section, before []noted) error {
	body := s.bars[:len(s.bars)-1]
	notes := p.notesOf(s, body)
	before = append(append(before[:len(before):len(before)], p.leadNotes(s)...), notes...)
	pas := &passage{section: s, slots: s.ending.slots, before: last(before, p.run)}
	for _, n := range notes[:min(p.run-1, len(notes))] {
		n.at = s.start + int64(len(s.bars))*int64(p.meter.Measure()) + (n.at - s.start)
		pas.after = append(pas.after, n)
	}
	for _, sl := range pas.slots {
		if sl.same != nil {
			sl.pick = sl.same.pick
		}
	}
	log, err := p.drawPassage(rng, m, s, pas)
	var dead *lattice.DeadEnd
	if errors.As(err, &dead) {
		for _, sl := range pas.slots {
			sl.same, sl.pick = nil, nil
		}
		pas.after = nil
		p.loosened = append(p.loosened, s.Name+": the first ending does not lead back")
		log, err = p.drawPassage(rng, m, s, pas)
	}
	p.legal += log
	return p.explain(err, s)
}

// copySection takes the notes of the section that s plays again.
func (p *piece) copySection(s *section) {
	for i, b := range s.bars {
		source := s.of.bars[i]
		if b.source != nil && len(b.slots) == len(source.slots) {
			for j := range b.slots {
				b.slots[j].pick = source.slots[j].pick
			}
			continue
		}
		final := source.slots[len(source.slots)-1].pick // the stinger: the last note again
		q := source.slots[0].pick.pitches[0]
		for _, sl := range b.slots {
			sl.pick = &pick{p.world.Catalogue.ShapesOf(1)[0], []theory.Pitch{q}}
			q = final.pitches[len(final.pitches)-1]
		}
	}
}

// keepSting gives up the stinger where, with the notes before it, it would make a run
// that was heard before.
func (p *piece) keepSting(m *memory, s *section) error {
	if !s.Stinger {
		return nil
	}
	var l Line
	for _, n := range last(p.notesOf(s, s.bars), p.run+1) {
		l.MIDI, l.At = append(l.MIDI, n.pitch.MIDI()), append(l.At, n.at)
	}
	heard, err := m.heard(l)
	if err != nil || !heard {
		return err
	}
	p.loosened = append(p.loosened, s.Name+": no stinger")
	final, source := s.bars[len(s.bars)-1], s.of.bars[len(s.bars)-1]
	final.cells, final.source, final.Kind, final.into, final.slots, s.Stinger = source.cells, source, idiom.Same, source.into, nil, false
	for _, l := range final.cells {
		if l.cell.Onsets() > 0 {
			final.slots = append(final.slots, p.newSlot(final, l, s.key, false))
		}
	}
	for i, sl := range final.slots {
		sl.pick = source.slots[i].pick
	}
	return nil
}

// notesOf lists the notes of some bars of a section, which have their picks.
func (p *piece) notesOf(s *section, bars []*bar) []noted {
	var out []noted
	for i, b := range bars {
		at := s.start + int64(i)*int64(p.meter.Measure())
		for _, sl := range b.slots {
			for j, q := range sl.pick.pitches {
				out = append(out, noted{q, at + int64(sl.onsets[j]), sl.chords[j]})
			}
		}
	}
	return out
}

// leadNotes lists the notes of the upbeat that opens a section.
func (p *piece) leadNotes(s *section) []noted {
	if s.lead == nil {
		return nil
	}
	var out []noted
	for _, sl := range s.lead.slots {
		for j, q := range sl.pick.pitches {
			out = append(out, noted{q, s.start - int64(p.meter.Measure()) + int64(sl.onsets[j]), sl.chords[j]})
		}
	}
	return out
}

// tail lists the last notes of a section as the page goes on from it. The second ending
// follows the body as if the first were not there.
func (p *piece) tail(s *section, n int) []noted {
	notes := append(p.leadNotes(s), p.notesOf(s, s.bars)...)
	if s.ending != nil {
		for i := range notes {
			notes[i].at += int64(p.meter.Measure())
		}
	}
	return last(notes, n)
}

func last(notes []noted, n int) []noted { return notes[max(0, len(notes)-n):] }
