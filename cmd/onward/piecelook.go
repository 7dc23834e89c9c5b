package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"onward/compose/score"
	"onward/midi/live"
	"onward/rhythm"
	"onward/theory"
)

const quarterTicks = rhythm.Quarter

// lookOver lists what a good reader sees on the part, as lookOver does of a read. What only
// a part of one line shows is left out of others.
func (p *printedPiece) lookOver(o *requestOptions) []observation {
	var list []observation
	add := func(word, text string) {
		if text != "" {
			list = append(list, observation{word, text})
		}
	}
	part, first := p.part(), &p.Measures[0]
	line := part.Line
	if line != nil {
		add("clef, key", clefAndKey(line))
	} else {
		add("key", fmt.Sprintf("it sounds in %s", part.Keys[0]))
	}
	meter := first.Meter
	add("meter", fmt.Sprintf("%s: %s in a measure, each a %s", meter, count(meter.Count(), "beat"), beatWords(meter))+p.meterChanges())
	add("tempo", fmt.Sprintf("%s = %d", beatWords(meter), p.beats(o.Tempo))+p.tempoChanges())
	add("the take", o.takeOptions.words(p.beats(o.Tempo), beatWords(meter)))
	add("form", p.wayThrough())
	if line == nil {
		return list
	}
	add("keys", keyChanges(line))
	add("dynamics", dynamics(line))
	add("outside", accidentals(line))
	add("grace", places(line, "grace notes in measure", func(n *score.Note) bool { return len(n.Grace) > 0 }))
	add("rests", longestRest(line))
	add("starts", firstNote(line))
	add("range", writtenRange(line))
	add("most notes", busiest(line))
	add("leap", widestLeap(line))
	return list
}

// clefAndKey says what stands at the head of the page.
func clefAndKey(line *score.Part) string {
	first := &line.Measures[0]
	words := fmt.Sprintf("%s clef; %s, %s", *first.Clef, first.Key, signature(*first.Key))
	if line.Sounds != (theory.Interval{}) && line.Sounds.Semitones%12 != 0 {
		words += fmt.Sprintf("; it sounds in %s", first.Key.Transpose(line.Sounds))
	}
	return words
}

func (p *printedPiece) meterChanges() string {
	var all []string
	for i := 1; i < len(p.Measures); i++ {
		if m := p.Measures[i]; m.Meter != p.Measures[i-1].Meter {
			all = append(all, fmt.Sprintf("%s from %d", m.Meter, m.Number))
		}
	}
	return changes(all)
}

func (p *printedPiece) tempoChanges() string {
	var all []string
	now := p.Measures[0].Tempos[0].MicrosPerQuarter
	for i, m := range p.Measures {
		for _, t := range m.Tempos {
			if t.MicrosPerQuarter != now && (i > 0 || t.At > 0) {
				word := "faster"
				if t.MicrosPerQuarter > now {
					word = "slower"
				}
				all = append(all, fmt.Sprintf("%s in %d", word, m.Number))
			}
			now = t.MicrosPerQuarter
		}
	}
	return changes(all)
}

// changes lists a few changes, and counts the rest.
func changes(all []string) string {
	if len(all) == 0 {
		return ""
	}
	if n := len(all); n > numbersNamed {
		all = append(all[:numbersNamed-1:numbersNamed-1], fmt.Sprintf("%d more changes", n-numbersNamed+1))
	}
	return "; " + strings.Join(all, ", ")
}

// wayThrough says the way through the page: "measures 1 to 8, 1 to 7, 9 to 16".
func (p *printedPiece) wayThrough() string {
	var runs []string
	from := 0
	for i := range p.Order {
		if i+1 < len(p.Order) && p.Order[i+1].Index == p.Order[i].Index+1 {
			continue
		}
		a, b := p.Measures[p.Order[from].Index].Number, p.Measures[p.Order[i].Index].Number
		first := numbers([]int{a})
		if a == b {
			runs = append(runs, first)
		} else {
			runs = append(runs, fmt.Sprintf("%s to %d", first, b))
		}
		from = i + 1
	}
	if len(runs) == 1 {
		return fmt.Sprintf("%s, straight through", count(len(p.Order), "measure"))
	}
	const told = 12
	if n := len(runs); n > told {
		runs = append(runs[:told-1], fmt.Sprintf("and %d stretches more", n-told+1))
	}
	return fmt.Sprintf("%s as played: %s", count(len(p.Order), "measure"), strings.Join(runs, ", "))
}

// longestRest says where to count: the longest run of whole measures of rest.
func longestRest(line *score.Part) string {
	most, where, now := 0, 0, 0
	for i := range line.Measures {
		m := &line.Measures[i]
		if len(m.Notes) == 1 && m.Notes[0].Rest {
			if now++; now > most {
				most, where = now, line.Measures[i-now+1].Number
			}
			continue
		}
		now = 0
	}
	if most < 2 {
		return ""
	}
	return fmt.Sprintf("%s from measure %d", count(most, "measure"), where)
}

// firstNote names the first note, wherever it comes.
func firstNote(line *score.Part) string {
	for i := range line.Measures {
		if words := startsOn(&line.Measures[i]); words != "" {
			if i > 0 && line.Measures[i].Number > 1 {
				words += fmt.Sprintf(", in measure %d", line.Measures[i].Number)
			}
			return words
		}
	}
	return ""
}

// writtenRange names the lowest and the highest note.
func writtenRange(line *score.Part) string {
	var low, high *theory.Pitch
	eachNote(line, func(_ *score.Measure, n *score.Note) {
		if low == nil || n.Pitch.MIDI() < low.MIDI() {
			low = &n.Pitch
		}
		if high == nil || n.Pitch.MIDI() > high.MIDI() {
			high = &n.Pitch
		}
	})
	if low == nil {
		return ""
	}
	return fmt.Sprintf("%s to %s", low, high)
}

// afterPiece says, when the take is over, what to look at next.
func (r *reading) afterPiece(p *printedPiece, roll *live.Roll, report live.Report) {
	var b strings.Builder
	b.WriteString("\nThe end. The band kept going; what you missed is only what to look at next:\n")
	if line := p.part().Line; line != nil {
		field(&b, "most in", busiest(line))
	}
	tellBand(&b, roll, report)
	field(&b, "rest", fmt.Sprintf("as long as you played, %v; where it hurts, stop", roll.End.Round(time.Second)))
	fmt.Fprintf(&b, "%-*s%s\n", fieldWidth, "again", r.againPiece(p))
	io.WriteString(r.out, b.String())
}

// againPiece is the command that plays the piece so again.
func (r *reading) againPiece(p *printedPiece) string {
	o := r.o
	words := []string{"onward", "read", "--piece", quote(p.file), "--part", fmt.Sprint(p.index + 1)}
	add := func(flag, value string) {
		if value != "" {
			words = append(words, flag, quote(value))
		}
	}
	add("--tempo", number(o.Tempo))
	if o.Out != o.usualOut {
		add("--out", o.Out)
	}
	add("--journal", o.Journal)
	if o.Guide {
		words = append(words, "--guide")
	}
	if o.WAV {
		words = append(words, "--wav")
	}
	words = append(words, o.takeOptions.again()...)
	if o.Sound != usualSound {
		add("--sound", o.Sound)
	}
	return strings.Join(append(words, r.more...), " ")
}
