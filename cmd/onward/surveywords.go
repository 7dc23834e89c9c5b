package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"onward/compose/survey"
)

// A lookItem is one of the things to look at first.
type lookItem struct {
	Word string `json:"word"`
	Text string `json:"text"`
}

// lookFirst is how many things are told first.
const lookFirst = 5

// look lists the things to look at before all others, in order.
func (l *surveyed) look() []lookItem {
	var list []lookItem
	add := func(word, text string) {
		if text != "" && len(list) < lookFirst {
			list = append(list, lookItem{word, text})
		}
	}
	add("key", l.keyWords()+"; "+l.meterWords()+"; "+l.tempoWords())
	if w := l.jumps(); w != "" {
		add("way", w)
	}
	add("keys", short(numbersNamed, l.keysLeft))
	add("hardest", l.hardest())
	add("traps", short(worst, l.worstTraps))
	add("range", l.rangeWords())
	add("count", l.restWords())
	add("outside", l.accidentalWords())
	add("length", l.lengthWords())
	return list
}

func (l *surveyed) keyWords() string {
	words := fmt.Sprintf("%s, %s", l.Key.Name, signature(l.Writing))
	if l.Key.Sounding != l.Key.Name {
		words += ", sounding " + l.Key.Sounding
	}
	return words
}

func (l *surveyed) meterWords() string {
	words := fmt.Sprintf("%s, %s of a %s", l.Beat, count(l.Beat.Count(), "beat"), beatWords(l.Beat))
	var later []string
	for _, m := range l.Meters[1:] {
		later = append(later, fmt.Sprintf("%s from %d", m.Meter, m.Measure))
	}
	return words + changes(later)
}

func (l *surveyed) tempoWords() string {
	t := l.Tempo
	if t.Given {
		return strings.TrimSpace(fmt.Sprintf("%s %s = %d", t.Word, beatWords(l.Beat), t.BPM))
	}
	if t.Word != "" {
		return fmt.Sprintf("%s, no number", t.Word)
	}
	return "no tempo stands there"
}

// lengthWords says how long the part is, printed and played.
func (l *surveyed) lengthWords() string {
	f := l.Form
	words := count(f.Measures, "measure")
	if f.Upbeat {
		words += " and an upbeat"
	}
	if len(f.Way) > 1 {
		return fmt.Sprintf("%s, %d as played", words, f.Played)
	}
	return words + ", straight through"
}

// jumps says the way through a page with repeats or jumps.
func (l *surveyed) jumps() string {
	if len(l.Form.Way) < 2 {
		return ""
	}
	var way []string
	for i, s := range l.Form.Way {
		if i == numbersNamed && len(l.Form.Way) > numbersNamed {
			way = append(way, fmt.Sprintf("%d more", len(l.Form.Way)-i))
			break
		}
		way = append(way, s.String())
	}
	return l.lengthWords() + ": " + strings.Join(way, ", ")
}

// keysLeft says where the part leaves its first key, signed or not.
func (l *surveyed) keysLeft(most int) string {
	var all []string
	for _, k := range l.Changes {
		all = append(all, fmt.Sprintf("%s signed at %d", k.Name, k.Measure))
	}
	all = append(all, l.unsigned()...)
	return few(all, most)
}

func (l *surveyed) unsigned() []string {
	var all []string
	for _, r := range l.Tonicised {
		all = append(all, fmt.Sprintf("%s in %s (%s)", r.Key, survey.Stretch{First: r.First, Last: r.Last}, r.By))
	}
	return all
}

// shortLines is how many lines one of the things to look at first takes at most, so that all
// of them stand on a small terminal at once.
const shortLines = 3

// short tells so many things as fit.
func short(most int, tell func(most int) string) string {
	for most > 1 && len(wrap(tell(most), lineWidth-fieldWidth)) > shortLines {
		most--
	}
	return tell(most)
}

// few joins so many of a list and counts the rest.
func few(list []string, most int) string {
	if n := len(list); n > most {
		kept := max(most-1, 1)
		list = append(list[:kept:kept], fmt.Sprintf("%d more", n-kept))
	}
	return strings.Join(list, "; ")
}

// hardest names the measures with most to take in.
func (l *surveyed) hardest() string {
	sorted := slices.Clone(l.Load)
	if len(sorted) > 1 && sorted[0].Measure == 0 {
		sorted = sorted[1:] // an upbeat is short, not hard
	}
	slices.SortStableFunc(sorted, func(a, b survey.MeasuredLoad) int { return cmp.Compare(b.Load, a.Load) })
	var next []int
	for _, m := range sorted[1:min(len(sorted), 4)] {
		if m.Load > 0.8*sorted[0].Load {
			next = append(next, m.Measure)
		}
	}
	words := fmt.Sprintf("%s has most to take in", measureWords(l.Heaviest.Measure))
	if slices.Sort(next); len(next) > 0 {
		words += ", then " + numbers(next)
	}
	if l.Densest.Measure != l.Heaviest.Measure {
		words += fmt.Sprintf("; most notes in %d: %d", l.Densest.Measure, l.Densest.Notes)
	} else {
		words += fmt.Sprintf(": %d notes", l.Densest.Notes)
	}
	return words
}

// worst is how many traps are told first.
const worst = 3

// worstTraps names so many of the worst traps, of different kinds where there are.
func (l *surveyed) worstTraps(most int) string {
	sorted := slices.Clone(l.Traps)
	slices.SortStableFunc(sorted, func(a, b survey.Trap) int { return b.Weight - a.Weight })
	had := map[string]bool{}
	var first, rest []survey.Trap
	for _, t := range sorted {
		if had[t.Kind] {
			rest = append(rest, t)
			continue
		}
		had[t.Kind] = true
		first = append(first, t)
	}
	all := append(first, rest...)
	all = all[:min(most, len(all))]
	slices.SortStableFunc(all, func(a, b survey.Trap) int { return a.Measure - b.Measure })
	var words []string
	for _, t := range all {
		words = append(words, fmt.Sprintf("%s: %s", measureWords(t.Measure), t.Words))
	}
	if n := len(l.Traps) - len(all); n > 0 {
		words = append(words, fmt.Sprintf("%d more", n))
	}
	return strings.Join(words, "; ")
}

// rangeWords says how high and low it goes, and how that lies for the instrument.
func (l *surveyed) rangeWords() string {
	r := l.Range
	words := fmt.Sprintf("%s (%s) to %s (%s)", r.Low.Pitch, numbers(r.Low.Measures), r.High.Pitch, numbers(r.High.Measures))
	beyond := strings.Join(r.Beyond, " and ")
	switch {
	case r.Bracket == "":
		words += fmt.Sprintf("; %s the widest range of the %s", beyond, l.instrument.Name)
	case beyond == "":
		words += fmt.Sprintf("; within the %s range of the %s", r.Bracket, l.instrument.Name)
	default:
		words += fmt.Sprintf("; %s the %s range of the %s", beyond, r.Inside, l.instrument.Name)
	}
	return words
}

func (l *surveyed) restWords() string {
	var all []string
	for _, r := range l.Rests {
		words := fmt.Sprintf("%s of rest from %d", count(r.Measures, "measure"), r.Measure)
		if r.Entry > 0 {
			words += fmt.Sprintf(", in on beat %s of %d with %s", r.Beat, r.Entry, r.Pitch)
		}
		all = append(all, words)
	}
	return few(all, 3)
}

func (l *surveyed) accidentalWords() string {
	if l.Accidental.Count == 0 {
		return ""
	}
	var all []string
	for _, a := range l.Accidental.Notes {
		name := pitchWords(a.Spelled.In(4))
		if a.Spelled.Alter == 0 {
			name += "-natural"
		}
		all = append(all, fmt.Sprintf("%s in %s", name, numbers(a.Measures)))
	}
	return fmt.Sprintf("%s in %s: %s", count(l.Accidental.Count, "accidental"), count(len(l.Accidental.Measures), "measure"), strings.Join(all, "; "))
}

// head says what is surveyed, for whom, and where on the ladder it stands.
func (l *surveyed) head(b *strings.Builder) {
	fmt.Fprintf(b, "%s: part %d of %d, %s\n", l.Title, l.Number, len(l.piece.Parts), l.Part)
	field(b, "for", l.instrument.Name+map[string]string{
		survey.AsWritten: "", survey.NotSaid: "; the file has no transposition: taken as written for it",
		survey.Transposed: "; the part is written for another instrument: you transpose",
	}[l.Reading])
	field(b, "rung", l.rungWords())
	field(b, "figures", l.coverageWords())
}

func (l *surveyed) rungWords() string {
	r := l.Rung
	words := fmt.Sprintf("%d of %d", r.Rung, l.Rungs)
	var above []string
	limit := r.Rung
	if r.Asked > 0 {
		limit = r.Asked
	}
	for _, a := range r.Aspects {
		if a.Rung > limit {
			above = append(above, fmt.Sprintf("%s %d", a.Name, a.Rung))
		}
	}
	if r.Asked > 0 {
		words += fmt.Sprintf("; you read on %d", r.Asked)
	}
	if len(above) > 0 {
		words += "; above that: " + strings.Join(above, ", ")
	}
	if r.Slower > 0 {
		words += fmt.Sprintf("; as hard as your rung at %d %% of its tempo", r.Slower)
	}
	return words
}

func (l *surveyed) coverageWords() string {
	v := l.Vocabulary
	known := fmt.Sprintf("figures of rung %d and lower", l.Rung.Rung)
	switch {
	case v.By == survey.ByVocabulary:
		known = "figures that you drill"
	case l.Rung.Asked > 0:
		known = "figures of the rungs below yours"
	}
	words := fmt.Sprintf("%.0f %% of %s lie in %s", 100*v.Share, count(v.Notes, "note"), known)
	if v.New > 0 {
		words += fmt.Sprintf("; %s new", count(v.New, "figure"))
	}
	return words
}

// tell says all of it: what fills a terminal first, then the details.
func (l *surveyed) tell(b *strings.Builder, terminal bool) {
	l.head(b)
	b.WriteString("\nLook at these first:\n")
	for i, item := range l.look() {
		field(b, fmt.Sprintf("%d %s", i+1, item.Word), item.Text)
	}
	b.WriteString("\n")
	l.picture(b, terminal)
	l.details(b)
}

// details says the rest, a line for each thing.
func (l *surveyed) details(b *strings.Builder) {
	b.WriteString("\nMore of it:\n")
	add := func(word, text string) {
		if text != "" {
			field(b, word, text)
		}
	}
	add("clef", l.Clef)
	add("length", l.lengthWords())
	add("sections", l.sectionWords())
	add("words", wordsAt(l.Words))
	add("dynamics", dynamics(l.Page))
	add("unsigned", strings.Join(l.unsigned(), "; "))
	add("outside", l.accidentalWords())
	if l.Graces.Count > 0 {
		add("grace", fmt.Sprintf("%s in %s", count(l.Graces.Count, "grace note"), numbers(l.Graces.Measures)))
	}
	add("range", l.rangeWords())
	add("rests", l.restWords())
	add("leap", widestLeap(l.Page))
	for _, w := range l.Left {
		add("but", w)
	}
	l.tellTraps(b)
	l.tellFigures(b)
}

func wordsAt(list []survey.Word) string {
	var all []string
	for _, w := range list {
		all = append(all, fmt.Sprintf("%s: %s", measureWords(w.Measure), w.Text))
	}
	return few(all, 8)
}

func (l *surveyed) sectionWords() string {
	if len(l.Form.Sections) < 2 {
		return ""
	}
	var all []string
	for _, s := range l.Form.Sections {
		words := s.Stretch.String()
		if s.Letter != "" {
			words = s.Letter + " " + words
		}
		if s.Repeated {
			words += ", repeated"
		}
		if s.Endings {
			words += " with endings"
		}
		all = append(all, words)
	}
	return few(all, 12)
}

// trapsTold is how many traps of a kind are told before the rest is only counted.
const trapsTold = 4

func (l *surveyed) tellTraps(b *strings.Builder) {
	if len(l.Traps) == 0 {
		return
	}
	b.WriteString("\nWhat misleads:\n")
	told, left := map[string]int{}, map[string][]int{}
	var kinds []string
	for _, t := range l.Traps {
		if told[t.Kind]++; told[t.Kind] > trapsTold {
			if left[t.Kind] == nil {
				kinds = append(kinds, t.Kind)
			}
			left[t.Kind] = append(left[t.Kind], t.Measure)
			continue
		}
		field(b, measureField(t.Measure), t.Words)
	}
	for _, kind := range kinds {
		field(b, "more", fmt.Sprintf("%s: %s", kind, numbers(slices.Compact(left[kind]))))
	}
}

func measureField(n int) string {
	if n == 0 {
		return "upbeat"
	}
	return fmt.Sprintf("in %d", n)
}

// figuresTold is how many figures are told.
const figuresTold = 10

// tellFigures tells the new figures, most frequent first, in words and music.
func (l *surveyed) tellFigures(b *strings.Builder) {
	var fresh []survey.Figure
	for _, f := range l.Vocabulary.Figures {
		if !f.Known && len(f.Pitches) > 1 {
			fresh = append(fresh, f)
		}
	}
	if len(fresh) == 0 {
		return
	}
	b.WriteString("\nFigures that are new to you, most frequent first:\n")
	for i, f := range fresh {
		if i == figuresTold {
			field(b, "", fmt.Sprintf("and %d more", len(fresh)-i))
			break
		}
		field(b, count(f.Count, "time"), fmt.Sprintf("%s: %s (%s) in %s", f.Words, strings.Join(f.Pitches, " "), f.Rhythm, numbers(f.Measures)))
	}
}

// blocks are steps of load, for a terminal and for elsewhere.
var (
	blocks = []rune("▁▂▃▄▅▆▇█")
	digits = []rune("12345678")
)

// picture draws the load of each measure in a line of columns, over a line of measure
// numbers. Of a long part several measures share a column, which shows the heaviest.
func (l *surveyed) picture(b *strings.Builder, terminal bool) {
	steps, words := digits, "load of each measure, 1 the lightest to 8 the heaviest"
	if terminal {
		steps, words = blocks, "load of each measure"
	}
	width := lineWidth - fieldWidth
	each := (len(l.Load) + width - 1) / width
	if each > 1 {
		words = strings.Replace(words, "each measure", fmt.Sprintf("each %d measures", each), 1)
	}
	least := l.Heaviest.Load
	for _, m := range l.Load {
		if m.Load > 0 {
			least = min(least, m.Load)
		}
	}
	var bars []rune
	var ruler strings.Builder
	for i := 0; i < len(l.Load); i += each {
		top := 0.0
		for _, m := range l.Load[i:min(i+each, len(l.Load))] {
			top = max(top, m.Load)
		}
		step := 0
		if wide := l.Heaviest.Load - least; wide > 0 {
			step = min(int((top-least)/wide*float64(len(steps))), len(steps)-1)
		}
		if top == 0 {
			bars = append(bars, ' ')
		} else {
			bars = append(bars, steps[step])
		}
		if col := i / each; col%10 == 0 && ruler.Len() <= col {
			fmt.Fprintf(&ruler, "%s%d", strings.Repeat(" ", col-ruler.Len()), l.Load[i].Measure)
		}
	}
	field(b, "load", fmt.Sprintf("%s, most %.1f figures a second", words, l.Heaviest.Load))
	fmt.Fprintf(b, "%-*s%s\n%-*s%s\n", fieldWidth, "", string(bars), fieldWidth, "measure", strings.TrimRight(ruler.String(), " "))
}

// A surveyDocument is the survey for other programs.
type surveyDocument struct {
	File string `json:"file"`
	*survey.Survey
	Look     []lookItem           `json:"look"`
	Drilled  []string             `json:"drilled"` // what counts as known
	Prepared *preparationDocument `json:"prepared,omitempty"`
}

func (l *surveyed) document(p *preparation) surveyDocument {
	return surveyDocument{l.piece.file, l.Survey, l.look(), append([]string{}, l.names...), p.document()}
}
