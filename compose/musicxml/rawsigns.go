package musicxml

import (
	"fmt"
	"strconv"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// attributes takes divisions, keys, meters, clefs and the transposition.
func (p *partReader) attributes(e *element) error {
	for _, k := range e.kids {
		staff := k.attr("number")
		switch k.name {
		case "divisions":
			if err := p.divide(k.text); err != nil {
				return err
			}
		case "key":
			p.key(k, staff)
		case "time":
			if err := p.time(k, staff); err != nil {
				return err
			}
		case "clef":
			p.clef(k, staff)
		case "transpose":
			if err := p.transpose(k); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *partReader) sign(name, staff string, take func(m *score.Measure)) {
	p.m.signs = append(p.m.signs, rawSign{p.at, staff, take, name})
}

func (p *partReader) key(e *element, staff string) {
	fifths, err := strconv.Atoi(e.word("fifths"))
	if err != nil {
		p.warn("a key signature of its own kind was read as no signature; the notes keep their alterations")
		fifths = 0
	}
	if fifths < -7 || fifths > 7 {
		p.warn("a key signature of more than seven was read enharmonically; the notes keep their spelling")
		fifths = enharmonic(fifths)
	}
	key := theory.Key{Fifths: fifths}
	switch mode := e.word("mode"); mode {
	case "minor":
		key.Mode = theory.Minor
	case "", "major", "none", "ionian":
	default:
		p.warn("mode %.40q was read as major, with the same signature", mode)
	}
	p.sign("key", staff, func(m *score.Measure) { m.Key = &key })
}

// enharmonic brings a signature into seven sharps or flats by twelve fifths.
func enharmonic(fifths int) int {
	f := ((fifths % 12) + 12) % 12
	if f > 6 {
		f -= 12
	}
	return f
}

func (p *partReader) time(e *element, staff string) error {
	if e.has("senza-misura") {
		p.warn("music without a meter: its measures are as long as their notes")
		return nil
	}
	beats, units := e.all("beats"), e.all("beat-type")
	if len(beats) == 0 || len(beats) != len(units) {
		return fmt.Errorf("a time signature without beats and beat type")
	}
	var meter rhythm.Meter
	for i := range beats {
		b, unit := 0, 0
		for _, s := range strings.Split(beats[i].text, "+") {
			n, err := strconv.Atoi(strings.TrimSpace(s))
			if err != nil || n < 1 || n > 64 {
				return fmt.Errorf("time signature: beats %.40q is not a number from 1 to 64", beats[i].text)
			}
			b += n
		}
		unit, err := strconv.Atoi(strings.TrimSpace(units[i].text))
		if err != nil || unit < 1 || unit > 64 || unit&(unit-1) != 0 {
			return fmt.Errorf("time signature: beat type %.40q is not 1, 2, 4, 8, 16, 32 or 64", units[i].text)
		}
		meter = joined(meter, rhythm.Meter{Beats: b, Unit: unit})
	}
	if meter.Measure() > longestMeasure {
		return fmt.Errorf("time signature %v is longer than 64 whole notes", meter)
	}
	if len(beats) > 1 || strings.Contains(beats[0].text, "+") {
		p.warn("a time signature of several parts was read as %v", meter)
	}
	meter.Cut = e.attr("symbol") == "cut" && meter == rhythm.Meter{Beats: 2, Unit: 2}
	p.sign("meter", staff, func(m *score.Measure) { m.Meter = &meter })
	return nil
}

// joined reports one meter as long as a and b together.
func joined(a, b rhythm.Meter) rhythm.Meter {
	if a.Unit == 0 {
		return b
	}
	unit := max(a.Unit, b.Unit)
	return rhythm.Meter{Beats: a.Beats*unit/a.Unit + b.Beats*unit/b.Unit, Unit: unit}
}

func (p *partReader) clef(e *element, staff string) {
	clef := theory.Treble
	sign, line := e.word("sign"), e.word("line")
	switch {
	case sign == "F":
		clef = theory.Bass
	case sign == "C" && (line == "4" || line == "5"):
		clef = theory.Bass
	}
	if s, l := clefSign(clef); sign != s || (line != "" && line != l) || (e.word("clef-octave-change") != "" && e.word("clef-octave-change") != "0") {
		p.warn("clef %.20s%.20s was read as the %s clef; the pitches are as written", sign, line, clef)
	}
	p.sign("clef", staff, func(m *score.Measure) { m.Clef = &clef })
}

// stepsOf reports the usual diatonic steps of an interval of 0 to 11 semitones.
var stepsOf = [12]int{0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6}

// usual reports the usual interval of so many semitones.
func usual(semitones int) theory.Interval {
	steps := 7*(max(semitones, -semitones)/12) + stepsOf[max(semitones, -semitones)%12]
	if semitones < 0 {
		steps = -steps
	}
	return theory.Interval{Steps: steps, Semitones: semitones}
}

// transpose takes the transposition, which holds for the whole part.
func (p *partReader) transpose(e *element) error {
	chromatic, den, err := decimal(e.word("chromatic"))
	semitones := int(chromatic)
	if err != nil || den != 1 {
		return fmt.Errorf("transposition: chromatic %.40q is not a number of semitones", e.word("chromatic"))
	}
	if octaves, err := strconv.Atoi(e.word("octave-change")); err == nil && octaves >= -8 && octaves <= 8 {
		semitones += 12 * octaves
	}
	if semitones < -maxTransposition || semitones > maxTransposition {
		return fmt.Errorf("transposition by %d semitones, more than %d", semitones, maxTransposition)
	}
	i := usual(semitones)
	if steps, err := strconv.Atoi(e.word("diatonic")); err == nil {
		if octaves, err := strconv.Atoi(e.word("octave-change")); err == nil {
			steps += 7 * octaves
		}
		if steps < i.Steps-1 || steps > i.Steps+1 {
			p.warn("a transposition of steps that do not fit its semitones was read by the semitones")
		} else {
			i.Steps = steps
		}
	}
	before := theory.Interval{}
	if p.sounds != nil {
		before = *p.sounds
	}
	switch {
	case p.sounds == nil && p.notes == 0:
		p.sounds = &i
	case before != i:
		p.warn("a change of transposition inside the part was not followed")
	}
	return nil
}
