package musicxml

import (
	"strconv"
	"strings"
	"unicode"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A writer writes the measures of one part.
type writer struct {
	*page
	part      *score.Part
	divisions int64
	inForce   score.Accidentals
	key       theory.Key
	slur      int // the number of the slur that is open or was last
}

func writePart(p *page, part *score.Part, id string) {
	w := writer{page: p, part: part, divisions: divisionsOf(part), slur: 2}
	p.open("part", "id", id)
	for i := range part.Measures {
		w.measure(i)
	}
	p.end()
}

// inDivisions reports a length in the part's divisions.
func (w *writer) inDivisions(ticks int64) string {
	return strconv.FormatInt(ticks*w.divisions/int64(rhythm.Quarter), 10)
}

func (w *writer) measure(i int) {
	m := &w.part.Measures[i]
	attrs := attr{"number", strconv.Itoa(m.Number)}
	if m.Implicit {
		attrs = append(attrs, "implicit", "yes")
	}
	w.open("measure", attrs...)
	if m.NewSystem {
		w.empty("print", "new-system", "yes")
	}
	w.leftBarline(m)
	w.attributes(i, m)
	w.heads(m)
	if m.Key != nil {
		w.key = *m.Key
	}
	w.inForce.NewMeasure(w.key)
	w.notes(m)
	w.rightBarline(m)
	w.end()
}

func (w *writer) leftBarline(m *score.Measure) {
	if !m.RepeatStart && !m.EndingStart {
		return
	}
	w.open("barline", "location", "left")
	if m.RepeatStart {
		w.leaf("bar-style", "heavy-light")
	}
	if m.EndingStart {
		w.ending(m, "start")
	}
	if m.RepeatStart {
		w.empty("repeat", "direction", "forward")
	}
	w.end()
}

func (w *writer) rightBarline(m *score.Measure) {
	style := ""
	switch {
	case m.RepeatEnd || m.FinalBar:
		style = "light-heavy"
	case m.DoubleBar:
		style = "light-light"
	case !m.EndingStop:
		return
	}
	w.open("barline", "location", "right")
	if style != "" {
		w.leaf("bar-style", style)
	}
	switch {
	case m.EndingStop && (m.RepeatEnd || m.FinalBar):
		w.ending(m, "stop")
	case m.EndingStop:
		w.ending(m, "discontinue") // no hook down where the music goes on
	}
	if m.RepeatEnd {
		w.empty("repeat", "direction", "backward")
	}
	w.end()
}

func (w *writer) ending(m *score.Measure, kind string) {
	number := strconv.Itoa(m.Ending)
	if kind == "start" {
		w.leaf("ending", number+".", "number", number, "type", kind)
		return
	}
	w.empty("ending", "number", number, "type", kind)
}

func (w *writer) attributes(i int, m *score.Measure) {
	transposes := i == 0 && w.part.Sounds != theory.Interval{}
	if i > 0 && m.Key == nil && m.Meter == nil && m.Clef == nil {
		return
	}
	w.open("attributes")
	if i == 0 {
		w.leaf("divisions", strconv.FormatInt(w.divisions, 10))
	}
	if m.Key != nil {
		w.open("key")
		if i > 0 && cancels(w.key.Fifths, m.Key.Fifths) {
			w.leaf("cancel", strconv.Itoa(w.key.Fifths))
		}
		w.leaf("fifths", strconv.Itoa(m.Key.Fifths))
		w.leaf("mode", m.Key.Mode.String())
		w.end()
	}
	if m.Meter != nil {
		w.meter(*m.Meter)
	}
	if m.Clef != nil {
		sign, line := clefSign(*m.Clef)
		w.open("clef")
		w.leaf("sign", sign)
		w.leaf("line", line)
		w.end()
	}
	if transposes {
		w.transpose(w.part.Sounds)
	}
	w.end()
}

// cancels reports whether naturals stand ahead of a new signature: where sharps or flats
// of the old one go. To C major and A minor they are understood.
// Source: MusicXML 4.0, cancel; engraving handbooks, from memory.
func cancels(old, new int) bool {
	return new != 0 && old != 0 && (old > 0) == (new < 0) || new > 0 && new < old || new < 0 && new > old
}

func (w *writer) meter(m rhythm.Meter) {
	var attrs attr
	if m.Cut {
		attrs = attr{"symbol", "cut"}
	}
	w.open("time", attrs...)
	w.leaf("beats", strconv.Itoa(m.Beats))
	w.leaf("beat-type", strconv.Itoa(m.Unit))
	w.end()
}

// clefSign reports a clef's sign and the line it sits on, counted from the lowest.
func clefSign(c theory.Clef) (sign, line string) {
	if c == theory.Bass {
		return "F", "4"
	}
	return "G", "2"
}

// transpose writes the interval from written to sounding pitch; whole octaves stand
// apart, as MusicXML wants them.
func (w *writer) transpose(i theory.Interval) {
	octaves := i.Steps / 7
	w.open("transpose")
	w.leaf("diatonic", strconv.Itoa(i.Steps-7*octaves))
	w.leaf("chromatic", strconv.Itoa(i.Semitones-12*octaves))
	if octaves != 0 {
		w.leaf("octave-change", strconv.Itoa(octaves))
	}
	w.end()
}

// heads writes what stands above the start of the measure.
func (w *writer) heads(m *score.Measure) {
	if m.Rehearsal != "" {
		w.direction("above", func() { w.leaf("rehearsal", m.Rehearsal, "font-weight", "bold") })
	}
	if m.Tempo != nil {
		w.tempo(m.Tempo)
	}
	if m.Words != "" {
		style := attr{"font-style", "italic"}
		if unicode.IsUpper([]rune(m.Words)[0]) {
			style = attr{"font-weight", "bold"} // the name of a section
		}
		w.direction("above", func() { w.leaf("words", m.Words, style...) })
	}
}

func (w *writer) direction(placement string, write func()) {
	w.open("direction", "placement", placement)
	w.open("direction-type")
	write()
	w.end()
	w.end()
}

func (w *writer) tempo(t *score.Tempo) {
	w.open("direction", "placement", "above", "directive", "yes")
	if t.Word != "" {
		w.open("direction-type")
		// The space keeps the word off the metronome mark that follows it.
		w.leaf("words", t.Word+" ", "font-weight", "bold", "xml:space", "preserve")
		w.end()
	}
	w.open("direction-type")
	w.open("metronome", "parentheses", "no")
	w.leaf("beat-unit", typeName(t.Beat.Base))
	for range t.Beat.Dots {
		w.empty("beat-unit-dot")
	}
	w.leaf("per-minute", strconv.Itoa(t.BPM))
	w.end()
	w.end()
	w.empty("sound", "tempo", quartersPerMinute(t))
	w.end()
}

// quartersPerMinute reports the tempo in quarters a minute as a decimal, at most
// four places.
func quartersPerMinute(t *score.Tempo) string {
	const places = 10000
	n := int64(t.BPM) * int64(t.Beat.Duration()) * places / int64(rhythm.Quarter)
	whole, part := strconv.FormatInt(n/places, 10), strconv.FormatInt(n%places+places, 10)[1:]
	return strings.TrimSuffix(whole+"."+strings.TrimRight(part, "0"), ".")
}
