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
		b.measure(i)
	}
	b.m = nil
	b.mend()
	b.irregular()
	return b.part, nil
}

// habits are the checks that others' pages need not pass: how measures are numbered, how
// the last one closes and what is beamed together.
var habits = []string{"measure numbers", "final bar", "beam groups"}

// irregular says what of the line a copyist would not sign.
func (b *lineBuilder) irregular() {
	for _, f := range score.Check(&score.Score{Parts: []score.Part{b.part}}) {
		if len(f.Offenders) == 0 || slices.Contains(habits, f.Check) {
			continue
		}
		first := f.Offenders[0]
		w := Warning{Part: b.name, Times: len(f.Offenders), Text: "irregular: " + first.Text}
		if first.Index < len(b.measures) {
			w.Measure = b.measures[first.Index].label
		}
		b.warnings = append(b.warnings, w)
	}
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

func keys[V any](m map[string]V) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// byNumber orders voices by their number, those without one behind by their name.
func byNumber(a, b string) int {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	switch {
	case errX == nil && errY != nil:
		return -1
	case errX != nil && errY == nil:
		return 1
	case errX == nil && x != y:
		return cmp.Compare(x, y)
	}
	return cmp.Compare(a, b)
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

// cutOff cuts what lasts beyond the end of the measure: the members of a chord whose first
// note is missing or shorter.
func (b *lineBuilder) cutOff(events []event, end rhythm.Offset) []event {
	for i := range events {
		e := &events[i]
		if e.at.Add(e.length) <= end {
			continue
		}
		b.warn("a note that lasts beyond its measure was cut")
		if e.length, e.value = end.Since(min(e.at, end)), (rhythm.Value{}); e.length == 0 {
			return events[:i]
		}
	}
	return events
}

// voiceIn reports the voice that is the line in this measure: the part's, or where that
// one is silent the first by number that sounds on its staff, or is there.
func (b *lineBuilder) voiceIn(raw *rawMeasure) string {
	sounding, onStaff := map[string]bool{}, map[string]bool{} // on the staff: whether it sounds
	for _, n := range raw.notes {
		if !n.rest {
			sounding[n.voice] = true
		}
		if n.staff == b.staff || n.voice == b.voice {
			onStaff[n.voice] = onStaff[n.voice] || !n.rest
		}
	}
	if len(sounding) > 1 {
		b.warn("several voices: the first was taken")
	}
	rests, there := onStaff[b.voice]
	if rests = there && !rests; there && !rests {
		return b.voice
	}
	order := slices.SortedFunc(keys(onStaff), byNumber)
	for _, v := range order {
		if onStaff[v] {
			if rests {
				b.warn("a voice that rests gave way to another of its staff")
			}
			return v
		}
	}
	if len(sounding) == 1 {
		b.warn("a voice of another staff was left out")
	}
	if there || len(order) == 0 {
		return b.voice
	}
	return order[0]
}

// measure builds measure i of the line.
func (b *lineBuilder) measure(i int) {
	raw := &b.measures[i]
	b.m = raw
	m := raw.Measure
	b.signs(i, raw, &m)
	if m.Meter != nil {
		b.meter = *m.Meter
	}
	b.opening(i, &m)
	b.settleLength(i, raw, &m)
	events := b.cutOff(b.events(raw), rhythm.Offset(m.Length))
	b.marks(raw, &m)
	slur := b.slur
	if err := b.fill(&m, events); err != nil {
		b.warn("a measure was read as a rest: %v", err)
		m.Notes, b.slur = []score.Note{wholeRest}, slur
	}
	b.part.Measures = append(b.part.Measures, m)
}

// signs puts the key, meter and clef of the line's staff into measure i. One that
// stands later in it is taken up by the next measure.
func (b *lineBuilder) signs(i int, raw *rawMeasure, m *score.Measure) {
	signs := append(b.laterSigns, raw.signs...)
	b.laterSigns = nil
	for _, s := range raw.signs {
		b.placeClef(i, raw, s)
	}
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

// placeClef notes where the sign stands on the line's staff, if it is a clef; one at the end
// of a measure is the next one's.
func (b *lineBuilder) placeClef(i int, raw *rawMeasure, s rawSign) {
	var m score.Measure
	if s.take(&m); m.Clef == nil || s.staff != "" && s.staff != b.staff {
		return
	}
	c := PlacedClef{Measure: i, At: s.at, Clef: *m.Clef}
	if c.At > 0 && rhythm.Duration(c.At) >= raw.length {
		c.Measure, c.At = i+1, 0
	}
	if c.Measure < len(b.measures) {
		b.clefs = append(b.clefs, c)
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
		case k.jumps:
			k.take(m, 0)
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
