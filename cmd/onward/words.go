package main

import (
	"fmt"
	"math"
	"strings"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// headline names a read.
func headline(b *strings.Builder, m *made) {
	fmt.Fprintf(b, "%s: %s, rung %d, seed %d", m.Title, m.Style.Name, m.Rung, m.Seed)
	if m.repeat {
		fmt.Fprintf(b, ", a repeat of your read of %s", m.had.Local().Format("2 January 2006"))
	}
	b.WriteString("\n")
}

// describe says what a read is, a line for each thing worth knowing.
func (s *studio) describe(b *strings.Builder, m *made) {
	headline(b, m)
	in := m.Request.Instrument
	fmt.Fprintf(b, "for        %s, in written %s\n", in.Name, m.Written(m.Key))
	fmt.Fprintf(b, "meter      %s, %s = %d, %s\n", m.Meter, beatWords(m.Meter), m.Tempo, tempoWord(m))
	fmt.Fprintf(b, "length     %s\n", lengthWords(&m.Score.Parts[0]))
	if take := s.o.takeOptions.words(m.Tempo, beatWords(m.Meter)); take != "" {
		field(b, "take", take)
	}
	if len(m.Fresh) > 0 {
		field(b, "new here", strings.Join(m.Fresh, "; "))
	}
	if m.Request.Vocabulary != nil {
		words := fmt.Sprintf("%.0f %% of the notes lie in figures that you drill", math.Floor(100*m.Coverage))
		if rung := mostlyOn(m.Request.Vocabulary, figure.Default()); m.Coverage < lowCoverage && rung > m.Rung {
			words += fmt.Sprintf("; most of what you drill belongs on rung %d and higher", rung)
		}
		field(b, "figures", words)
	}
	if words := aimWords(m); words != "" {
		field(b, "asked", words)
	}
	c := m.document.Certificate
	field(b, "never seen", fmt.Sprintf("no %d notes in a row return from %s; one of about %s melodies",
		c.Length, before(c.Earlier, len(m.Request.Drills) > 0), powerOfTen(m.LegalLog10)))
	for _, l := range m.Loosened {
		field(b, "but", l)
	}
}

// before says what a read was kept clear of.
func before(earlier int, drills bool) string {
	switch {
	case drills && earlier > 0:
		return "what you drill or from " + count(earlier, "earlier read")
	case drills:
		return "what you drill"
	case earlier > 0:
		return count(earlier, "earlier read")
	}
	return "anything: it is your first read"
}

// powerOfTen writes a number by its logarithm: "10^38".
func powerOfTen(log10 float64) string { return fmt.Sprintf("10^%.0f", math.Floor(log10)) }

// tempoWord reports the word that the page begins with.
func tempoWord(m *made) string {
	if t := m.Score.Parts[0].Measures[0].Tempo; t != nil && t.Word != "" {
		return t.Word
	}
	return "no tempo word"
}

// beatWords says which note gets the beat: "dotted quarter".
func beatWords(m rhythm.Meter) string { return valueWords(m.BeatValue()) }

func valueWords(v rhythm.Value) string {
	names := map[int]string{1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth", 32: "thirty-second", 64: "sixty-fourth"}
	return strings.Repeat("dotted ", v.Dots) + names[v.Base]
}

// count says how many: "1 measure", "16 measures".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

const (
	lineWidth  = 80 // of a terminal
	fieldWidth = 11 // of the word before a text
)

// field writes a text after its word, broken into lines.
func field(b *strings.Builder, word, text string) {
	for i, line := range wrap(text, lineWidth-fieldWidth) {
		if i > 0 {
			word = ""
		}
		fmt.Fprintf(b, "%-*s%s\n", fieldWidth, word, line)
	}
}

// pitchWords says a written pitch: "B-flat", "F-sharp", with its octave.
func pitchWords(p theory.Pitch) string {
	return p.Letter.String() + [...]string{"-double-flat", "-flat", "", "-sharp", "-double-sharp"}[p.Alter+2]
}

// lengthWords says how many measures a part has; an upbeat is not one.
func lengthWords(p *score.Part) string {
	if p.Measures[0].Implicit {
		return count(len(p.Measures)-1, "measure") + " and an upbeat"
	}
	return count(len(p.Measures), "measure")
}

// measureWords names a measure by its number; an upbeat has none.
func measureWords(number int) string {
	if number == 0 {
		return "upbeat"
	}
	return fmt.Sprintf("measure %d", number)
}

// printed reports the number of a measure by its index.
func printed(p *score.Part, index int) int { return p.Measures[index].Number }

// lowCoverage is below which share of drilled notes the words say which rung has more.
const lowCoverage = 0.5

// mostlyOn reports the lowest rung on whose levels most notes of what was drilled lie.
func mostlyOn(v *figure.Vocabulary, c *figure.Catalogue) int {
	notes, total := map[int]int{}, 0
	for _, e := range v.Figures {
		shape, cell := c.Shape(e.Shape), c.Cell(e.Cell)
		if shape == nil || cell == nil {
			continue
		}
		notes[max(shape.Level, cell.Level)] += e.Notes
		total += e.Notes
	}
	rung, sum := 1, notes[1]
	for ; 2*sum < total; sum += notes[rung] {
		rung++
	}
	return rung
}
