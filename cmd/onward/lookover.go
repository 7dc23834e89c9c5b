package main

import (
	"fmt"
	"strings"

	"onward/compose/score"
	"onward/theory"
)

// An observation is one thing to see on a page before playing it.
type observation struct{ word, text string }

// lookOver lists what a good reader sees on the page in the order of looking. It asks
// the page alone, and so it does not give the traps away.
func lookOver(m *made, o *takeOptions) []observation {
	part := &m.Score.Parts[0]
	first := &part.Measures[0]
	list := []observation{
		{"clef, key", fmt.Sprintf("%s clef; %s, %s; it sounds in %s", m.Request.Instrument.Clef, m.Written(m.Key), signature(m.Written(m.Key)), m.Key)},
		{"meter", fmt.Sprintf("%s: %s in a measure, each a %s", m.Meter, count(m.Meter.Count(), "beat"), beatWords(m.Meter))},
		{"tempo", fmt.Sprintf("%s = %d, %s", beatWords(m.Meter), m.Tempo, tempoWord(m))},
		{"form", form(m)},
	}
	add := func(word, text string) {
		if text != "" {
			list = append(list, observation{word, text})
		}
	}
	add("the take", o.words(m.Tempo, beatWords(m.Meter)))
	add("keys", keyChanges(part))
	add("dynamics", dynamics(part))
	add("outside", accidentals(part))
	add("grace", places(part, "grace notes in measure", func(n *score.Note) bool { return len(n.Grace) > 0 }))
	add("starts", startsOn(first))
	add("most notes", busiest(part))
	add("leap", widestLeap(part))
	return list
}

// signature spells a signature: "2 flats (B E)".
func signature(k theory.Key) string {
	order := []theory.Letter{theory.F, theory.C, theory.G, theory.D, theory.A, theory.E, theory.B}
	if k.Fifths == 0 {
		return k.Signature()
	}
	var letters []string
	for i := range max(k.Fifths, -k.Fifths) {
		if k.Fifths > 0 {
			letters = append(letters, order[i].String())
		} else {
			letters = append(letters, order[6-i].String())
		}
	}
	return fmt.Sprintf("%s (%s)", k.Signature(), strings.Join(letters, " "))
}

// form says the sections, with repeats and endings.
func form(m *made) string {
	part := &m.Score.Parts[0]
	var all []string
	for _, s := range m.Sections {
		words := fmt.Sprintf("%s %d to %d", strings.ToLower(s.Name), printed(part, s.First), printed(part, s.First+s.Measures-1))
		if s.Repeat {
			words += ", repeated"
		}
		if s.Endings {
			words += " with two endings"
		}
		all = append(all, words)
	}
	return strings.Join(all, "; ")
}

// keyChanges says where the key changes after the start.
func keyChanges(p *score.Part) string {
	var all []string
	for i := range p.Measures {
		if k := p.Measures[i].Key; k != nil && i > 0 {
			all = append(all, fmt.Sprintf("measure %d goes to %s, %s", p.Measures[i].Number, k, signature(*k)))
		}
	}
	return strings.Join(all, "; ")
}

// dynamicMarks are the marks from soft to loud.
var dynamicMarks = []string{"pp", "p", "mp", "mf", "f", "ff"}

// dynamics says how soft and how loud it gets, and where first.
func dynamics(p *score.Part) string {
	where := map[string]int{}
	start := ""
	hairpins := 0
	for i := range p.Measures {
		for _, d := range p.Measures[i].Dynamics {
			if start == "" {
				start = d.Mark
			}
			if _, had := where[d.Mark]; !had {
				where[d.Mark] = p.Measures[i].Number
			}
		}
		for _, h := range p.Measures[i].Hairpins {
			if h.Kind != score.HairpinStop {
				hairpins++
			}
		}
	}
	if start == "" {
		return ""
	}
	words := "starts " + start
	var had []string
	for _, mark := range dynamicMarks {
		if n, ok := where[mark]; ok {
			had = append(had, fmt.Sprintf("%s (%s)", mark, measureWords(n)))
		}
	}
	if len(had) > 1 {
		words += ", from " + had[0] + " to " + had[len(had)-1]
	}
	if hairpins > 0 {
		words += ", " + count(hairpins, "hairpin")
	}
	return words
}

// accidentals says which notes bear one, and where.
func accidentals(p *score.Part) string {
	var order []string
	where := map[string][]int{}
	eachNote(p, func(m *score.Measure, n *score.Note) {
		if n.Accidental != score.Shown || n.TieStop {
			return
		}
		name := pitchWords(n.Pitch)
		if n.Pitch.Alter == 0 {
			name += "-natural"
		}
		if _, had := where[name]; !had {
			order = append(order, name)
		}
		if all := where[name]; len(all) == 0 || all[len(all)-1] != m.Number {
			where[name] = append(all, m.Number)
		}
	})
	var words []string
	for _, name := range order {
		words = append(words, fmt.Sprintf("%s in %s", name, numbers(where[name])))
	}
	return strings.Join(words, "; ")
}

// places says in which measures notes of a kind stand; "" for none.
func places(p *score.Part, words string, is func(*score.Note) bool) string {
	var all []int
	eachNote(p, func(m *score.Measure, n *score.Note) {
		if is(n) && (len(all) == 0 || all[len(all)-1] != m.Number) {
			all = append(all, m.Number)
		}
	})
	if len(all) == 0 {
		return ""
	}
	if len(all) > 1 {
		words += "s"
	}
	return words + " " + numbers(all)
}

// numbersNamed is how many numbers are named before the rest is only counted.
const numbersNamed = 6

// numbers lists numbers of measures: "3, 5 and 9"; of many the first ones.
func numbers(list []int) string {
	var words []string
	for i, n := range list {
		if i == numbersNamed-1 && len(list) > numbersNamed {
			words = append(words, fmt.Sprintf("%d more", len(list)-i))
			break
		}
		if n == 0 {
			words = append(words, "the upbeat")
			continue
		}
		words = append(words, fmt.Sprint(n))
	}
	if n := len(words) - 1; n > 0 {
		return strings.Join(words[:n], ", ") + " and " + words[n]
	}
	return strings.Join(words, "")
}

// eachNote visits the notes that are begun, ties taken as one.
func eachNote(p *score.Part, visit func(*score.Measure, *score.Note)) {
	for i := range p.Measures {
		m := &p.Measures[i]
		for k := range m.Notes {
			if n := &m.Notes[k]; !n.Rest && !n.TieStop {
				visit(m, n)
			}
		}
	}
}

// startsOn names the first note, or says that a rest comes first.
func startsOn(m *score.Measure) string {
	for _, n := range m.Notes {
		if !n.Rest {
			words := pitchWords(n.Pitch)
			if n.At > 0 {
				words += ", after a rest"
			}
			return words
		}
	}
	return ""
}

// busiest names the measure with most notes to the beat.
func busiest(p *score.Part) string {
	most, number := 0, 0
	notes := map[*score.Measure]int{}
	eachNote(p, func(m *score.Measure, n *score.Note) {
		notes[m] += 1 + len(n.Grace)
		if notes[m] > most && !m.Implicit {
			most, number = notes[m], m.Number
		}
	})
	if most == 0 {
		return ""
	}
	return fmt.Sprintf("measure %d, %s", number, count(most, "note"))
}

// intervalWords are intervals by the notes of the scale that they span.
var intervalWords = []string{"", "unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave",
	"ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "two octaves"}

// widestLeap names the widest step from note to note.
func widestLeap(p *score.Part) string {
	var before *score.Note
	widest, words := 1, ""
	from := 0
	eachNote(p, func(m *score.Measure, n *score.Note) {
		if before != nil {
			steps := n.Pitch.Step() - before.Pitch.Step()
			way := "up"
			if steps < 0 {
				steps, way = -steps, "down"
			}
			if steps > widest && steps+1 < len(intervalWords) {
				widest = steps
				words = fmt.Sprintf("%s %s, %s to %s, %s", intervalWords[steps+1], way, before.Pitch, n.Pitch, measureWords(from))
				if m.Number != from {
					words += fmt.Sprintf(" to %d", m.Number)
				}
			}
		}
		before, from = n, m.Number
	})
	return words
}
