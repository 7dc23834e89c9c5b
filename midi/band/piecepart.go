package band

import (
	"slices"

	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/midi/timeline"
	"onward/rhythm"
)

// addPart adds a printed part: a track, and on it a voice for each of its instruments.
func (d *desk) addPart(p *musicxml.Piece, part int, opts PieceOptions, channels []uint8) error {
	of := &p.Parts[part]
	l, err := LayOutPiece(p, part, opts) // for the part's own dynamics
	if err != nil {
		return err
	}
	track := d.track(of.Name)
	notes := sing(of, l)
	for i, in := range of.Instruments {
		var tones []timeline.Tone
		for _, n := range notes {
			if n.instrument == i {
				tones = append(tones, n.Tone)
			}
		}
		v := timeline.Voice{Track: track, Channel: channels[i], Program: uint8(in.Program)}
		events := v.Play(tones)
		if in.Percussion {
			events = events[1:] // General MIDI has one set of drums
		}
		d.voices = append(d.voices, events)
	}
	return nil
}

// A played note is a tone of a printed part under way.
type playedNote struct {
	timeline.Tone
	instrument int
	tied       bool       // onward
	marks      score.Note // of what it ends with
	slurred    bool
}

func (n *playedNote) end() rhythm.Offset { return n.At.Add(n.Length) }

// A chorister goes along one voice of a part as it is played.
type chorister struct {
	l      *timeline.Layout
	notes  []playedNote
	last   []int // the notes struck last, members of one chord
	at     rhythm.Offset
	late   rhythm.Duration // how much too late grace notes have made what is struck at at
	graces [][]musicxml.PieceNote
}

// sing reports the notes of a printed part as they sound: repeats played, ties joined,
// length by articulation, velocity by dynamics and accents, grace notes ahead of the beat.
func sing(of *musicxml.PiecePart, l *timeline.Layout) []playedNote {
	voices := map[string]*chorister{}
	var order []string
	for _, m := range l.Measures {
		for _, n := range of.Notes[m.Index] {
			if n.Passes != nil && !slices.Contains(n.Passes, m.Pass) {
				continue
			}
			if voices[n.Voice] == nil {
				voices[n.Voice] = &chorister{l: l}
				order = append(order, n.Voice)
			}
			voices[n.Voice].sing(m, n)
		}
	}
	var all []playedNote
	for _, name := range order {
		v := voices[name]
		v.trail()
		for _, n := range v.notes {
			if n.Grace {
				n.Hold = n.Length
			} else {
				n.Hold = timeline.Held(n.Length, &n.marks, n.slurred)
			}
			n.Hold = min(n.Hold, rhythm.Duration(max(1, l.End-n.At)))
			all = append(all, n)
		}
	}
	return all
}

// sing takes the next note of the voice.
func (c *chorister) sing(m timeline.PlayedMeasure, n musicxml.PieceNote) {
	if n.Grace {
		if k := len(c.graces); n.Chord && k > 0 {
			c.graces[k-1] = append(c.graces[k-1], n)
		} else {
			c.graces = append(c.graces, []musicxml.PieceNote{n})
		}
		return
	}
	at := m.Offset(n.At)
	if n.TieStop && c.holds(at, n) {
		return
	}
	if len(c.graces) > 0 {
		c.late = c.grace(at, n.Length)
	} else if at != c.at {
		c.late = 0
	}
	c.at = at
	late := min(c.late, n.Length-1)
	if len(c.last) > 0 && c.notes[c.last[0]].At != at.Add(late) {
		c.last = c.last[:0]
	}
	marks := marksOf(n)
	velocity := n.Velocity
	if velocity == 0 {
		velocity = c.l.Velocity(at, &marks)
	}
	c.last = append(c.last, len(c.notes))
	c.notes = append(c.notes, playedNote{
		Tone:       timeline.Tone{At: at.Add(late), Length: n.Length - late, Key: n.Key, Velocity: velocity, Index: m.Index, Pass: m.Pass},
		instrument: n.Instrument, tied: n.TieStart, marks: marks, slurred: n.Slurred,
	})
}

func marksOf(n musicxml.PieceNote) score.Note {
	return score.Note{Staccato: n.Staccato, Tenuto: n.Tenuto, Accent: n.Accent, Marcato: n.Marcato, Breath: n.Breath}
}

// holds lets the note that is tied to this one sound on, if there is one.
func (c *chorister) holds(at rhythm.Offset, n musicxml.PieceNote) bool {
	for i := len(c.notes) - 1; i >= 0 && i >= len(c.notes)-tiesBack; i-- {
		before := &c.notes[i]
		if before.tied && before.Key == n.Key && before.end() == at {
			before.Length += n.Length
			before.tied, before.marks, before.slurred = n.TieStart, marksOf(n), n.Slurred
			return true
		}
	}
	return false
}

// tiesBack is how many notes ago a tie may have begun in a voice.
const tiesBack = 64

// grace places the grace notes ahead of a note at its place, and reports how much too late
// that makes the note where nothing lies ahead; see timeline.Layout.Melody.
func (c *chorister) grace(at rhythm.Offset, length rhythm.Duration) (late rhythm.Duration) {
	count := rhythm.Duration(len(c.graces))
	each := timeline.GraceLength(c.l.MicrosPerQuarter(max(0, at-1)))
	if room := c.roomAhead(at); room >= count {
		each = min(each, room/count)
	} else {
		each = max(1, min(each, length/2/count))
		late = min(each*count, length-1)
	}
	c.place(at.Add(late)-rhythm.Offset(count*each), each)
	return late
}

// place puts the grace notes at a point, and ends what sounds there before.
func (c *chorister) place(start rhythm.Offset, each rhythm.Duration) {
	start = max(0, start)
	for _, i := range c.last {
		n := &c.notes[i]
		n.Length = min(n.Length, rhythm.Duration(max(1, start-n.At)))
	}
	c.last = c.last[:0]
	level := int(c.l.Level(start)) - timeline.GraceBelow
	for i, chord := range c.graces {
		for _, g := range chord {
			c.notes = append(c.notes, playedNote{
				Tone: timeline.Tone{At: start.Add(rhythm.Duration(i) * each), Length: each, Key: g.Key,
					Velocity: clamp(level, 1, 127), Grace: true}, instrument: g.Instrument,
			})
		}
	}
	c.graces = nil
}

// roomAhead is how much of the time before at grace notes may take: rests, and half of the
// note before.
func (c *chorister) roomAhead(at rhythm.Offset) rhythm.Duration {
	if len(c.last) == 0 {
		return at.Since(0)
	}
	before := c.notes[c.last[len(c.last)-1]]
	return rhythm.Duration(max(0, at-before.end())) + before.Length/2
}

// trail plays grace notes that no note follows at the end of the note before.
func (c *chorister) trail() {
	if len(c.graces) == 0 || len(c.last) == 0 {
		return
	}
	end := c.notes[c.last[0]].end()
	count := rhythm.Duration(len(c.graces))
	each := max(1, min(timeline.GraceLength(c.l.MicrosPerQuarter(end-1)), c.notes[c.last[0]].Length/2/count))
	c.place(end-rhythm.Offset(count*each), each)
}
