package timeline

import (
	"fmt"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// How long a note sounds of its length on the page (common practice; the fractions
// are our own choice):
//
//	slurred to the next   all of it
//	tenuto                all of it
//	staccato              half
//	staccato and tenuto, or staccato under a slur   three quarters
//	marcato               three quarters
//	before a breath       a quarter less, at most an eighth note less
//	plain                 an eighth less, at most a 32nd note less
//
// An accent is 16 louder than the level, a marcato 24, a grace note 16 softer.
const (
	accentAbove  = dynamicStep
	marcatoAbove = 24
	GraceBelow   = dynamicStep // a grace note's velocity below the level
)

// graceMicros is the longest that a grace note lasts: it takes the largest whole
// fraction of a quarter that lasts no longer, 60 to 90 ms up to a quarter = 330.
const graceMicros = 90_000

// Melody reports the part's notes as they sound, in order of time: repeats played,
// in sounding pitch, ties merged, length by articulation, velocity by dynamics and
// accents. Grace notes take their time ahead of the beat, from the rest or the note
// before, of which they leave at least half; at the start of the piece from the
// count-in. Where nothing lies ahead they take it from their own note. Fermatas are
// not held: the band does not wait.
//
// It fails on a pitch that MIDI has no number for and on a note without value, with
// part and measure.
func (l *Layout) Melody() ([]Tone, error) {
	s := singer{l: l}
	for i, m := range l.Measures {
		if i > 0 && m.Index != l.Measures[i-1].Index+1 {
			s.slurred = false // what the slur led to is not played
		}
		written := &l.Part.Measures[m.Index]
		for j := range written.Notes {
			if err := s.sing(m, written, &written.Notes[j]); err != nil {
				return nil, fmt.Errorf("part %q, measure %d: %w", l.Part.Name, m.Number, err)
			}
		}
	}
	tones := make([]Tone, len(s.notes))
	for i, n := range s.notes {
		tones[i] = n.Tone
		tones[i].Hold = n.hold()
	}
	return tones, nil
}

// A sungNote is a tone and what settles how long it sounds.
type sungNote struct {
	Tone
	last    *score.Note // the written note that it ends with; nil for a grace note
	slurred bool        // joined to the next
}

func (n sungNote) end() rhythm.Offset { return n.At.Add(n.Length) }

func (n sungNote) hold() rhythm.Duration {
	if n.last == nil {
		return n.Length
	}
	return Held(n.Length, n.last, n.slurred)
}

// Held reports how long a note of so much length on the page sounds, by its marks and
// whether it is slurred to the next.
func Held(d rhythm.Duration, n *score.Note, slurred bool) rhythm.Duration {
	switch {
	case n.Staccato && (n.Tenuto || slurred):
		d = d * 3 / 4
	case n.Staccato:
		d /= 2
	case slurred && !n.Breath, n.Tenuto && !n.Breath:
	case n.Marcato:
		d = d * 3 / 4
	case n.Breath:
		d -= min(d/4, rhythm.Eighth)
	default:
		d -= min(d/8, rhythm.Quarter/8)
	}
	return max(1, d)
}

// A singer goes along the part as played.
type singer struct {
	l       *Layout
	notes   []sungNote
	tied    bool // the last note is tied onward
	slurred bool // a slur is open
}

func (s *singer) sing(m PlayedMeasure, written *score.Measure, n *score.Note) error {
	if n.Rest {
		s.tied = false
		return nil
	}
	pitch := n.Pitch.Transpose(s.l.Part.Sounds)
	if err := sounds(pitch); err != nil {
		return err
	}
	if n.Value.Base < 1 {
		return fmt.Errorf("%s has no note value", n.Pitch)
	}
	at, length := m.Offset(n.At), n.Duration(written)
	if n.TieStop && s.continues(pitch, at) {
		s.notes[len(s.notes)-1].Length += length
	} else {
		late, err := s.graceNotes(m, at, length, n)
		if err != nil {
			return err
		}
		s.add(m, Tone{At: at.Add(late), Length: length - late, Pitch: pitch, Velocity: s.l.Velocity(at, n)})
	}
	s.slurred = n.SlurStart || s.slurred && !n.SlurStop
	last := &s.notes[len(s.notes)-1]
	last.last, last.slurred = n, s.slurred
	s.tied = n.TieStart
	return nil
}

func (s *singer) add(m PlayedMeasure, t Tone) {
	t.Key, t.Index, t.Pass = uint8(t.Pitch.MIDI()), m.Index, m.Pass
	s.notes = append(s.notes, sungNote{Tone: t})
}

// continues reports whether a tie leads from the last note to a note like this.
func (s *singer) continues(pitch theory.Pitch, at rhythm.Offset) bool {
	if !s.tied || len(s.notes) == 0 {
		return false
	}
	last := s.notes[len(s.notes)-1]
	return last.Pitch == pitch && last.end() == at
}

// Velocity reports how loud a note that begins at the offset is, by level and accent.
func (l *Layout) Velocity(at rhythm.Offset, n *score.Note) uint8 {
	v := int(l.Strike(at))
	switch {
	case n.Marcato:
		v += marcatoAbove
	case n.Accent:
		v += accentAbove
	}
	return velocity(v)
}

// graceNotes sings the grace notes ahead of the note n at its place, and reports how
// much too late that makes the note where nothing lies ahead.
func (s *singer) graceNotes(m PlayedMeasure, at rhythm.Offset, length rhythm.Duration, n *score.Note) (late rhythm.Duration, err error) {
	count := rhythm.Duration(len(n.Grace))
	if count == 0 {
		return 0, nil
	}
	each := GraceLength(s.l.MicrosPerQuarter(max(0, at-1)))
	if room := s.roomAhead(at); room >= count {
		each = min(each, room/count)
	} else {
		each = min(each, length/2/count)
		late = each * count
	}
	start := at.Add(late) - rhythm.Offset(count*each)
	if len(s.notes) > 0 {
		before := &s.notes[len(s.notes)-1]
		before.Length = min(before.Length, rhythm.Duration(max(1, start-before.At)))
	}
	level := int(s.l.Level(at)) - GraceBelow
	for i, g := range n.Grace {
		pitch := g.Transpose(s.l.Part.Sounds)
		if err := sounds(pitch); err != nil {
			return 0, fmt.Errorf("grace note: %w", err)
		}
		s.add(m, Tone{At: start.Add(rhythm.Duration(i) * each), Length: each, Hold: each, Pitch: pitch, Velocity: velocity(level), Grace: true})
	}
	return late, nil
}

// roomAhead reports how much of the time before at grace notes may take: rests, and
// half of the note before.
func (s *singer) roomAhead(at rhythm.Offset) rhythm.Duration {
	if len(s.notes) == 0 {
		return at.Since(0)
	}
	before := s.notes[len(s.notes)-1]
	return rhythm.Duration(max(0, at-before.end())) + before.Length/2
}

// GraceLength reports how long one grace note lasts at the tempo.
func GraceLength(microsPerQuarter int) rhythm.Duration {
	parts := (microsPerQuarter + graceMicros - 1) / graceMicros
	return max(1, rhythm.Quarter/rhythm.Duration(parts))
}

// sounds refuses a pitch that MIDI has no number for.
func sounds(p theory.Pitch) error {
	if n := p.MIDI(); n < 0 || n > 127 {
		return fmt.Errorf("%s sounds as MIDI note %d, outside 0 to 127", p, n)
	}
	return nil
}
