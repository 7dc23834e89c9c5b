package compose

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"onward/compose/lattice"
	"onward/theory"
)

// A passage is a stretch of slots drawn in one lattice: what was written before it
// and what comes after it stand fixed.
type passage struct {
	section *section
	slots   []*slot
	before  []noted // notes already fixed before it, the latest last
	after   []noted // notes already fixed after it
	prev    *slot   // the slot of the last note before, nil for none
	seam    bool    // what comes after is another section: the line need not lead to it
}

// A noted note is one of the line with where it starts, in ticks from the start of
// the piece on the page.
type noted struct {
	pitch theory.Pitch
	at    int64
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
		p.loosened = append(p.loosened, fmt.Sprintf("runs of %d notes are used up: %d", n, lengths[i+1]))
		p.clear()
	}
	return nil
}

// clear takes the slots out of the bars again.
func (p *piece) clear() {
	for _, s := range p.sections {
		for _, b := range s.bars {
			b.slots = nil
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
	m := newMemory(p.world, p.req, p.run)
	start := int64(0)
	var before []noted
	var prev *slot
	for i, s := range p.sections {
		p.slots(rng, s)
		s.start = start
		if s.of != nil {
			p.copySection(s)
			if err := p.keepSting(m, s); err != nil {
				return err
			}
		} else {
			p.placeTraps(place, s)
			var next *section
			if i+1 < len(p.sections) && p.sections[i+1].of != s {
				next = p.sections[i+1].of
			}
			if err := p.drawSection(rng, m, s, next, before, prev); err != nil {
				return err
			}
		}
		var notes []noted
		notes, prev = p.tail(s, p.run)
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

// drawSection draws a section's body with its last ending, then the first ending. next
// is the earlier section whose notes follow it, nil if what follows is still to be drawn.
func (p *piece) drawSection(rng *rand.Rand, m *memory, s, next *section, before []noted, prev *slot) error {
	var slots []*slot
	for _, b := range s.bars {
		slots = append(slots, b.slots...)
	}
	pas := &passage{section: s, slots: slots, before: before, prev: prev}
	if next != nil {
		pas.seam = true
		notes := p.notesOf(next, next.bars)
		for _, n := range notes[:min(len(notes), p.run-1)] {
			n.at += s.start - next.start + int64(len(s.bars))*int64(p.meter.Measure())
			pas.after = append(pas.after, n)
		}
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
	pas := &passage{section: s, slots: s.ending.slots, before: last(append(before[:len(before):len(before)], notes...), p.run)}
	for i := len(body) - 1; i >= 0 && pas.prev == nil; i-- {
		if n := len(body[i].slots); n > 0 {
			pas.prev = body[i].slots[n-1]
		}
	}
	for _, n := range notes[:min(p.run-1, len(notes))] {
		n.at = s.start + int64(len(s.bars))*int64(p.meter.Measure()) + (n.at - s.start)
		pas.after = append(pas.after, n)
	}
	log, err := p.drawPassage(rng, m, s, pas)
	var dead *lattice.DeadEnd
	if errors.As(err, &dead) {
		pas.after = nil
		p.loosened = append(p.loosened, s.Name+": the first ending does not lead back")
		log, err = p.drawPassage(rng, m, s, pas)
	}
	p.legal += log
	return p.explain(err, s)
}

// drawLinked draws a passage whose slots take up each other: first freely, to find
// the mottos, then with the mottos standing. Where no melody can do all that was
// planned, the plan gives way step by step.
func (p *piece) drawLinked(rng *rand.Rand, m *memory, s *section, pas *passage) error {
	var dead *lattice.DeadEnd
	for {
		err := p.drawMottos(rng, m, pas)
		if err == nil {
			var log float64
			mottos := p.mottos(pas)
			if log, err = p.drawPassage(rng, m, s, pas); err == nil {
				p.legal += log + mottos
				return nil
			}
		}
		if !errors.As(err, &dead) || !p.loosen(s, pas) {
			return p.explain(err, s)
		}
	}
}

// drawMottos draws the passage with its links loose and keeps the notes of the slots
// that others take up, and what the others take from them. It does nothing where there
// are no links.
func (p *piece) drawMottos(rng *rand.Rand, m *memory, pas *passage) error {
	source := map[*slot]bool{}
	for _, sl := range pas.slots {
		sl.pick = nil
		if sl.same != nil {
			source[sl.same] = true
		}
		if sl.like != nil {
			source[sl.like] = true
		}
	}
	if len(source) == 0 {
		return nil
	}
	if _, err := p.drawPassage(rng, m, pas.section, pas); err != nil {
		return err
	}
	for _, sl := range pas.slots {
		if !source[sl] {
			sl.pick = nil
		}
	}
	for _, sl := range pas.slots {
		if sl.same != nil {
			sl.pick = sl.same.pick
		}
	}
	return nil
}

// mottos reports the common logarithm of how many mottos there were to draw from: the
// melodies of the slots that others take up, by themselves.
func (p *piece) mottos(pas *passage) float64 {
	source := map[*slot]bool{}
	for _, sl := range pas.slots {
		source[sl.same], source[sl.like] = true, true
	}
	alone := &passage{section: pas.section}
	for _, sl := range pas.slots {
		if source[sl] && sl.same == nil {
			loose := *sl
			loose.pick, loose.like = nil, nil
			alone.slots = append(alone.slots, &loose)
		}
	}
	if len(alone.slots) == 0 {
		return 0
	}
	sampler, err := lattice.New(&p.buildGraph(alone, false).graph, nil)
	if err != nil {
		return 0
	}
	return sampler.Log10()
}

// loosen takes the next part of the plan back: traps, then returns note for note
// (rhythm and shape return still), then those of shape, then the way to what follows.
// It reports false when nothing is left to give up.
func (p *piece) loosen(s *section, pas *passage) bool {
	var traps, exact, alike bool
	for _, sl := range pas.slots {
		traps, exact, alike = traps || sl.trap || sl.wanted, exact || sl.same != nil, alike || sl.like != nil
		sl.pick = nil
	}
	what := ""
	switch {
	case traps:
		what = "no place for a trap or for a new shape"
	case exact:
		what = "a phrase returns in its shapes only"
	case alike:
		what = "a phrase returns in its rhythm only"
	case pas.seam && len(pas.after) > 0:
		what = "it does not lead to what follows"
		pas.after = nil
	default:
		return false
	}
	for _, sl := range pas.slots {
		switch {
		case traps:
			sl.trap, sl.wanted = false, false
		case exact:
			sl.like, sl.same = sl.same, nil
		default:
			sl.like = nil
		}
	}
	p.loosened = append(p.loosened, s.Name+": "+what)
	return true
}

// explain turns a dead end into what the player can do about it.
func (p *piece) explain(err error, s *section) error {
	var dead *lattice.DeadEnd
	if !errors.As(err, &dead) {
		return err
	}
	return refuse("%s: 0 melodies are left to draw from in %s at rung %d that repeat no run of %d notes; add exercises, or take another key, meter or rung",
		s.Name, p.home, p.req.Rung, p.run)
}

// copySection takes the notes of the section that s plays again.
func (p *piece) copySection(s *section) {
	for i, b := range s.bars {
		source := s.of.bars[i]
		if b.same != nil && len(b.slots) == len(source.slots) {
			for j := range b.slots {
				b.slots[j].pick = source.slots[j].pick
			}
			continue
		}
		final := source.slots[len(source.slots)-1].pick // the stinger: the last note again
		q := final.pitches[len(final.pitches)-1]
		for _, sl := range b.slots {
			sl.pick = &pick{p.world.Catalogue.ShapesOf(1)[0], []theory.Pitch{q}}
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
	final.cells, final.same, final.slots, s.Stinger = source.cells, source, nil, false
	for _, l := range final.cells {
		if l.cell.Onsets() > 0 {
			final.slots = append(final.slots, p.newSlot(final, l, s.key))
		}
	}
	for i, sl := range final.slots {
		sl.pick = source.slots[i].pick
	}
	return nil
}

// placeTraps marks the slots that get a trap, as many as the rung asks, and one for
// each eight measures that gets a shape the read is to bring.
func (p *piece) placeTraps(rng *rand.Rand, s *section) {
	open := looseSlots(s)
	rng.Shuffle(len(open), func(i, j int) { open[i], open[j] = open[j], open[i] })
	if len(p.bounds.FreshShapes) > 0 && (p.drilled == nil || p.drilled.shapesAny(p.bounds.FreshShapes)) {
		p.pin(s, open, max(1, len(s.bars)/8), func(sl *slot, on bool) { sl.wanted = on })
	}
	most := p.rung.Traps[1]
	if most == 0 || len(p.bounds.Traps) == 0 {
		return
	}
	want := p.rung.Traps[0] + rng.IntN(most-p.rung.Traps[0]+1)
	want = max(min(want, 1), want*len(s.bars)/16)
	if left := p.pin(s, open, want, func(sl *slot, on bool) { sl.trap = on }); want-left < p.rung.Traps[0] {
		p.loosened = append(p.loosened, fmt.Sprintf("%s: room for %d of %d traps", s.Name, want-left, want))
	}
}

// looseSlots lists the slots of several notes that nothing else takes up and that take
// up nothing, cadences left out.
func looseSlots(s *section) []*slot {
	taken := map[*slot]bool{}
	for _, b := range s.bars {
		for _, sl := range b.slots {
			taken[sl.same], taken[sl.like] = true, true
		}
	}
	var open []*slot
	for _, b := range s.bars {
		for _, sl := range b.slots {
			if sl.same == nil && sl.like == nil && !taken[sl] && sl.final == "" && len(sl.onsets) >= 2 {
				open = append(open, sl)
			}
		}
	}
	return open
}

// pin sets up to so many of the slots, those where a melody leads through, and reports
// how many it found no place for.
func (p *piece) pin(s *section, open []*slot, want int, set func(*slot, bool)) int {
	for _, sl := range open[:min(len(open), trapTries)] {
		if want == 0 {
			break
		}
		if sl.trap || sl.wanted {
			continue
		}
		set(sl, true)
		if !p.passable(s, sl) {
			set(sl, false)
			continue
		}
		want--
	}
	return want
}

// trapTries is how many places are looked at for traps and wanted shapes.
const trapTries = 16

// passable reports whether some melody leads through the slots around sl, links and
// earlier music left aside.
func (p *piece) passable(s *section, sl *slot) bool {
	const around = 3
	var all []*slot
	for _, b := range s.bars {
		all = append(all, b.slots...)
	}
	i := slices.Index(all, sl)
	pas := &passage{slots: all[max(0, i-around):min(len(all), i+around+1)]}
	_, err := lattice.New(&p.buildGraph(pas, false).graph, nil)
	return err == nil
}

// notesOf lists the notes of some bars of a section, which have their picks.
func (p *piece) notesOf(s *section, bars []*bar) []noted {
	var out []noted
	for i, b := range bars {
		at := s.start + int64(i)*int64(p.meter.Measure())
		for _, sl := range b.slots {
			for j, q := range sl.pick.pitches {
				out = append(out, noted{q, at + int64(sl.onsets[j])})
			}
		}
	}
	return out
}

// tail lists the last notes of a section as the page goes on from it, and the slot of
// the last. The second ending follows the body as if the first were not there.
func (p *piece) tail(s *section, n int) ([]noted, *slot) {
	notes := p.notesOf(s, s.bars)
	if s.ending != nil {
		for i := range notes {
			notes[i].at += int64(p.meter.Measure())
		}
	}
	for i := len(s.bars) - 1; i >= 0; i-- {
		if k := len(s.bars[i].slots); k > 0 {
			return last(notes, n), s.bars[i].slots[k-1]
		}
	}
	return last(notes, n), nil
}

func last(notes []noted, n int) []noted { return notes[max(0, len(notes)-n):] }
