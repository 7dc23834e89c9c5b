package musicxml

import (
	"fmt"
	"strconv"
	"strings"

	"onward/rhythm"
)

// note takes one note element of any voice. Cue notes are not played.
func (p *pieceReader) note(e *element) error {
	n := PieceNote{At: p.at, Voice: orOne(e.word("voice")), Grace: e.has("grace")}
	if n.Chord = e.has("chord"); n.Chord {
		n.At = p.now.last
	} else if n.Grace {
		p.now.last = p.at
	}
	if !n.Grace {
		if err := p.lasts(e, &n); err != nil {
			return err
		}
	}
	if e.has("rest") || e.has("cue") {
		return nil
	}
	if !e.has("pitch") && !e.has("unpitched") {
		p.warn("notes without a pitch were left out")
		return nil
	}
	key, instrument, err := p.struck(e)
	if err != nil {
		return err
	}
	n.Key, n.Instrument = key, instrument
	n.TieStart, n.TieStop = tied(e, "start"), tied(e, "stop")
	p.articulation(e, &n)
	for _, word := range strings.FieldsFunc(e.attr("time-only"), func(r rune) bool { return r < '0' || r > '9' }) {
		if pass, err := strconv.Atoi(word); err == nil {
			n.Passes = append(n.Passes, pass)
		}
	}
	if percent, err := strconv.ParseFloat(e.attr("dynamics"), 64); err == nil && percent >= 0 {
		n.Velocity = uint8(min(127, max(1, percent*forte/100)))
	}
	p.now.notes = append(p.now.notes, n)
	return nil
}

// forte is the velocity that a note's dynamics attribute is a percentage of (MusicXML
// 4.0: the default forte value of 90).
const forte = 90

// lasts settles how long a note lasts and goes on behind it, if it is no member of a
// chord. Where duration and type differ by less than a division, which is rounding, the
// type holds.
func (p *pieceReader) lasts(e *element, n *PieceNote) error {
	value := typed(e)
	var written rhythm.Duration
	if value.Base != 0 {
		written = value.Duration()
	}
	text := e.word("duration")
	if text == "" {
		if written == 0 {
			return fmt.Errorf("a note has neither duration nor type")
		}
		text = fmt.Sprint(int64(written) * p.divisions / int64(rhythm.Quarter))
	}
	parts, err := p.parts(text)
	if err != nil {
		return err
	}
	n.Length = max(1, rhythm.Duration(p.ticks(parts)))
	rounded := written != 0 && p.within(int64(written)-int64(n.Length))
	if rounded {
		n.Length = written
	}
	if n.Chord {
		return nil
	}
	p.now.last = p.at
	p.raw += parts
	exact := p.ticks(p.raw)
	if next := p.at.Add(n.Length); rounded && p.within(int64(next-exact)) {
		p.at = next
	} else {
		p.at = exact
	}
	return p.reach()
}

// within reports whether so many ticks are less than a division.
func (p *pieceReader) within(ticks int64) bool {
	return max(ticks, -ticks)*p.divisions < int64(rhythm.Quarter)
}

// struck reports what a note sounds as, and on which of the part's instruments.
func (p *pieceReader) struck(e *element) (key uint8, instrument int, err error) {
	in := p.instruments.of(e.kid("instrument").attr("id"))
	if in.percussion && in.key >= 0 {
		return uint8(in.key), in.at, nil
	}
	if !e.has("pitch") {
		key, at := p.instruments.unpitched(in)
		return key, at, nil
	}
	pitch := e.kid("pitch")
	letter := strings.Index("C D EF G A B", pitch.word("step"))
	if letter < 0 || len(pitch.word("step")) != 1 {
		return 0, 0, fmt.Errorf("step %q is not A to G", pitch.word("step"))
	}
	octave, err := strconv.Atoi(pitch.word("octave"))
	if err != nil || octave < 0 || octave > 9 {
		return 0, 0, fmt.Errorf("octave %q is not 0 to 9", pitch.word("octave"))
	}
	alter := 0.0
	if word := pitch.word("alter"); word != "" {
		if alter, err = strconv.ParseFloat(word, 64); err != nil || alter < -4 || alter > 4 {
			return 0, 0, fmt.Errorf("alter %q is not -4 to 4", word)
		}
		if alter != float64(int(alter)) {
			p.warn("quarter tones are played as the semitone nearer to the natural")
		}
	}
	sounds := 12*(octave+1) + letter + int(alter) + p.sounds.Semitones
	if sounds < 0 || sounds > 127 {
		return 0, 0, fmt.Errorf("%s%d sounds as MIDI note %d, outside 0 to 127", pitch.word("step"), octave, sounds)
	}
	return uint8(sounds), in.at, nil
}

// articulation takes what settles how long and how loud the note sounds.
func (p *pieceReader) articulation(e *element, n *PieceNote) {
	for _, notations := range e.all("notations") {
		for _, k := range notations.kids {
			switch k.name {
			case "articulations":
				for _, a := range k.kids {
					n.articulate(a.name)
				}
			case "slur":
				if k.attr("type") == "start" {
					p.slurs[k.attr("number")] = n.Voice
				} else if k.attr("type") == "stop" {
					delete(p.slurs, k.attr("number"))
				}
			case "dynamics":
				p.dynamics(k, p.now.last)
			case "ornaments":
				p.warn("ornaments are played as plain notes")
			}
		}
	}
	for _, voice := range p.slurs {
		n.Slurred = n.Slurred || voice == n.Voice
	}
}

func (n *PieceNote) articulate(name string) {
	switch name {
	case "staccato", "staccatissimo", "spiccato":
		n.Staccato = true
	case "tenuto":
		n.Tenuto = true
	case "detached-legato":
		n.Staccato, n.Tenuto = true, true
	case "accent", "stress":
		n.Accent = true
	case "strong-accent":
		n.Marcato = true
	case "breath-mark", "caesura":
		n.Breath = true
	}
}
