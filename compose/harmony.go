package compose

import (
	"math/rand/v2"
	"strings"

	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// harmony gives every bar its chords, by phrase grammar.
func (p *piece) harmony() error {
	rng := stream(p.req.Seed, "harmony")
	for _, s := range p.sections {
		for _, ph := range s.phrases {
			if err := p.harmonize(rng, s, ph); err != nil {
				return err
			}
		}
		if s.Endings && s.of == nil {
			s.ending = p.firstEnding(s)
		}
	}
	return nil
}

// harmonize gives one phrase its chords. A phrase that returns keeps the chords of
// what it repeats.
func (p *piece) harmonize(rng *rand.Rand, s *section, ph *phrase) error {
	bars := s.bars[ph.first : ph.first+ph.measures]
	if s.of != nil {
		for i, b := range bars {
			b.chords = s.of.bars[ph.first+i].chords
		}
		return nil
	}
	words := p.progression(rng, s, ph)
	for i, b := range bars {
		chords, err := p.spells(s.key, words[i])
		if err != nil {
			return err
		}
		b.chords = chords
	}
	for i := range ph.keeps() {
		bars[i].chords = ph.source.bars[i].chords
	}
	return nil
}

// stayHome is how gladly a new phrase inside a section takes chords that any phrase may.
const stayHome = 0.3

// progression draws the chord words of a phrase, one a measure.
func (p *piece) progression(rng *rand.Rand, s *section, ph *phrase) []string {
	mode := s.key.Mode.String()
	list := p.req.Style.Harmony
	inside := (ph.source == nil || ph.Return == styles.Head) && ph != s.phrases[0] && ph != s.phrases[len(s.phrases)-1]
	i := draw(rng, len(list), func(i int) float64 {
		switch {
		case list[i].Mode != mode || list[i].Cadence != ph.Cadence || list[i].Level > p.rung.Harmony || list[i].Middle && !inside:
			return 0
		case inside && !list[i].Middle:
			return list[i].Weight * stayHome
		}
		return list[i].Weight
	})
	words := strings.Fields(list[i].Chords)
	words = words[max(0, len(words)-ph.measures):] // a short phrase leaves its start out
	for len(words) < ph.measures {                 // a stretched phrase dwells where it starts
		words = append([]string{words[0]}, words...)
	}
	return words
}

// spells reads one measure's chord word: "I" or "I-V7".
func (p *piece) spells(key theory.Key, word string) ([]spell, error) {
	names := strings.Split(word, "-")
	var out []spell
	for i, n := range names {
		c, err := key.Numeral(n)
		if err != nil {
			return nil, err
		}
		at := rhythm.Offset(0)
		if i > 0 {
			at = p.half()
			if at == 0 { // no half to change at: the later chord holds the measure
				out = out[:0]
			}
		}
		out = append(out, spell{at, c})
	}
	return out, nil
}

// half reports where a measure divides for a second chord; 0 if it does not.
func (p *piece) half() rhythm.Offset {
	beat := rhythm.Offset(p.meter.Beat())
	switch p.meter.Count() {
	case 2:
		return beat
	case 3, 4:
		return 2 * beat
	case 5:
		return 3 * beat
	}
	return 0
}

// firstEnding makes the measure that leads back: the tonic, or the dominant on its
// second half where the measure divides.
func (p *piece) firstEnding(s *section) *bar {
	last := s.bars[len(s.bars)-1]
	b := &bar{phrase: last.phrase, key: s.key, chords: append([]spell{}, last.chords...)}
	if at := p.half(); at != 0 && p.rung.Harmony >= 2 {
		if v, err := s.key.Numeral("V7"); err == nil {
			b.chords = append(b.chords[:1:1], spell{at, v})
		}
	}
	return b
}
