package musicxml

import (
	"cmp"
	"slices"
	"strconv"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A lineBuilder makes one line of a part's voices.
type lineBuilder struct {
	*partReader
	voice, staff string // the voice and the staff of the line
	part         score.Part
	meter        rhythm.Meter
	laterSigns   []rawSign // signs and marks that the next measure takes
	laterMarks   []rawMark
	graceSlurs   map[string]bool // slurs begun on the grace notes at hand
	slur         string          // the number of the slur that is open, "" for none
}

// finish builds the line; refused is why the part could not be read, if it could not.
func (p *partReader) finish(refused error) (score.Part, error) {
	if refused != nil {
		return score.Part{}, refused
	}
	if len(p.measures) == 0 {
		return score.Part{}, errNoMeasures
	}
	if err := p.unpitched(); err != nil {
		return score.Part{}, err
	}
	p.m = nil
	b := lineBuilder{partReader: p, meter: rhythm.Meter{Beats: 4, Unit: 4}}
	if p.sounds != nil {
		b.part.Sounds = *p.sounds
	}
	b.chooseVoice()
	for i := range p.measures {
		if err := b.measure(i); err != nil {
			return score.Part{}, err
		}
	}
	b.m = nil
	b.mend()
	return b.part, nil
}

// chooseVoice settles which voice is the line: the first by number of those that
// have at least half as many notes as the busiest, for the first voice is the upper
// by custom. Its staff is where most of its notes stand.
func (b *lineBuilder) chooseVoice() {
	notes := map[string]int{}
	staves := map[[2]string]int{}
	for _, m := range b.measures {
		for _, n := range m.notes {
			if !n.rest && !n.grace && !n.chord {
				notes[n.voice]++
				staves[[2]string{n.voice, n.staff}]++
			}
		}
	}
	busiest := 0
	for _, n := range notes {
		busiest = max(busiest, n)
	}
	b.voice, b.staff = "1", "1"
	for _, v := range slices.SortedFunc(keys(notes), byNumber) {
		if 2*notes[v] >= busiest {
			b.voice = v
			break
		}
	}
	most := 0
	for k, n := range staves {
		if k[0] == b.voice && (n > most || n == most && k[1] < b.staff) {
			most, b.staff = n, k[1]
		}
	}
}

func keys(m map[string]int) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// byNumber orders voices by their number.
func byNumber(a, b string) int {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	if errX != nil || errY != nil {
		return cmp.Compare(a, b)
	}
	return cmp.Compare(x, y)
}

// An event is one note of the line with the members of its chord and its graces.
type event struct {
	rawNote
	members []rawNote // the chord's other notes
	graces  []rawNote // the notes ahead of it
}

// events reports the events of the line in one measure.
func (b *lineBuilder) events(raw *rawMeasure) []event {
	voice := b.voiceIn(raw)
	var events []event
	var graces []rawNote
	end := rhythm.Offset(0)
	for _, n := range raw.notes {
		switch {
		case n.voice != voice:
		case n.grace:
			graces = append(graces, n)
		case n.chord && len(events) > 0 && events[len(events)-1].at == n.at:
			last := &events[len(events)-1]
			last.members = append(last.members, n)
		case n.at < end:
			b.warn("notes that overlap in one voice were left out")
		default:
			events = append(events, event{rawNote: n, graces: graces})
			graces, end = nil, n.at.Add(n.length)
		}
	}
	if len(graces) > 0 {
		b.warn("grace notes after the last note of a measure were left out")
	}
	return events
}

// voiceIn reports the voice that is the line in this measure: the part's, or the
// first there is where that one is silent without a rest.
func (b *lineBuilder) voiceIn(raw *rawMeasure) string {
	first, sounding := "", map[string]bool{}
	for _, n := range raw.notes {
		if n.voice == b.voice {
			first = b.voice
		}
		if n.staff == b.staff && (first == "" || first != b.voice && byNumber(n.voice, first) < 0) {
			first = n.voice
		}
		if !n.rest {
			sounding[n.voice] = true
		}
	}
	if len(sounding) > 1 {
		b.warn("several voices: the first was taken")
	}
	if first == "" {
		return b.voice
	}
	return first
}

// measure builds measure i of the line.
func (b *lineBuilder) measure(i int) error {
	raw := &b.measures[i]
	b.m = raw
	m := raw.Measure
	b.signs(raw, &m)
	if m.Meter != nil {
		b.meter = *m.Meter
	}
	b.opening(i, &m)
	b.settleLength(i, raw, &m)
	events := b.events(raw)
	b.marks(raw, &m)
	if err := b.fill(&m, events); err != nil {
		return placed(raw.label, err)
	}
	b.part.Measures = append(b.part.Measures, m)
	return nil
}

// signs puts the key, meter and clef of the line's staff into the measure. One that
// stands later in it is taken up by the next measure.
func (b *lineBuilder) signs(raw *rawMeasure, m *score.Measure) {
	signs := append(b.laterSigns, raw.signs...)
	b.laterSigns = nil
	for _, s := range signs {
		switch {
		case s.staff != "" && s.staff != b.staff:
		case s.at == 0:
			s.take(m)
		default:
			if rhythm.Duration(s.at) < raw.length {
				b.warn("a %s that changes inside a measure was moved to the next", s.name)
			}
			s.at, s.staff = 0, ""
			b.laterSigns = append(b.laterSigns, s)
		}
	}
}

// opening gives the first measure the signs that it lacks.
func (b *lineBuilder) opening(i int, m *score.Measure) {
	if i > 0 {
		return
	}
	if m.Key == nil {
		m.Key = &theory.Key{}
		b.warn("no key at the start: C major was taken")
	}
	if m.Meter == nil {
		meter := b.meter
		m.Meter = &meter
		b.warn("no meter at the start: %v was taken", meter)
	}
	if m.Clef == nil {
		clef := theory.Treble
		m.Clef = &clef
		b.warn("no clef at the start: treble was taken")
	}
}

// settleLength settles how long the measure is: as long as its voices go, or as its
// meter says where it is empty.
func (b *lineBuilder) settleLength(i int, raw *rawMeasure, m *score.Measure) {
	full := b.meter.Measure()
	m.Length = raw.length
	switch {
	case m.Length == 0:
		m.Length = full
	case m.Length > full:
		b.warn("a measure is longer than its meter")
	case m.Length < full && i == 0:
		m.Implicit = true
	}
}

// marks puts the dynamics, hairpins and words of the line's staff into the measure.
func (b *lineBuilder) marks(raw *rawMeasure, m *score.Measure) {
	marks := append(b.laterMarks, raw.marks...)
	b.laterMarks = nil
	end := rhythm.Offset(m.Length)
	for _, k := range marks {
		switch {
		case k.staff != "" && k.staff != b.staff:
		case k.at >= end && !k.closes:
			k.at, k.staff = 0, ""
			b.laterMarks = append(b.laterMarks, k)
		case k.heads && k.at > 0:
			b.warn("%s inside a measure were left out", k.name)
		default:
			k.take(m, min(k.at, end))
		}
	}
}
