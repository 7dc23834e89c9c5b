package band

import (
	"sort"

	"onward/compose"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// A take is a read laid out in the time of its take: repeats played, chords and
// breaths at their places, behind the count-in.
type take struct {
	r        *compose.Read
	l        *timeline.Layout
	melody   []timeline.Tone
	line     voice // the melody as the band minds it
	bass     voice // what the bass plays, once it does
	bars     []bar
	spans    []span
	breaths  []rhythm.Offset
	printed  bool      // the page has dynamic marks
	doubling []sounded // all that basses play
	rests    []silence // of the whole band
}

// A bar is one playing of one measure, and where in the read it stands.
type bar struct {
	timeline.PlayedMeasure
	section *compose.Section
	phrase  *compose.Phrase
	number  int // within the phrase, from 0
	in      styles.Situation
	last    bool // of the take
}

// A span is a stretch of one chord within one bar.
type span struct {
	at, end rhythm.Offset
	chord   theory.Chord
	members members
	key     theory.Key // concert, of the section
	bar     int
}

func newTake(r *compose.Read, opts Options) (*take, error) {
	percent := opts.Percent
	if percent == 0 {
		percent = 100
	}
	l, err := timeline.LayOutAt(&r.Score.Parts[0], opts.CountIn, percent)
	if err != nil {
		return nil, err
	}
	melody, err := l.Melody()
	if err != nil {
		return nil, err
	}
	return takeOf(r, l, melody), nil
}

// takeOf is the take of a read that is laid out.
func takeOf(r *compose.Read, l *timeline.Layout, melody []timeline.Tone) *take {
	t := &take{r: r, l: l, melody: melody}
	for _, n := range t.melody {
		t.line = append(t.line, note{n.At, n.At.Add(n.Length), int(n.Key)})
	}
	for _, m := range l.Part.Measures {
		t.printed = t.printed || len(m.Dynamics) > 0
	}
	for _, m := range l.Measures {
		t.addBar(m)
	}
	for i := range t.bars {
		t.bars[i].in = t.situation(i)
	}
	return t
}

// addBar adds one playing of a measure with its chords and breaths.
func (t *take) addBar(m timeline.PlayedMeasure) {
	b := bar{PlayedMeasure: m, last: len(t.bars) == len(t.l.Measures)-1}
	for i := range t.r.Sections {
		if s := &t.r.Sections[i]; b.section == nil || m.Index >= s.First {
			b.section = s
		}
	}
	for i := range b.section.Phrases {
		if p := &b.section.Phrases[i]; b.phrase == nil || m.Index >= p.First {
			b.phrase = p
		}
	}
	if b.phrase == nil {
		b.phrase = &compose.Phrase{First: b.section.First, Measures: b.section.Measures}
	}
	b.number = max(0, m.Index-b.phrase.First)
	for _, br := range t.r.Breaths {
		if br.Measure == m.Index {
			t.breaths = append(t.breaths, m.Offset(br.At))
		}
	}
	t.addSpans(m, b.section.Key)
	t.bars = append(t.bars, b)
}

// addSpans adds the chords of a measure; one without a chord of its own goes on with
// the chord before.
func (t *take) addSpans(m timeline.PlayedMeasure, key theory.Key) {
	begun := false
	for _, c := range t.r.Chords {
		if c.Measure != m.Index || c.At >= rhythm.Offset(m.Length) {
			continue
		}
		at := m.Offset(c.At)
		if n := len(t.spans); begun {
			t.spans[n-1].end = at
		}
		t.spans = append(t.spans, span{at: at, end: m.End(), chord: c.Chord, members: membersOf(c.Chord), key: key, bar: len(t.bars)})
		begun = true
	}
	if begun {
		return
	}
	chord := key.Triad(1)
	if n := len(t.spans); n > 0 {
		chord = t.spans[n-1].chord
	}
	t.spans = append(t.spans, span{at: m.At, end: m.End(), chord: chord, members: membersOf(chord), key: key, bar: len(t.bars)})
}

// situation says where bar i stands.
func (t *take) situation(i int) styles.Situation {
	b := t.bars[i]
	var in styles.Situation
	set := func(s styles.Situation, holds bool) {
		if holds {
			in |= s
		}
	}
	level := t.level(b.At)
	set(styles.Soft, level <= softest)
	set(styles.Loud, level >= loudest)
	set(styles.Repeat, b.Pass > 1)
	set(styles.Smooth, b.section.Character == "smooth")
	set(styles.Break, b.section.Character == "break")
	n := len(t.r.Sections)
	set(styles.Last, n > 1 && b.section == &t.r.Sections[n-1])
	set(styles.Opening, b.Index == b.section.First)
	set(styles.Cadence, t.ends(i, func(next bar) bool { return next.phrase != b.phrase }))
	set(styles.Closing, t.ends(i, func(next bar) bool { return next.section != b.section }))
	set(styles.Free, t.free(b))
	return in
}

// ends reports whether bar i is the last of something: the piece ends, the repeat
// goes back, or the next bar is of another.
func (t *take) ends(i int, other func(next bar) bool) bool {
	if i == len(t.bars)-1 {
		return true
	}
	next := t.bars[i+1]
	return next.Index <= t.bars[i].Index || other(next)
}

// free reports whether the player begins nothing in the second half of the bar, grace
// notes into the next bar included.
func (t *take) free(b bar) bool {
	from, end := b.At.Add(b.Length/2), b.End()
	i := sort.Search(len(t.melody), func(i int) bool { return t.melody[i].At >= from })
	return i == len(t.melody) || t.melody[i].At >= end
}

// spanAt reports the index of the chord in force at a point of the take.
func (t *take) spanAt(at rhythm.Offset) int {
	return max(0, sort.Search(len(t.spans), func(i int) bool { return t.spans[i].at > at })-1)
}

// guide is the player's line at the band's own reading of the dynamics.
func (t *take) guide() []timeline.Tone {
	tones := make([]timeline.Tone, len(t.melody))
	for i, n := range t.melody {
		n.Velocity = clamp(int(n.Velocity)+t.shift(n.At), 1, 127)
		tones[i] = n
	}
	return tones
}
