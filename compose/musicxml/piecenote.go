package musicxml

import (
	"fmt"
	"strconv"
	"strings"
)

// note takes one note element of any voice. Cue notes are not played.
func (p *pieceReader) note(e *element) error {
	if p.partReader.notes++; p.partReader.notes > maxNotes {
		return errNotes
	}
	n := PieceNote{At: p.at, Voice: orOne(e.word("voice")), Grace: e.has("grace")}
	if n.Grace {
		n.Chord = e.has("chord")
	} else {
		if n.Chord = p.joins(e); n.Chord {
			n.At = p.last
		}
		if err := p.timing(e, &n); err != nil {
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
		if pass, err := strconv.Atoi(word); err == nil && len(n.Passes) < maxEnding {
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

// timing settles how long a note lasts and goes on behind it, if it is no member of a
// chord.
func (p *pieceReader) timing(e *element, n *PieceNote) error {
	length, err := p.timedNote(e, typed(e))
	if err != nil {
		return err
	}
	n.Length = max(1, length.length)
	if n.Chord {
		return nil
	}
	return p.pass(length)
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
		return 0, 0, fmt.Errorf("step %.40q is not A to G", pitch.word("step"))
	}
	octave, err := strconv.Atoi(pitch.word("octave"))
	if err != nil || octave < 0 || octave > 9 {
		return 0, 0, fmt.Errorf("octave %.40q is not 0 to 9", pitch.word("octave"))
	}
	alter := 0.0
	if word := pitch.word("alter"); word != "" {
		if alter, err = strconv.ParseFloat(word, 64); err != nil || alter < -4 || alter > 4 {
			return 0, 0, fmt.Errorf("alter %.40q is not -4 to 4", word)
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

// maxSlurs is how many slurs are open at a time in a part (MusicXML 4.0, number-level: 1 to
// 16).
const maxSlurs = 16

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
				if k.attr("type") == "start" && len(p.slurs) < maxSlurs {
					p.slurs[k.attr("number")] = n.Voice
				} else if k.attr("type") == "stop" {
					delete(p.slurs, k.attr("number"))
				}
			case "dynamics":
				p.dynamics(k, n.At)
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
	a := articulations[name]
	n.Staccato, n.Tenuto = n.Staccato || a.staccato, n.Tenuto || a.tenuto
	n.Accent, n.Marcato, n.Breath = n.Accent || a.accent, n.Marcato || a.marcato, n.Breath || a.breath
}
