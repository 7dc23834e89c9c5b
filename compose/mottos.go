package compose

import (
	"errors"
	"math/rand/v2"

	"onward/compose/lattice"
)

// drawLinked draws a passage whose slots take up each other: first freely, to find
// the mottos, then with the mottos standing. Of several melodies it keeps the one that the
// critic likes best. Where no melody can do all that was planned, the plan gives way step
// by step.
func (p *piece) drawLinked(rng *rand.Rand, m *memory, s *section, pas *passage) error {
	for {
		log, err := p.drawBest(rng, m, s, pas)
		if err == nil {
			p.legal += log
			return nil
		}
		var dead *lattice.DeadEnd
		if !errors.As(err, &dead) || !p.loosen(s, pas) {
			return p.explain(err, s)
		}
	}
}

// drawBest draws several melodies and keeps the best. It fails if the first cannot be drawn.
func (p *piece) drawBest(rng *rand.Rand, m *memory, s *section, pas *passage) (float64, error) {
	var best []*pick
	var log, most float64
	first := &freely{}
	clean := false // the best has no run of a tune that was learned from
	for i := 0; i < p.tries() || !clean && i < mostTries; i++ {
		for _, sl := range pas.slots {
			sl.pick = nil
		}
		if err := p.drawMottos(rng, m, pas, first); err != nil {
			if best == nil {
				return 0, err
			}
			continue
		}
		mottos := 0.0
		if i == 0 {
			mottos = p.mottos(pas)
		}
		l, err := p.drawPassage(rng, m, s, pas)
		if err != nil {
			if best == nil {
				return 0, err
			}
			continue
		}
		fine, score := len(pas.line(p).learnedRuns()) == 0, p.judge(pas)
		if best == nil {
			log = l + mottos
		}
		if best == nil || fine && !clean || fine == clean && score > most {
			most, best, clean = score, pas.picks(), fine
		}
	}
	for i, sl := range pas.slots {
		sl.pick = best[i]
	}
	return log, nil
}

// mostTries is how many melodies are drawn at most until one has no run of a tune that was
// learned from.
const mostTries = 20

// line reports the passage as a line to compare.
func (pas *passage) line(p *piece) Line {
	l := Line{At: p.starts64(pas.section, pas)}
	for _, n := range pas.before {
		l.MIDI = append(l.MIDI, n.pitch.MIDI())
	}
	for _, sl := range pas.slots {
		for _, q := range sl.pick.pitches {
			l.MIDI = append(l.MIDI, q.MIDI())
		}
	}
	for _, n := range pas.after {
		l.MIDI = append(l.MIDI, n.pitch.MIDI())
	}
	return l
}

// picks lists what the slots got.
func (pas *passage) picks() []*pick {
	out := make([]*pick, len(pas.slots))
	for i, sl := range pas.slots {
		out[i] = sl.pick
	}
	return out
}

// freely keeps the lattice of a passage in which nothing stands yet, for all draws of it.
type freely struct {
	builder *graphBuilder
	sampler *lattice.Sampler
}

// drawMottos draws the passage with its links loose and keeps the notes of the slots
// that others take up, and what the others take from them. It does nothing where there
// are no links.
func (p *piece) drawMottos(rng *rand.Rand, m *memory, pas *passage, first *freely) error {
	source := pas.sources()
	for turn := 0; ; turn++ {
		ready := map[*slot]bool{}
		for _, sl := range pas.slots {
			if sl.same != nil {
				sl.pick = sl.same.pick
			} else if source[sl] && sl.pick == nil && (sl.like == nil || sl.like.pick != nil) {
				ready[sl] = true
			}
		}
		if len(ready) == 0 {
			return nil
		}
		f := first
		if turn > 0 {
			f = &freely{}
		}
		if err := p.drawFreely(rng, m, pas, ready, f); err != nil {
			return err
		}
	}
}

// sources reports the slots that others of the passage take up: its mottos.
func (pas *passage) sources() map[*slot]bool {
	out := map[*slot]bool{}
	for _, sl := range pas.slots {
		if sl.same != nil {
			out[sl.same] = true
		}
		if sl.like != nil {
			out[sl.like] = true
		}
	}
	return out
}

// mottoTries is how often a motto is drawn that was heard before, until the whole
// passage is drawn with its runs forbidden.
const mottoTries = 20

// drawFreely draws a passage with no run forbidden but those inside the mottos asked
// for, and keeps those: what lies between them is drawn anew anyway.
func (p *piece) drawFreely(rng *rand.Rand, m *memory, pas *passage, mottos map[*slot]bool, f *freely) error {
	if f.sampler == nil {
		f.builder = p.buildGraph(pas)
		sampler, err := lattice.New(&f.builder.graph, nil)
		if err != nil {
			return err
		}
		f.sampler = sampler
	}
	at := p.starts64(pas.section, pas)
	for range mottoTries {
		picks := f.builder.picks(f.sampler.Sample(rng))
		heard, err := m.heardAny(f.builder.stretches(at, picks, mottos))
		if err != nil {
			return err
		}
		if !heard {
			pas.keep(picks, mottos)
			return nil
		}
	}
	kept := pas.picks()
	if _, err := p.drawPassage(rng, m, pas.section, pas); err != nil {
		return err
	}
	for i, sl := range pas.slots {
		if !mottos[sl] {
			sl.pick = kept[i]
		}
	}
	return nil
}

// keep sets the picks of the mottos.
func (pas *passage) keep(picks []*pick, mottos map[*slot]bool) {
	for i, sl := range pas.slots {
		if mottos[sl] {
			sl.pick = picks[i]
		}
	}
}

// stretches cuts a drawn passage to the lines of its mottos: slots in a row that others
// take up.
func (b *graphBuilder) stretches(at []int64, picks []*pick, source map[*slot]bool) []Line {
	var out []Line
	var cur Line
	note := len(b.pas.before)
	for i, sl := range b.pas.slots {
		if !source[sl] && len(cur.MIDI) > 0 {
			out, cur = append(out, cur), Line{}
		}
		for _, q := range picks[i].pitches {
			if source[sl] {
				cur.add(q.MIDI(), at[note])
			}
			note++
		}
	}
	return append(out, cur)
}

// mottos reports the common logarithm of how many mottos there were to draw from: the
// melodies of the slots that others take up, by themselves.
func (p *piece) mottos(pas *passage) float64 {
	source := pas.sources()
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
	sampler, err := lattice.New(&p.buildGraph(alone).graph, nil)
	if err != nil {
		return 0
	}
	return sampler.Log10()
}

// loosen takes the next part of the plan back: traps, then returns note for note
// (rhythm and directions return still), then those of directions, then the way to what
// follows. It reports false when nothing is left to give up.
func (p *piece) loosen(s *section, pas *passage) bool {
	var traps, exact, alike bool
	for _, sl := range pas.slots {
		traps, exact, alike = traps || sl.trap || sl.wanted, exact || sl.same != nil, alike || sl.like != nil
		sl.pick = nil
	}
	if traps && p.looseTraps(s, pas) {
		return true
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
			if sl.same != nil {
				sl.like, sl.same = sl.same, nil
			}
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
