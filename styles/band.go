package styles

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// Band says how a style's band accompanies: who plays, and what in which situation.
// A sheet without a band gets a tuba and horns that mark the beats.
type Band struct {
	Parts []BandPart `toml:"part"`
}

// maxBandParts leaves room for the guide, the count-in and the drums on 16 channels.
const maxBandParts = 12

// A BandPart is one part of the band.
type BandPart struct {
	Name string `toml:"name"`
	// Kind says what the part plays: "bass", "chords", "counter" (a line against the
	// player's), "double" (the bass in octaves or in unison) or "drums" (one drum).
	Kind    string   `toml:"kind"`
	Program int      `toml:"program"` // General MIDI program, 0 to 127
	Key     int      `toml:"key"`     // of a drum: General MIDI percussion key, 27 to 87
	Range   []string `toml:"range"`   // lowest and highest sounding pitch: ["E1", "D3"]
	Voices  int      `toml:"voices"`  // of chords: 2 to 4
	// Level is how loud the part is against the player's own dynamic, in percent of
	// its MIDI velocity: 10 to 99.
	Level int `toml:"level"`
	// Ties holds tones common to two chords over the change.
	Ties bool `toml:"ties"`
	// Rings lets every tone sound on to the end of its chord, as a harp does.
	Rings bool `toml:"rings"`
	// Breathes ends what sounds a little before the player breathes.
	Breathes bool `toml:"breathes"`
	// Play holds the patterns by situation: a meter and any words of a Situation, as in
	// "6/8" or "cut loud again". See ParsePattern.
	Play map[string]string `toml:"play"`
}

// A Situation is a set of words that say where in a read a measure stands.
type Situation uint

// The words of a situation. Of a part's patterns whose words all hold the most
// particular is played: a later word counts more than all earlier ones together.
const (
	Soft    Situation = 1 << iota // mezzo piano or softer
	Loud                          // forte or louder
	Repeat                        // "again": the second time through
	Smooth                        // a section of that character
	Break                         // a section of that character
	Last                          // the last of several sections
	Opening                       // "first": the first measure of a section
	Cadence                       // the last measure of a phrase
	Closing                       // "close": the last measure of a section
	Free                          // the player begins no note in the second half of the measure
)

var situationWords = []string{"soft", "loud", "again", "smooth", "break", "last", "first", "cadence", "close", "free"}

// ParseSituation reads "cut loud again": a meter, then words.
func ParseSituation(s string) (rhythm.Meter, Situation, error) {
	words := strings.Fields(s)
	if len(words) == 0 {
		return rhythm.Meter{}, 0, fmt.Errorf("situation %q: write a meter, then any of %s", s, strings.Join(situationWords, ", "))
	}
	m, err := rhythm.ParseMeter(words[0])
	if err != nil {
		return m, 0, fmt.Errorf("situation %q: %w", s, err)
	}
	var in Situation
words:
	for _, w := range words[1:] {
		for i, known := range situationWords {
			if w == known {
				in |= 1 << i
				continue words
			}
		}
		return m, 0, fmt.Errorf("situation %q: %q is not one of %s", s, w, strings.Join(situationWords, ", "))
	}
	return m, in, nil
}

// Pattern reports the text that the part plays in a situation of the meter, "" where
// it rests. ok is false where the part has nothing for the meter. Both strings must
// have passed the check of the sheet.
func (p *BandPart) Pattern(m rhythm.Meter, now Situation) (text string, ok bool) {
	var best Situation
	for key, t := range p.Play {
		meter, in, err := ParseSituation(key)
		if err != nil || meter != m || in&^now != 0 {
			continue
		}
		if !ok || in > best {
			text, best, ok = t, in, true
		}
	}
	return text, ok
}

func (b *Band) check() error {
	if len(b.Parts) > maxBandParts {
		return fault{"[[band", fmt.Sprintf("band: %d parts; keep %d", len(b.Parts), maxBandParts)}
	}
	names := map[string]bool{}
	for i := range b.Parts {
		p := &b.Parts[i]
		if p.Name == "" || names[p.Name] {
			return fault{`name = "` + p.Name + `"`, fmt.Sprintf("band, part %d: give it a name = \"...\" of its own", i+1)}
		}
		names[p.Name] = true
		if err := p.check(); err != nil {
			return err
		}
	}
	return nil
}

func (p *BandPart) check() error {
	wrong := func(at, format string, args ...any) error {
		return fault{at, fmt.Sprintf("band, part %q: ", p.Name) + fmt.Sprintf(format, args...)}
	}
	name := `name = "` + p.Name + `"`
	switch p.Kind {
	case "bass", "chords", "counter", "double", "drums":
	default:
		return wrong(name, "kind %q is not bass, chords, counter, double or drums", p.Kind)
	}
	if p.Level < 10 || p.Level > 99 {
		return wrong(name, "level = %d is not 10 to 99 percent of the player's own", p.Level)
	}
	if p.Kind == "drums" && (p.Key < 27 || p.Key > 87) {
		return wrong(name, "key %d is no percussion key, 27 to 87; 36 is a bass drum, 38 a snare", p.Key)
	}
	if p.Kind == "chords" && (p.Voices < 2 || p.Voices > 4) {
		return wrong(name, "voices = %d: chords have 2 to 4", p.Voices)
	}
	if p.Program < 0 || p.Program > 127 {
		return wrong(name, "program %d is not 0 to 127", p.Program)
	}
	if p.Kind != "drums" {
		if _, _, err := p.Keys(); err != nil {
			return wrong(name, "%v", err)
		}
	}
	return p.checkPlay(wrong)
}

// checkPlay checks the patterns in the order of their situations.
func (p *BandPart) checkPlay(wrong func(at, format string, args ...any) error) error {
	type place struct {
		m  rhythm.Meter
		in Situation
	}
	seen := map[place]string{}
	for _, key := range slices.Sorted(maps.Keys(p.Play)) {
		text := p.Play[key]
		m, in, err := ParseSituation(key)
		if err != nil {
			return wrong(`"`+key+`"`, "%v", err)
		}
		if first, twice := seen[place{m, in}]; twice {
			return wrong(`"`+key+`"`, "%q and %q are one situation; keep one", first, key)
		}
		seen[place{m, in}] = key
		if _, err := ParsePattern(text, m, p.Kind); err != nil {
			return wrong(fmt.Sprintf("%q = %q", key, text), "%s: %v", key, err)
		}
	}
	return nil
}

// Keys reports the part's range as MIDI numbers. It spans an octave and a fourth at
// least, so that every chord tone is in reach from every other.
func (p *BandPart) Keys() (low, high int, err error) {
	if len(p.Range) != 2 {
		return 0, 0, fmt.Errorf(`range: write the lowest and the highest pitch, as in range = ["E1", "D3"]`)
	}
	l, err := theory.ParsePitch(p.Range[0])
	if err != nil {
		return 0, 0, fmt.Errorf("range: %w", err)
	}
	h, err := theory.ParsePitch(p.Range[1])
	if err != nil {
		return 0, 0, fmt.Errorf("range: %w", err)
	}
	low, high = l.MIDI(), h.MIDI()
	if low < 0 || high > 127 || high-low < 17 {
		return 0, 0, fmt.Errorf("range: %s to %s is not an octave and a fourth at least within MIDI's C-1 to G9", l, h)
	}
	return low, high, nil
}
