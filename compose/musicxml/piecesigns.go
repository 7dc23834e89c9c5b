package musicxml

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
)

// signs are what one measure says of the order of measures. Labels are "" for none; a
// sign without a label of its own is unnamed.
type signs struct {
	start    bool // a forward repeat at its left
	back     bool // a backward repeat at its right
	times    int  // how often a backward repeat has the music played; 0 for not said
	endings  []int
	opens    bool // the bracket of the ending begins here
	segno    string
	coda     string
	codaSign bool // a coda sign that does not say whether it is the coda or leads to it
	toCoda   string
	dalSegno string
	daCapo   bool
	fine     bool
	toFine   bool // the jump says "al Fine"
	alCoda   bool // the jump says "al Coda"
	again    bool // repeats are played after a jump too
}

const unnamed = "1"

func orUnnamed(s string) string {
	if s == "" {
		return unnamed
	}
	return s
}

// join adds what another part says of the same measure.
func (s *signs) join(o *signs) {
	or := func(a *string, b string) {
		if *a == "" {
			*a = b
		}
	}
	s.start, s.back, s.opens = s.start || o.start, s.back || o.back, s.opens || o.opens
	s.times = max(s.times, o.times)
	if s.endings == nil {
		s.endings = o.endings
	}
	or(&s.segno, o.segno)
	or(&s.coda, o.coda)
	or(&s.toCoda, o.toCoda)
	or(&s.dalSegno, o.dalSegno)
	s.codaSign, s.daCapo, s.fine = s.codaSign || o.codaSign, s.daCapo || o.daCapo, s.fine || o.fine
	s.toFine, s.alCoda, s.again = s.toFine || o.toFine, s.alCoda || o.alCoda, s.again || o.again
}

// direction takes dynamics, hairpins, tempos and signs at one place.
func (p *pieceReader) direction(e *element) {
	at := p.offset(e)
	sound := e.kid("sound")
	var words []string
	for _, kind := range e.all("direction-type") {
		for _, k := range kind.kids {
			switch k.name {
			case "dynamics":
				p.dynamics(k, at)
			case "wedge":
				p.wedge(k, at)
			case "metronome":
				if sound.attr("tempo") == "" {
					p.metronomeMark(k, at)
				}
			case "rehearsal":
				if p.now.rehearsal == "" {
					p.now.rehearsal = oneLine(k.text)
				}
			case "segno":
				p.now.signs.segno = orUnnamed(p.now.signs.segno)
			case "coda":
				p.now.signs.codaSign = true
			case "words":
				words = append(words, k.text)
			}
		}
	}
	p.sound(sound, at)
	p.words(oneLine(strings.Join(words, " ")), at)
}

func (p *pieceReader) dynamics(e *element, at rhythm.Offset) {
	for _, k := range e.kids {
		mark, known := nearestMark[k.name]
		if k.name == "ppp" || k.name == "fff" {
			mark = k.name
		}
		if known {
			p.now.dynamics = append(p.now.dynamics, score.Dynamic{At: at, Mark: mark})
		}
	}
}

func (p *pieceReader) wedge(e *element, at rhythm.Offset) {
	kind, known := map[string]score.HairpinKind{
		"crescendo": score.Crescendo, "diminuendo": score.Diminuendo, "stop": score.HairpinStop,
	}[e.attr("type")]
	if known {
		p.now.hairpins = append(p.now.hairpins, score.Hairpin{At: at, Kind: kind})
	}
}

// metronomeMark takes a note value and a number, or two note values that last as long as
// each other.
func (p *pieceReader) metronomeMark(e *element, at rhythm.Offset) {
	var lengths []rhythm.Duration
	for _, k := range e.kids {
		switch k.name {
		case "beat-unit":
			for base, name := range typeNames {
				if name == strings.TrimSpace(k.text) {
					lengths = append(lengths, rhythm.Whole/rhythm.Duration(base))
				}
			}
		case "beat-unit-dot":
			if n := len(lengths); n > 0 {
				lengths[n-1] = lengths[n-1] * 3 / 2 // a second dot is not met on tempo marks
			}
		}
	}
	perMinute := firstDecimal(e.word("per-minute"))
	switch {
	case len(lengths) == 1 && perMinute > 0:
		p.tempo(perMinute*float64(lengths[0])/float64(rhythm.Quarter), at)
	case len(lengths) == 2 && p.micros > 0:
		p.tempo(60e6/float64(p.micros)*float64(lengths[1])/float64(lengths[0]), at)
	default:
		p.warn("a metronome mark that gives no plain number of beats was left out")
	}
}

// firstDecimal reads the first number in a text such as "c. 108.5"; 0 for none.
func firstDecimal(text string) float64 {
	start := strings.IndexAny(text, "0123456789")
	if start < 0 {
		return 0
	}
	end := start
	for end < len(text) && (text[end] >= '0' && text[end] <= '9' || text[end] == '.') {
		end++
	}
	f, _ := strconv.ParseFloat(strings.TrimRight(text[start:end], "."), 64)
	return f
}

// The tempos that are believed, in quarters a minute.
const (
	slowest = 4
	fastest = 1000
)

// tempo sets the tempo in quarters a minute.
func (p *pieceReader) tempo(quarters float64, at rhythm.Offset) {
	if !(quarters >= slowest && quarters <= fastest) {
		p.warn("a tempo outside %d to %d quarters a minute was left out", slowest, fastest)
		return
	}
	p.micros = int(math.Round(60e6 / quarters))
	p.now.tempos = append(p.now.tempos, PieceTempo{at, p.micros})
}

// sound takes what a sound element says of tempo and order.
func (p *pieceReader) sound(e *element, at rhythm.Offset) {
	if e.has("offset") {
		at = p.offset(e)
	}
	if quarters, err := strconv.ParseFloat(e.attr("tempo"), 64); err == nil && quarters != 0 {
		p.tempo(quarters, at)
	}
	p.swing(e)
	p.now.signs.sound(e)
}

// swing says that swing is not followed.
func (p *partReader) swing(e *element) {
	if e.has("swing") && !e.kid("swing").has("straight") {
		p.warn("swing was read as even notes, as they are written")
	}
}

// sound takes what a sound element says of the order of measures.
func (s *signs) sound(e *element) {
	set := func(to *string, name string) {
		if v := e.attr(name); v != "" && v != "no" {
			*to = v
		}
	}
	set(&s.segno, "segno")
	set(&s.coda, "coda")
	set(&s.toCoda, "tocoda")
	set(&s.dalSegno, "dalsegno")
	s.daCapo = s.daCapo || e.attr("dacapo") == "yes"
	if fine := e.attr("fine"); fine != "" && fine != "no" {
		s.fine = true
	}
}

// words takes signs and tempos that are written out.
func (p *pieceReader) words(text string, at rhythm.Offset) {
	plain := plainWords(text)
	if !p.now.signs.words(plain) && at == 0 && p.now.tempoWord == "" {
		p.now.tempoWord = plain
	}
}

func plainWords(text string) string { return strings.ToLower(strings.Trim(text, " .:")) }

// words takes the signs that plain words name, and reports whether they name one.
func (s *signs) words(plain string) bool {
	begins := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(plain, w) })
	}
	switch {
	case begins("d.c", "d. c", "da capo"):
		s.daCapo = true
	case begins("d.s", "d. s", "dal segno"):
		s.dalSegno = orUnnamed(s.dalSegno)
	case plain == "fine":
		s.fine = true
	case begins("to coda", "al coda", "alla coda"):
		s.toCoda = orUnnamed(s.toCoda)
	case plain == "coda":
		s.coda = orUnnamed(s.coda)
	default:
		return false
	}
	if s.daCapo || s.dalSegno != "" {
		s.toFine = s.toFine || strings.Contains(plain, "fine")
		s.alCoda = s.alCoda || strings.Contains(plain, "coda")
	}
	return true
}

func (p *pieceReader) barline(e *element) {
	repeat := e.kid("repeat")
	s := &p.now.signs
	switch where := e.attr("location"); {
	case where == "middle" && repeat.name != "":
		p.warn("a repeat in the middle of a measure was left out")
		return
	case where == "left" && repeat.attr("direction") == "backward":
		if i := len(p.all) - 2; i >= 0 {
			p.all[i].signs.back = true
		}
	case repeat.attr("direction") == "forward":
		s.start = true
	case repeat.attr("direction") == "backward":
		s.back = true
		s.times, _ = strconv.Atoi(repeat.attr("times"))
	}
	s.again = s.again || repeat.attr("after-jump") == "yes"
	if e.has("segno") {
		s.segno = orUnnamed(e.attr("segno"))
	}
	if e.has("coda") {
		s.codaSign = true
		if e.attr("coda") != "" {
			s.coda = e.attr("coda")
		}
	}
	p.bracket(e.kid("ending"))
}

// bracket opens or closes an ending's bracket.
func (p *pieceReader) bracket(e *element) {
	if e.name == "" {
		return
	}
	numbers := endingNumbers(e)
	if len(numbers) == 0 { // no number: one more than the ending before it
		numbers = []int{1}
		if i := len(p.all) - 2; p.endings != nil {
			numbers = p.endings
		} else if i >= 0 && len(p.all[i].signs.endings) > 0 {
			numbers = []int{min(maxEnding, slices.Max(p.all[i].signs.endings)+1)}
		}
	}
	p.now.signs.endings = numbers
	if p.endings = nil; e.attr("type") == "start" {
		p.endings, p.now.signs.opens = numbers, true
	}
}

// endingNumbers reports the numbers of an ending, each once.
func endingNumbers(e *element) []int {
	var numbers []int
	for _, word := range strings.FieldsFunc(e.attr("number"), func(r rune) bool { return r < '0' || r > '9' }) {
		if n, err := strconv.Atoi(word); err == nil && n >= 1 && n <= maxEnding && !slices.Contains(numbers, n) {
			numbers = append(numbers, n)
		}
	}
	return numbers
}
