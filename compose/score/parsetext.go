package score

import (
	"fmt"
	"strings"

	"onward/rhythm"
	"onward/theory"
)

// ParseText reads a part from compact text, so that tests read as music. Words
// stand apart by white space:
//
//	key Bb; key G minor;    a new key (a directive ends with ";")
//	6/8 cut treble bass     a new meter, a new clef
//	tempo 4.=112 Andante;   a tempo mark, its word optional
//	words dolce;            words above the staff
//	letter A;               a rehearsal letter
//	part Euphonium T.C.;    the part's name
//	sounds -1 -2;           written to sounding pitch: steps and semitones
//	line                    the measure begins a new line on the page
//	short                   the measure is shorter than its meter
//	pickup                  it is short, and not numbered
//	Bb4:4.                  a note: pitch, colon, value, then any marks
//	r:8 R R:4+8             a rest, a rest of a whole measure, of a short measure
//	{A4,Bb4}C5:4            grace notes ahead of a note; {A4(}Bb4:4 slurred to it
//	pp p mp mf f ff fp sfz  a dynamic at the next note
//	< > !                   a crescendo, a diminuendo, the end of the hairpin
//	| || |]                 barlines: plain, double, final
//	|: :| :|:               repeats
//	[1 [2 ]                 an ending begins (in its first measure), it stops (in its last)
//
// The marks after a value: ~ tied to the next, ( slur begins, ) slur ends,
// ' staccato, _ tenuto, > accent, ^ marcato, @ fermata, "," breath after. A value
// is 1 to 128 with dots, then t for a triplet or (5:4) for another tuplet.
//
// A first measure that is short is a pickup; the last may complete it. Accidentals,
// beams and tuplet brackets are set by the copyist's rules (SetAccidentals,
// SetBeams, SetTuplets). The error names the measure, counted from 1, and the word.
func ParseText(text string) (Part, error) {
	r := textReader{words: textWords(text), meter: rhythm.Meter{Beats: 4, Unit: 4}}
	for i, w := range r.words {
		if err := r.word(w); err != nil {
			return Part{}, fmt.Errorf("music text, measure %d, word %d %q: %w", len(r.part.Measures)+1, i+1, w, err)
		}
	}
	if r.begun {
		if err := r.barline("|"); err != nil {
			return Part{}, fmt.Errorf("music text, measure %d, at the end: %w", len(r.part.Measures)+1, err)
		}
	}
	if err := r.finish(); err != nil {
		return Part{}, fmt.Errorf("music text: %w", err)
	}
	SetTuplets(&r.part)
	SetBeams(&r.part)
	SetAccidentals(&r.part)
	return r.part, nil
}

// MustText is ParseText for music written in the program; it panics on a slip.
func MustText(text string) Part {
	p, err := ParseText(text)
	if err != nil {
		panic(err)
	}
	return p
}

var textDirectives = map[string]bool{
	"key": true, "tempo": true, "words": true, "letter": true, "part": true, "sounds": true,
}

// textWords splits text into words; a directive up to its ";" is one word.
func textWords(text string) []string {
	var words []string
	fields := strings.Fields(text)
	for i := 0; i < len(fields); i++ {
		w := fields[i]
		if textDirectives[w] {
			for !strings.HasSuffix(w, ";") && i+1 < len(fields) {
				i++
				w += " " + fields[i]
			}
		}
		words = append(words, w)
	}
	return words
}

// A textReader is a part under way.
type textReader struct {
	words   []string
	part    Part
	m       Measure // the measure under way
	begun   bool    // m holds something
	short   bool    // m says that it is shorter than its meter
	loose   bool    // the measure before m was short and did not say so
	at      rhythm.Offset
	meter   rhythm.Meter
	tied    bool // the last note is tied onward
	ending  int
	lastNum int
}

func (r *textReader) word(w string) error {
	switch w {
	case "|", "||", "|]", "|:", ":|", ":|:":
		return r.barline(w)
	}
	r.begun = true
	switch w {
	case "pp", "p", "mp", "mf", "f", "ff", "fp", "sfz":
		r.m.Dynamics = append(r.m.Dynamics, Dynamic{r.at, w})
	case "<", ">", "!":
		kind := map[string]HairpinKind{"<": Crescendo, ">": Diminuendo, "!": HairpinStop}[w]
		r.m.Hairpins = append(r.m.Hairpins, Hairpin{r.at, kind})
	case "[1", "[2":
		r.ending = int(w[1] - '0')
		r.m.Ending, r.m.EndingStart = r.ending, true
	case "]":
		if r.m.Ending == 0 {
			r.m.Ending = r.ending
		}
		r.m.EndingStop, r.ending = true, 0
	case "line":
		r.m.NewSystem = true
	case "short":
		r.short = true
	case "pickup":
		r.short, r.m.Implicit = true, true
	case "treble", "bass":
		clef := map[string]theory.Clef{"treble": theory.Treble, "bass": theory.Bass}[w]
		r.m.Clef = &clef
	default:
		if name, rest, ok := strings.Cut(w, " "); ok && textDirectives[name] {
			return r.directive(name, rest)
		}
		if w == "cut" || strings.Contains(w, "/") {
			return r.newMeter(w)
		}
		return r.note(w)
	}
	return nil
}

func (r *textReader) newMeter(w string) error {
	meter, err := rhythm.ParseMeter(w)
	if w == "2/2" {
		meter.Cut = false
	}
	r.meter, r.m.Meter = meter, &meter
	return err
}

func (r *textReader) directive(name, rest string) error {
	rest, ok := strings.CutSuffix(rest, ";")
	if !ok {
		return fmt.Errorf("a directive ends with \";\"")
	}
	rest = strings.TrimSpace(rest)
	switch name {
	case "key":
		key, err := theory.ParseKey(rest)
		r.m.Key = &key
		return err
	case "tempo":
		return r.tempo(rest)
	case "words":
		r.m.Words = rest
	case "letter":
		r.m.Rehearsal = rest
	case "part":
		r.part.Name = rest
	case "sounds":
		i := &r.part.Sounds
		if _, err := fmt.Sscanf(rest, "%d %d", &i.Steps, &i.Semitones); err != nil {
			return fmt.Errorf("write steps and semitones, such as \"sounds -1 -2;\"")
		}
	}
	return nil
}

func (r *textReader) tempo(s string) error {
	mark, word, _ := strings.Cut(s, " ")
	beat, bpm, _ := strings.Cut(mark, "=")
	t := Tempo{Word: word}
	var err error
	if t.Beat, err = rhythm.ParseValue(beat); err != nil {
		return err
	}
	if _, err := fmt.Sscanf(bpm, "%d", &t.BPM); err != nil {
		return fmt.Errorf("beats a minute %q: write such as \"tempo 4.=112;\"", bpm)
	}
	r.m.Tempo = &t
	return nil
}

// barline closes the measure under way, or opens a repeat at its left.
func (r *textReader) barline(bar string) error {
	if len(r.m.Notes) == 0 {
		if bar == "|:" {
			r.m.RepeatStart, r.begun = true, true
			return nil
		}
		return fmt.Errorf("the measure is empty; write R for a whole rest")
	}
	if err := r.fill(); err != nil {
		return err
	}
	r.m.RepeatEnd = bar == ":|" || bar == ":|:"
	r.m.DoubleBar = bar == "||"
	r.m.FinalBar = bar == "|]"
	if r.m.Ending == 0 {
		r.m.Ending = r.ending
	}
	r.part.Measures = append(r.part.Measures, r.m)
	r.m, r.begun, r.short, r.at = Measure{}, false, false, 0
	if bar == "|:" || bar == ":|:" {
		r.m.RepeatStart, r.begun = true, true
	}
	return nil
}

// fill settles the measure's length and number. A measure may fall short of its
// meter where it says so, as the first, and as the last.
func (r *textReader) fill() error {
	if r.loose {
		return fmt.Errorf("the measure before is not full; write short in it if it is meant so")
	}
	r.m.Length = rhythm.Duration(r.at)
	full, first := r.meter.Measure(), len(r.part.Measures) == 0
	if r.m.Length > full {
		return fmt.Errorf("it holds %s in %s", inQuarters(r.m.Length), r.meter)
	}
	if r.m.Length < full && !r.short {
		r.m.Implicit = first
		r.loose = !first
	}
	if !r.m.Implicit {
		r.lastNum++
	}
	r.m.Number = r.lastNum
	return nil
}

// finish refuses a part that ends in the air.
func (r *textReader) finish() error {
	if len(r.part.Measures) == 0 {
		return fmt.Errorf("no music")
	}
	if r.tied {
		return fmt.Errorf("the last note is tied to nothing")
	}
	last, first := r.part.Measures[len(r.part.Measures)-1], r.part.Measures[0]
	if r.loose && (!first.Implicit || first.Length+last.Length != r.meter.Measure()) {
		return fmt.Errorf("measure %d: the last measure is not full and completes no pickup; write short in it if it is meant so", len(r.part.Measures))
	}
	return nil
}
