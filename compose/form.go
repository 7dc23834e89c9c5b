package compose

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// phraseLength is how many measures a phrase has unless the request stretches it.
const phraseLength = 4

// A section of a piece in the making: its body, and its two endings where it has them.
type section struct {
	styles.Section
	key     theory.Key // written
	concert theory.Key
	phrases []*phrase
	summit  int      // the index of the phrase that has the section's peak
	lead    *bar     // the pickup that opens the section, nil for none
	bars    []*bar   // the body's measures; with endings, the second ending is the last
	ending  *bar     // the first ending, nil for none
	of      *section // played again as a whole
	from    *section // whose phrases the plan may take up
	start   int64    // of its first measure on the page, in ticks
}

// A phrase of a section in the making.
type phrase struct {
	styles.Phrase
	first, measures int     // in the section's bars
	bars            []*bar  // those
	source          *phrase // the phrase it takes up, nil for a new one
}

// keeps reports how many measures the phrase has from its source note for note: all of
// it, all but the end where the cadence is another one, or the opening.
func (ph *phrase) keeps() int {
	switch {
	case ph.source == nil || ph.Return == styles.New || ph.Return == styles.Alike || ph.Return == styles.Head:
		return 0
	case ph.Return == styles.Varied || ph.measures != ph.source.measures:
		return 2
	case ph.Cadence == ph.source.Cadence:
		return ph.measures
	case ph.Cadence == "close": // the measure before prepares it
		return ph.measures - 2
	}
	return ph.measures - 1
}

// A bar is one measure in the making.
type bar struct {
	key    theory.Key // written
	chords []spell
	cells  []laid
	phrase *phrase
	// same is the bar whose notes this one repeats; like the one whose cells and
	// shapes it takes up. nil for none.
	same, like *bar
	slots      []*slot
	// pickup is where, after a cadence, the next phrase sets in; 0 if it waits for the
	// barline.
	pickup rhythm.Offset
}

// A spell is a chord that holds from at on.
type spell struct {
	at    rhythm.Offset
	chord theory.Chord // written
}

// A laid cell begins at a measure offset.
type laid struct {
	cell *rhythm.Cell
	at   rhythm.Offset
}

// chordAt reports the chord in force at a measure offset.
func (b *bar) chordAt(at rhythm.Offset) theory.Chord {
	c := b.chords[0].chord
	for _, s := range b.chords {
		if s.at <= at {
			c = s.chord
		}
	}
	return c
}

// form lays out sections and phrases.
func (p *piece) form() error {
	rng := stream(p.req.Seed, "form")
	plan, err := p.sectionPlan(rng)
	if err != nil {
		return err
	}
	total := 0
	byName := map[string]*section{}
	for _, s := range plan {
		s.Dynamic, s.Again = p.tempered(s.Dynamic), p.tempered(s.Again)
		sec := &section{Section: s, concert: p.sectionKey(s.Key)}
		sec.key = p.written(sec.concert)
		if s.Of != "" {
			sec.of = byName[s.Of]
			sec.key, sec.concert = sec.of.key, sec.of.concert
			sec.Plans = sec.of.Plans
		}
		sec.from = byName[s.From]
		if err := sec.lay(rng, p.phraseLengths(plan)); err != nil {
			return err
		}
		byName[s.Name] = sec
		p.sections = append(p.sections, sec)
		total += len(sec.bars)
	}
	if low, high := p.rung.Measures[0], p.rung.Measures[1]; total < low || total > high {
		return refuse("%d measures: rung %d has reads of %d to %d", total, p.req.Rung, low, high)
	}
	return nil
}

// shortWind is how many seconds a breath lasts at mf, at most, on instruments whose
// pages are written a step softer, so that there is wind for more than a measure.
const shortWind = 3

// tempered keeps a dynamic between p and f where the rung has no extremes yet, and a
// step softer where the instrument takes much wind.
func (p *piece) tempered(mark string) string {
	if p.req.Instrument.Breath[1] < shortWind {
		if i := loudness(mark); i > loudness("p") {
			mark = dynamicMarks[i-1]
		}
	}
	if p.bounds.Marks["extremes"] {
		return mark
	}
	switch mark {
	case "ff":
		return "f"
	case "pp":
		return "p"
	}
	return mark
}

// sectionPlan takes the form's sections, or makes one of the length asked.
func (p *piece) sectionPlan(rng *rand.Rand) ([]styles.Section, error) {
	name := p.req.Form
	if p.req.Measures == 0 {
		if name == "" {
			name = "snippet"
		}
		f, err := p.req.Style.Form(name)
		if err != nil {
			return nil, refuse("%v", err)
		}
		return f.Sections, nil
	}
	n := p.req.Measures
	if name != "" {
		return nil, refuse("give --form or --measures, not both")
	}
	if n < phraseLength || n > 64 {
		return nil, refuse("%d measures: ask for 4 to 64", n)
	}
	base := p.req.Style.Forms[0].Sections[0]
	base.Repeat, base.Endings = false, false
	base.Plans = []string{longPlan(rng, (n+1)/phraseLength)}
	return []styles.Section{base}, nil
}

// longPlan strings phrases together in pairs that answer each other, mottos
// returning every fourth phrase.
func longPlan(rng *rand.Rand, phrases int) string {
	var words []string
	letter := func(i int) string { return string(rune('a' + i%26)) }
	next := 0
	for i := range phrases {
		last := i == phrases-1
		w := ""
		switch {
		case last && i > 0:
			w = "a" + []string{"^", "^", "'"}[rng.IntN(3)]
		case i%4 == 0:
			if i > 0 && rng.IntN(2) == 0 {
				w = "a"
			} else {
				w, next = letter(next), next+1
			}
		case i%4 == 2:
			w = words[i-2][:1]
		case rng.IntN(3) == 0:
			w = words[i-1][:1] + "~"
		case rng.IntN(3) == 0:
			w = words[i-1][:1] + "'"
		default:
			w, next = letter(next), next+1
		}
		switch {
		case last || i%8 == 7:
			w += ">close"
		case i%4 == 3:
			w += ">open"
		case i%2 == 0:
			w += ">half"
		default:
			w += []string{">half", ">open"}[rng.IntN(2)]
		}
		words = append(words, w)
	}
	return strings.Join(words, " ")
}

// phraseLengths reports how many measures the phrases have that are to fill a length asked
// for: four, the last ones five or three; nil for four everywhere.
func (p *piece) phraseLengths(plan []styles.Section) []int {
	n := p.req.Measures
	if n == 0 || len(plan) != 1 {
		return nil
	}
	out := make([]int, (n+1)/phraseLength)
	left := n
	for i := range out {
		out[i] = left / (len(out) - i)
		left -= out[i]
	}
	return out
}

// sectionKey reports the concert key of a section: the trio's subdominant only where
// the rung has that key.
func (p *piece) sectionKey(name string) theory.Key {
	k := p.home
	switch name {
	case "subdominant":
		k = p.home.Subdominant()
		if p.home.Mode == theory.Minor { // a minor march's trio is in the relative major
			k = p.home.Relative()
		}
	case "dominant":
		k = p.home.Dominant()
	case "relative":
		k = p.home.Relative()
	}
	if !slices.Contains(p.bounds.Keys, k) {
		k = p.home
	}
	return k
}

// lay draws a plan and makes the phrases and empty bars; the plan may take up phrases of
// the section that it is from.
func (s *section) lay(rng *rand.Rand, lengths []int) error {
	text := s.Plans[rng.IntN(len(s.Plans))]
	if s.of != nil {
		for _, ph := range s.of.phrases {
			s.phrases = append(s.phrases, &phrase{Phrase: ph.Phrase, first: ph.first, measures: ph.measures, source: ph})
		}
	} else {
		latest, known := map[string]*phrase{}, []string{}
		if s.from != nil {
			for _, ph := range s.from.phrases {
				if ph.source == nil {
					latest[ph.Letter], known = ph, append(known, ph.Letter)
				}
			}
		}
		plan, err := styles.ParsePlan(text, known...)
		if err != nil {
			return fmt.Errorf("section %s: %w", s.Name, err)
		}
		first := 0
		for i, ph := range plan {
			q := &phrase{Phrase: ph, first: first, measures: phraseLength, source: latest[ph.Letter]}
			if lengths != nil {
				q.measures = lengths[i]
			}
			if q.source == nil {
				latest[ph.Letter] = q
			}
			first += q.measures
			s.phrases = append(s.phrases, q)
		}
	}
	for _, ph := range s.phrases {
		for range ph.measures {
			ph.bars = append(ph.bars, &bar{phrase: ph, key: s.key})
		}
		s.bars = append(s.bars, ph.bars...)
	}
	return nil
}
