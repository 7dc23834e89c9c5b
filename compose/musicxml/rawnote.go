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
	if err := p.noteLength(e, &n); err != nil {
		return err
	}
	if n.chord {
		for i := len(p.m.notes) - 1; i >= 0; i-- {
			if !p.m.notes[i].grace {
				n.at = p.m.notes[i].at
				break
			}
		}
		p.m.notes = append(p.m.notes, n)
		return nil
	}
	p.m.notes = append(p.m.notes, n)
	return p.advance(n.length, nil)
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
		return theory.Pitch{}, fmt.Errorf("step %q is not A to G", e.word("step"))
	}
	octave, err := strconv.Atoi(e.word("octave"))
	if err != nil || octave < 0 || octave > 9 {
		return theory.Pitch{}, fmt.Errorf("octave %q is not 0 to 9", e.word("octave"))
	}
	var alter, parts int64 = 0, 1
	if word := e.word("alter"); word != "" {
		if alter, parts, err = decimal(word); err != nil || alter < -2*parts || alter > 2*parts {
			return theory.Pitch{}, fmt.Errorf("alter %q is not -2 to 2", word)
		}
	}
	if alter%parts != 0 {
		p.warn("quarter tones were read as the semitone nearer to the natural")
	}
	return theory.Pitch{Letter: theory.Letter(letter), Alter: int(alter / parts), Octave: octave}, nil
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
		if err1 != nil || err2 != nil || actual < 1 || normal < 1 || actual > 64 || normal > 64 {
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

// noteLength settles how long the note lasts: as its duration says, or as its type
// says where the two differ by less than one division, which is rounding.
func (p *partReader) noteLength(e *element, n *rawNote) error {
	given := e.word("duration")
	written := rhythm.Duration(0)
	if n.value.Base != 0 {
		written = n.value.Duration()
	}
	if given == "" {
		n.length = written
		if written == 0 {
			return fmt.Errorf("a note has neither duration nor type")
		}
		return nil
	}
	if num, den, err := decimal(given); err == nil && written != 0 {
		den *= p.divisions
		off := num*int64(rhythm.Quarter) - int64(written)*den
		if max(off, -off)*p.divisions < int64(rhythm.Quarter)*den {
			n.length = written
			return nil
		}
	}
	length, err := p.length(given)
	if err != nil {
		return err
	}
	if n.length = length; length == 0 {
		return fmt.Errorf("a note of no duration that is no grace note")
	}
	if written != 0 && !n.rest && !n.chord {
		p.warn("a note's type and duration differ; the duration was taken")
	}
	n.value = rhythm.Value{}
	return nil
}
