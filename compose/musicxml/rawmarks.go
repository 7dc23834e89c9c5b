package musicxml

import (
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
)

// direction takes one direction element: everything it holds stands at one place.
func (p *partReader) direction(e *element) {
	at := p.offset(e)
	staff := e.word("staff")
	var words []string
	metronome := false
	for _, kind := range e.all("direction-type") {
		for _, k := range kind.kids {
			switch k.name {
			case "words":
				if !metronome {
					words = append(words, strings.TrimSpace(k.text))
				}
			case "metronome":
				metronome = p.metronome(k, at, staff, &words) || metronome
			case "segno", "coda":
				p.jumps()
			default:
				p.directionKind(k, at, staff)
			}
		}
	}
	if !metronome {
		p.sound(e.kid("sound"), at)
	}
	if text := oneLine(strings.Join(words, " ")); text != "" {
		var order signs
		jump := order.words(plainWords(text))
		if jump {
			p.jumps()
		}
		p.head("words", at, staff, func(m *score.Measure) {
			m.Words = strings.TrimSpace(m.Words + " " + text)
		})
		// "Coda" alone is where a jump leads to
		p.m.marks[len(p.m.marks)-1].jumps = jump && order.coda == ""
	}
}

// jumps says that the order of playing is not in the line.
func (p *partReader) jumps() {
	p.warn("jumps (D.C., D.S., Coda, Fine) are not in the line, which has each measure once")
}

// sound takes a tempo that is not printed, as a mark in quarters, and what else a sound
// element says.
func (p *partReader) sound(e *element, at rhythm.Offset) {
	if e.has("offset") {
		at = p.offset(e)
	}
	p.swing(e)
	var order signs
	if order.sound(e); !reflect.DeepEqual(order, signs{}) {
		p.jumps()
	}
	quarters, err := strconv.ParseFloat(e.attr("tempo"), 64)
	if err != nil || !(quarters >= slowest && quarters <= fastest) {
		return
	}
	t := score.Tempo{Beat: rhythm.Value{Base: 4}, BPM: int(math.Round(quarters))}
	switch {
	case t.BPM > 300:
		t.Beat.Base, t.BPM = 1, int(math.Round(quarters/4))
	case t.BPM < 20:
		t.Beat.Base, t.BPM = 16, int(math.Round(quarters*4))
	}
	if t.BPM < 20 {
		return
	}
	p.head("tempos", at, "", func(m *score.Measure) {
		if m.Tempo == nil {
			m.Tempo = &t
		}
	})
	if at == 0 {
		p.warn("a tempo that is not printed was taken as a mark")
	}
}

func (p *partReader) mark(name string, at rhythm.Offset, staff string, take func(m *score.Measure, at rhythm.Offset)) {
	p.m.marks = append(p.m.marks, rawMark{at: at, staff: staff, take: take, name: name})
}

// head takes a mark that stands only at the start of a measure.
func (p *partReader) head(name string, at rhythm.Offset, staff string, take func(m *score.Measure)) {
	p.m.marks = append(p.m.marks, rawMark{at: at, staff: staff, heads: true, name: name,
		take: func(m *score.Measure, _ rhythm.Offset) { take(m) }})
}

func (p *partReader) directionKind(k *element, at rhythm.Offset, staff string) {
	switch k.name {
	case "dynamics":
		p.dynamics(k, at, staff)
	case "wedge":
		kind, known := map[string]score.HairpinKind{
			"crescendo": score.Crescendo, "diminuendo": score.Diminuendo, "stop": score.HairpinStop,
		}[k.attr("type")]
		if known {
			p.mark("hairpins", at, staff, func(m *score.Measure, at rhythm.Offset) {
				m.Hairpins = append(m.Hairpins, score.Hairpin{At: at, Kind: kind})
			})
			p.m.marks[len(p.m.marks)-1].closes = kind == score.HairpinStop
		}
	case "rehearsal":
		letter := strings.TrimSpace(k.text)
		p.head("rehearsal letters", at, staff, func(m *score.Measure) { m.Rehearsal = letter })
	case "dashes", "bracket", "": // lines that go with words
	default:
		p.warn("%.40s was left out", k.name)
	}
}

// nearestMark gives the mark in use for those that are not.
var nearestMark = map[string]string{
	"pp": "pp", "p": "p", "mp": "mp", "mf": "mf", "f": "f", "ff": "ff", "fp": "fp", "sfz": "sfz",
	"ppp": "pp", "pppp": "pp", "ppppp": "pp", "pppppp": "pp", "fff": "ff", "ffff": "ff", "fffff": "ff", "ffffff": "ff",
	"sf": "sfz", "fz": "sfz", "rf": "sfz", "rfz": "sfz", "sffz": "sfz", "sfp": "fp", "sfpp": "fp", "pf": "fp",
}

func (p *partReader) dynamics(e *element, at rhythm.Offset, staff string) {
	for _, k := range e.kids {
		nearest, known := nearestMark[k.name]
		switch {
		case !known:
			p.warn("dynamic %.40s was left out", k.name)
			continue
		case nearest != k.name:
			p.warn("dynamic %.40s was read as %s", k.name, nearest)
		}
		p.mark("dynamics", at, staff, func(m *score.Measure, at rhythm.Offset) {
			m.Dynamics = append(m.Dynamics, score.Dynamic{At: at, Mark: nearest})
		})
	}
}

// metronome takes a tempo mark with the words ahead of it, and reports whether it did.
func (p *partReader) metronome(e *element, at rhythm.Offset, staff string, words *[]string) bool {
	t := score.Tempo{}
	for base, name := range typeNames {
		if name == e.word("beat-unit") {
			t.Beat.Base = base
		}
	}
	t.Beat.Dots = len(e.all("beat-unit-dot"))
	t.BPM = firstNumber(e.word("per-minute"))
	if len(e.all("beat-unit")) != 1 || t.Beat.Base == 0 || t.Beat.Base > 16 || t.Beat.Dots > 1 || t.BPM < 20 || t.BPM > 300 {
		p.warn("a metronome mark that gives no plain number of beats was left out")
		return false
	}
	t.Word = strings.TrimRight(strings.Join(*words, " "), " (=")
	*words = nil
	p.head("tempo marks", at, staff, func(m *score.Measure) { m.Tempo = &t })
	return true
}

// firstNumber reads the first whole number in a text such as "c. 108" or "90-94".
func firstNumber(text string) int {
	start := strings.IndexAny(text, "0123456789")
	if start < 0 {
		return 0
	}
	end := start
	for end < len(text) && text[end] >= '0' && text[end] <= '9' {
		end++
	}
	n, _ := strconv.Atoi(text[start:end])
	return n
}

func (p *partReader) barline(e *element) {
	if e.has("segno") || e.has("coda") {
		p.jumps()
	}
	left := e.attr("location") == "left"
	if e.attr("location") == "middle" {
		p.warn("a barline in the middle of a measure was left out")
		return
	}
	m := &p.m.Measure
	if left && len(p.measures) > 1 && e.kid("repeat").attr("direction") != "forward" {
		// what a left barline closes belongs to the measure before
		p.closing(e, &p.measures[len(p.measures)-2].Measure)
	} else if !left {
		p.closing(e, m)
	}
	if e.kid("repeat").attr("direction") == "forward" {
		m.RepeatStart = true
	}
	if times, _ := strconv.Atoi(e.kid("repeat").attr("times")); times > 2 {
		p.warn("a repeat of more than two times was read as one of two")
	}
	p.ending(e.kid("ending"), m)
}

// closing takes what ends at a barline.
func (p *partReader) closing(e *element, m *score.Measure) {
	back := e.kid("repeat").attr("direction") == "backward"
	m.RepeatEnd = m.RepeatEnd || back
	switch e.word("bar-style") {
	case "light-light":
		m.DoubleBar = !m.RepeatEnd
	case "light-heavy":
		m.FinalBar = !m.RepeatEnd
	}
}

func (p *partReader) ending(e *element, m *score.Measure) {
	if e.name == "" {
		return
	}
	switch numbers := endingNumbers(e); {
	case len(numbers) > 0:
		if m.Ending = 2; slices.Contains(numbers, 1) {
			m.Ending = 1
		}
		if len(numbers) != 1 || numbers[0] != m.Ending {
			p.warn("ending %.40q was read as ending %d", e.attr("number"), m.Ending)
		}
	case e.attr("type") == "start": // no number: one more than the ending before it
		m.Ending = 1
		if i := len(p.measures) - 2; i >= 0 && p.measures[i].Ending == 1 && p.measures[i].EndingStop {
			m.Ending = 2
		}
	case m.Ending == 0:
		m.Ending = 1
	}
	if e.attr("type") == "start" {
		m.EndingStart = true
	} else {
		m.EndingStop = true
	}
}
