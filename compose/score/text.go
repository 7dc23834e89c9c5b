package score

import (
	"fmt"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// Text reports the part as compact text in the words of ParseText. Accidentals,
// beams and tuplet brackets, which follow from the notes, are not in it, nor are
// measure numbers, a tie from before the endings into the second, and the sound
// program; a mark between two notes is said ahead of the second, and a ";" inside words
// is written as ",".
func Text(p Part) string {
	var words []string
	say := func(format string, args ...any) { words = append(words, fmt.Sprintf(format, args...)) }
	if p.Name != "" {
		say("part %s;", plain(p.Name))
	}
	if p.Sounds != (theory.Interval{}) {
		say("sounds %d %d;", p.Sounds.Steps, p.Sounds.Semitones)
	}
	meter := rhythm.Meter{Beats: 4, Unit: 4}
	for i := range p.Measures {
		m := &p.Measures[i]
		if m.Meter != nil {
			meter = *m.Meter
		}
		if m.RepeatStart && (i == 0 || p.Measures[i-1].DoubleBar || p.Measures[i-1].FinalBar) {
			say("|:")
		}
		words = append(words, attributeWords(m)...)
		words = append(words, shortWords(p, i, meter)...)
		words = append(words, noteWords(m, meter)...)
		say("%s", barlineWord(p, i))
	}
	return strings.Join(words, " ")
}

// attributeWords says what stands at the start of a measure.
func attributeWords(m *Measure) []string {
	var words []string
	say := func(format string, args ...any) { words = append(words, fmt.Sprintf(format, args...)) }
	if m.NewSystem {
		say("line")
	}
	if m.Key != nil {
		say("key %s;", m.Key)
	}
	if m.Meter != nil {
		say("%s", m.Meter)
	}
	if m.Clef != nil {
		say("%s", m.Clef)
	}
	if m.Tempo != nil {
		say("tempo %s;", strings.TrimSpace(fmt.Sprintf("%s=%d %s", m.Tempo.Beat, m.Tempo.BPM, plain(m.Tempo.Word))))
	}
	if m.Rehearsal != "" {
		say("letter %s;", plain(m.Rehearsal))
	}
	if m.Words != "" {
		say("words %s;", plain(m.Words))
	}
	if m.EndingStart {
		say("[%d", m.Ending)
	}
	return words
}

// plain makes words fit into a directive.
func plain(words string) string { return strings.ReplaceAll(words, ";", ",") }

// shortWords says why a measure is not full where ParseText would not know.
func shortWords(p Part, i int, meter rhythm.Meter) []string {
	m := &p.Measures[i]
	switch {
	case m.Implicit && i > 0:
		return []string{"pickup"}
	case m.Length < meter.Measure() && !m.Implicit:
		return []string{"short"}
	}
	return nil
}

// noteWords says the notes of a measure, each after the marks that stand at it.
func noteWords(m *Measure, meter rhythm.Meter) []string {
	var words []string
	dynamics, hairpins := m.Dynamics, m.Hairpins
	marks := func(before func(rhythm.Offset) bool) {
		for len(hairpins) > 0 && before(hairpins[0].At) && hairpins[0].Kind == HairpinStop {
			words, hairpins = append(words, "!"), hairpins[1:]
		}
		for len(dynamics) > 0 && before(dynamics[0].At) {
			words, dynamics = append(words, dynamics[0].Mark), dynamics[1:]
		}
		for len(hairpins) > 0 && before(hairpins[0].At) {
			words, hairpins = append(words, [...]string{"<", ">", "!"}[hairpins[0].Kind]), hairpins[1:]
		}
	}
	for _, n := range m.Notes {
		marks(func(at rhythm.Offset) bool { return at <= n.At })
		if n.WholeMeasure {
			words = append(words, silenceWord(m.Length, meter.Measure()))
			continue
		}
		words = append(words, noteWord(n))
	}
	marks(func(rhythm.Offset) bool { return true })
	if m.EndingStop {
		words = append(words, "]")
	}
	return words
}

// silenceWord says a measure's rest; where the measure is not full, with its length.
func silenceWord(length, full rhythm.Duration) string {
	if length == full {
		return "R"
	}
	var values []string
	for base := 1; base <= 128; base *= 2 {
		v := rhythm.Value{Base: base}
		for ; length >= v.Duration(); length -= v.Duration() {
			values = append(values, v.String())
		}
	}
	return "R:" + strings.Join(values, "+")
}

func noteWord(n Note) string {
	var b strings.Builder
	if len(n.Grace) > 0 {
		names := make([]string, len(n.Grace))
		for i, g := range n.Grace {
			names[i] = g.String()
		}
		b.WriteString("{" + strings.Join(names, ","))
		if n.GraceSlur {
			b.WriteByte('(')
		}
		b.WriteByte('}')
	}
	if n.Rest {
		b.WriteString("r:")
	} else {
		b.WriteString(n.Pitch.String() + ":")
	}
	b.WriteString(n.Value.String())
	for _, mark := range []struct {
		set  bool
		sign byte
	}{
		{n.TieStart, '~'}, {n.SlurStop, ')'}, {n.SlurStart, '('}, {n.Staccato, '\''}, {n.Tenuto, '_'},
		{n.Accent, '>'}, {n.Marcato, '^'}, {n.Fermata, '@'}, {n.Breath, ','},
	} {
		if mark.set {
			b.WriteByte(mark.sign)
		}
	}
	return b.String()
}

func barlineWord(p Part, i int) string {
	m := &p.Measures[i]
	opens := i+1 < len(p.Measures) && p.Measures[i+1].RepeatStart
	switch {
	case m.RepeatEnd && opens:
		return ":|:"
	case m.RepeatEnd:
		return ":|"
	case m.FinalBar:
		return "|]"
	case m.DoubleBar:
		return "||"
	case opens:
		return "|:"
	}
	return "|"
}
