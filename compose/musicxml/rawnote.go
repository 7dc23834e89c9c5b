package musicxml

import (
	"fmt"
	"strconv"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// note takes one note element of any voice.
func (p *partReader) note(e *element) error {
	if p.notes++; p.notes > maxNotes {
		return errNotes
	}
	n := rawNote{voice: orOne(e.word("voice")), staff: orOne(e.word("staff")), chord: e.has("chord"),
		grace: e.has("grace"), rest: e.has("rest"), whole: e.kid("rest").attr("measure") == "yes", element: e}
	if err := p.pitchOf(e, &n); err != nil {
		return err
	}
	n.value = typed(e)
	n.at = p.at
	if n.grace {
		p.m.notes = append(p.m.notes, n)
		return nil
	}
	n.chord = p.joins(e)
	length, err := p.timedNote(e, n.value)
	if err != nil {
		return err
	}
	if n.length = length.length; n.length == 0 {
		p.warn("notes of no duration were left out")
		if n.chord {
			return nil
		}
		return p.pass(length)
	}
	if !length.fits {
		if n.value.Base != 0 && !n.rest && !n.chord {
			p.warn("a note's type and duration differ; the duration was taken")
		}
		n.value = rhythm.Value{}
	}
	if n.chord {
		n.at = p.last
		p.m.notes = append(p.m.notes, n)
		return nil
	}
	p.m.notes = append(p.m.notes, n)
	return p.pass(length)
}

var errNotes = fmt.Errorf("more than %d notes in a part", maxNotes)

// timedNote settles how long a note lasts, and says where the file has no divisions.
func (p *partReader) timedNote(e *element, value rhythm.Value) (timed, error) {
	said := p.settled
	length, err := p.lasts(e, value)
	if !said && p.settled {
		p.warn("the file does not say what durations count: %d to a quarter, by the first note", p.divisions)
	}
	return length, err
}

func orOne(s string) string {
	if s == "" {
		return "1"
	}
	return s
}

// pitchOf settles what the note sounds; cue notes and notes without a pitch are rests.
func (p *partReader) pitchOf(e *element, n *rawNote) error {
	switch {
	case n.rest:
		return nil
	case e.has("cue"):
		p.warn("cue notes were read as rests")
		n.rest = true
		return nil
	case !e.has("pitch"):
		p.warn("notes without a pitch were read as rests")
		n.rest = true
		return nil
	}
	var err error
	n.pitch, err = p.readPitch(e.kid("pitch"))
	return err
}

func (p *partReader) readPitch(e *element) (theory.Pitch, error) {
	letter := strings.Index("CDEFGAB", e.word("step"))
	if letter < 0 || len(e.word("step")) != 1 {
		return theory.Pitch{}, fmt.Errorf("step %.40q is not A to G", e.word("step"))
	}
	octave, err := strconv.Atoi(e.word("octave"))
	if err != nil || octave < 0 || octave > 9 {
		return theory.Pitch{}, fmt.Errorf("octave %.40q is not 0 to 9", e.word("octave"))
	}
	var alter, parts int64 = 0, 1
	if word := e.word("alter"); word != "" {
		if alter, parts, err = decimal(word); err != nil || alter < -2*parts || alter > 2*parts {
			return theory.Pitch{}, fmt.Errorf("alter %.40q is not -2 to 2", word)
		}
	}
	if alter%parts != 0 {
		p.warn("quarter tones were read as the semitone nearer to the natural")
	}
	pitch := theory.Pitch{Letter: theory.Letter(letter), Alter: int(alter / parts), Octave: octave}
	if pitch.MIDI() > 127 {
		return theory.Pitch{}, fmt.Errorf("%v is MIDI note %d, above 127", pitch, pitch.MIDI())
	}
	return pitch, nil
}

// typed reports the written value of a note element, the zero Value where it has no
// type or one that scores do not hold.
func typed(e *element) rhythm.Value {
	var v rhythm.Value
	for base, name := range typeNames {
		if name == e.word("type") {
			v.Base = base
		}
	}
	v.Dots = len(e.all("dot"))
	if e.has("time-modification") {
		m := e.kid("time-modification")
		actual, err1 := strconv.Atoi(m.word("actual-notes"))
		normal, err2 := strconv.Atoi(m.word("normal-notes"))
		if err1 != nil || err2 != nil || actual < 1 || normal < 1 || actual > maxTuplet || normal > maxTuplet {
			return rhythm.Value{}
		}
		if actual != normal {
			v.Tuplet = rhythm.Ratio{Actual: actual, Normal: normal}
		}
	}
	if v.Base == 0 || v.Dots > 2 || !exact(v) {
		return rhythm.Value{}
	}
	return v
}

// exact reports whether the value lasts a whole number of ticks.
func exact(v rhythm.Value) bool {
	if v.Tuplet.Actual == 0 {
		return true
	}
	plain := rhythm.Value{Base: v.Base, Dots: v.Dots}.Duration()
	return plain*rhythm.Duration(v.Tuplet.Normal)%rhythm.Duration(v.Tuplet.Actual) == 0
}
