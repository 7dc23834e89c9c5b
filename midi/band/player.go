package band

import (
	"math/rand/v2"
	"slices"

	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
)

// A player is one part of the band at its stand.
type player struct {
	t       *take
	part    *styles.BandPart
	rng     *rand.Rand
	low     int // MIDI numbers
	high    int
	strokes []stroke
}

// A stroke is one thing to play at its place in the take.
type stroke struct {
	styles.Stroke
	at    rhythm.Offset
	hold  rhythm.Duration
	span  int // the chord in force
	bar   int
	final bool // the last thing that the band plays, or one of the last two of a stinger
}

func (s stroke) end() rhythm.Offset { return s.at.Add(s.hold) }

// newPlayer reads the part's patterns along the take.
func (t *take) newPlayer(part *styles.BandPart) (*player, error) {
	p := &player{t: t, part: part, rng: stream(t.r.Seed, part.Name)}
	if part.Kind != "drums" {
		var err error
		if p.low, p.high, err = part.Keys(); err != nil {
			return nil, err
		}
	}
	book := map[page]*read{}
	drawn := map[material]int{}
	for i := range t.bars {
		b := &t.bars[i]
		k := page{b.Meter, b.in}
		if book[k] == nil {
			var err error
			if book[k], err = p.read(k); err != nil {
				return nil, err
			}
		}
		now := book[k]
		if len(now.pattern) == 0 {
			continue
		}
		m := material{b.section.Name, b.phrase.Letter, now.text}
		choice, seen := drawn[m]
		if !seen {
			choice = p.rng.IntN(len(now.pattern))
			drawn[m] = choice
		}
		measures := now.pattern[choice]
		p.lay(i, measures[b.number%len(measures)])
	}
	return p, nil
}

// A page is where a pattern is looked up, and a read pattern what stands there.
type page struct {
	meter rhythm.Meter
	in    styles.Situation
}

type read struct {
	text    string
	pattern styles.Pattern
}

// A material is what keeps to one alternative of a pattern: a letter of a section.
type material struct{ section, letter, text string }

func (p *player) read(at page) (*read, error) {
	text, ok := p.part.Pattern(at.meter, at.in)
	if !ok {
		text = plain(p.part.Kind, at.meter)
	}
	pattern, err := styles.ParsePattern(text, at.meter, p.part.Kind)
	return &read{text, pattern}, err
}

// plain is the pattern of a meter that the sheet has none for: bass on the beats,
// chords between them or on the beats that the bass leaves; nothing else.
func plain(kind string, m rhythm.Meter) string {
	if kind != "bass" && kind != "chords" {
		return ""
	}
	var bass, chords string
	for i := range m.Count() {
		at := rhythm.Offset(0).Add(rhythm.Duration(i) * m.Beat())
		root, chord := ".", "x"
		if m.Strong(at) {
			root, chord = "5", "."
			if i == 0 {
				root = "1"
			}
		}
		switch {
		case m.Compound() && m.Count() == 1: // 3/8
			root, chord = root+"..", ".xx"
		case m.Compound():
			root, chord = root+"..", "..x"
		case m.Count() == 2:
			root, chord = root+".", ".x"
		}
		bass, chords = bass+root, chords+chord
	}
	if kind == "bass" {
		return bass
	}
	return chords
}

// lay places a measure's strokes in bar i, cut to its length: into a pickup only drums
// lead; the last bar of all ends with the player.
func (p *player) lay(i int, measure []styles.Stroke) {
	b := &p.t.bars[i]
	if i == 0 && b.Lead > 0 && p.part.Kind != "drums" {
		return // the player's pickup alone
	}
	var strokes []stroke
	for _, s := range measure {
		from := s.At - rhythm.Offset(b.Lead)
		if from < 0 || from >= rhythm.Offset(b.Length) {
			continue
		}
		at := b.Offset(from)
		strokes = append(strokes, stroke{Stroke: s, at: at, hold: min(s.Hold, b.End().Since(at)), bar: i})
	}
	if b.last {
		strokes = p.together(b, strokes)
	}
	for _, s := range strokes {
		p.strokes = append(p.strokes, p.split(s)...)
	}
}

// together makes the end: the band strikes with the player's last note, and in a
// stinger with the note of the cadence as well, and holds as long.
func (p *player) together(b *bar, strokes []stroke) []stroke {
	ends := p.t.lastNotes(b)
	if len(ends) == 0 {
		return strokes
	}
	strokes = slices.DeleteFunc(strokes, func(s stroke) bool { return s.at >= ends[0].At })
	for i := range strokes {
		strokes[i].hold = min(strokes[i].hold, ends[0].At.Since(strokes[i].at))
	}
	bar := len(p.t.bars) - 1
	for _, n := range ends {
		play := map[string]byte{"bass": '1', "chords": 'x', "counter": 'x', "double": '=', "drums": 'x'}[p.part.Kind]
		strokes = append(strokes, stroke{Stroke: styles.Stroke{Play: play, Accent: true}, at: n.At, hold: n.Hold, bar: bar, final: true})
	}
	return strokes
}

// lastNotes are the notes of the player's that end the piece in the last bar: the last
// one, with a stinger all; of a note tied into the bar what lies in it.
func (t *take) lastNotes(b *bar) []timeline.Tone {
	var ends []timeline.Tone
	for _, n := range t.melody {
		if end := n.At.Add(n.Hold); n.At < b.At && end > b.At {
			n.At, n.Hold = b.At, end.Since(b.At)
		}
		if n.At >= b.At && !n.Grace {
			ends = append(ends, n)
		}
	}
	if len(ends) > 1 && !b.section.Stinger {
		ends = ends[len(ends)-1:]
	}
	return ends
}

// split cuts a stroke where the chord changes under it: held notes go on with the new
// chord.
func (p *player) split(s stroke) []stroke {
	s.span = p.t.spanAt(s.at)
	if p.part.Kind == "drums" || p.part.Kind == "double" || s.Short {
		return []stroke{s}
	}
	var pieces []stroke
	for end := p.t.spans[s.span].end; end < s.end(); end = p.t.spans[s.span].end {
		first := s
		first.hold = end.Since(s.at)
		pieces = append(pieces, first)
		s.at, s.hold, s.span = end, s.hold-first.hold, s.span+1
	}
	return append(pieces, s)
}

// play lets the part play.
func (p *player) play() []timeline.Tone {
	switch p.part.Kind {
	case "drums":
		return p.drums()
	case "bass":
		return p.finish(p.bassLine())
	case "counter":
		return p.finish(p.counterLine())
	case "double":
		return p.finish(p.double())
	}
	return p.finish(p.chords())
}
