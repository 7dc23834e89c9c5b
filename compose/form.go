package compose

import (
	"math"
	"math/rand/v2"
	"slices"

	"onward/compose/idiom"
	"onward/rhythm"
	"onward/styles"
	"onward/theory"
)

// phraseLength is how many measures a phrase has.
const phraseLength = 4

// A section of a piece in the making: its body, and its two endings where it has them.
type section struct {
	styles.Section
	key     theory.Key // written
	concert theory.Key
	plan    *idiom.Form // what it is made by; nil for one that is played again
	class   int         // of its rhythms
	base    int         // the staff position of the tonic that the plan's steps count from
	phrases []*phrase
	lead    *bar     // the pickup that opens the section, nil for none
	bars    []*bar   // the body's measures; with endings, the second ending is the last
	ending  *bar     // the first ending, nil for none
	of      *section // played again as a whole
	from    *section // that it opens like
	start   int64    // of its first measure on the page, in ticks
}

// A phrase of a section in the making.
type phrase struct {
	letter          string // phrases of one letter open alike
	cadence         string // "half", "open", "close" or "on" (runs on)
	first, measures int    // in the section's bars
}

// A bar is one measure in the making.
type bar struct {
	idiom.Measure
	key    theory.Key // written
	chords []spell
	cells  []laid
	rhythm int // of the rhythms that were learned, idiom.None for none of them
	into   int // ticks of it that the last note of the bar before is held, tied over
	over   int // ticks that its last note lasts beyond the barline
	phrase *phrase
	place  int // in the phrase; see idiom.PlaceOf
	// source is the bar that this one takes up as its Kind says; nil for none.
	source *bar
	slots  []*slot
	// pickup is where, after a cadence, the next phrase sets in; 0 if it waits for the
	// barline.
	pickup rhythm.Offset
}

// A spell is a chord that holds from at on.
type spell struct {
	at    rhythm.Offset
	chord theory.Chord // written
}

// A laid cell begins at a measure offset.
type laid struct {
	cell *rhythm.Cell
	at   rhythm.Offset
}

// chordAt reports the chord in force at a measure offset.
func (b *bar) chordAt(at rhythm.Offset) theory.Chord {
	c := b.chords[0].chord
	for _, s := range b.chords {
		if s.at <= at {
			c = s.chord
		}
	}
	return c
}

// form lays out sections and phrases by forms of real tunes.
func (p *piece) form() error {
	rng := stream(p.req.Seed, "form"+primes(p.try))
	plan, err := p.sectionPlan()
	if err != nil {
		return err
	}
	total := 0
	byName := map[string]*section{}
	for _, s := range plan {
		s.Dynamic, s.Again = p.tempered(s.Dynamic), p.tempered(s.Again)
		sec := &section{Section: s, concert: p.sectionKey(s.Key), of: byName[s.Of], from: byName[s.From]}
		sec.key = p.written(sec.concert)
		if sec.of != nil {
			sec.key, sec.concert, sec.plan, sec.class, sec.base = sec.of.key, sec.of.concert, sec.of.plan, sec.of.class, sec.of.base
		} else if err := p.drawPlan(rng, sec); err != nil {
			return err
		}
		if err := p.lay(rng, sec); err != nil {
			return err
		}
		byName[s.Name] = sec
		p.sections = append(p.sections, sec)
		total += len(sec.bars)
	}
	if low, high := p.rung.Measures[0], p.rung.Measures[1]; total < low || total > high {
		return refuse("%d measures: rung %d has reads of %d to %d", total, p.req.Rung, low, high)
	}
	return nil
}

// shortWind is how many seconds a breath lasts at mf, at most, on instruments whose
// pages are written a step softer, so that there is wind for more than a measure.
const shortWind = 3

// tempered keeps a dynamic between p and f where the rung has no extremes yet, and a
// step softer where the instrument takes much wind.
func (p *piece) tempered(mark string) string {
	if p.req.Instrument.Breath[1] < shortWind {
		if i := loudness(mark); i > loudness("p") {
			mark = dynamicMarks[i-1]
		}
	}
	if p.bounds.Marks["extremes"] {
		return mark
	}
	switch mark {
	case "ff":
		return "f"
	case "pp":
		return "p"
	}
	return mark
}

// sectionPlan takes the form's sections, or makes one of the length asked.
func (p *piece) sectionPlan() ([]styles.Section, error) {
	name := p.req.Form
	if p.req.Measures == 0 {
		if name == "" {
			name = "snippet"
		}
		f, err := p.req.Style.Form(name)
		if err != nil {
			return nil, refuse("%v", err)
		}
		return f.Sections, nil
	}
	if name != "" {
		return nil, refuse("give --form or --measures, not both")
	}
	if n := p.req.Measures; n < phraseLength || n > 64 {
		return nil, refuse("%d measures: ask for 4 to 64", n)
	}
	base := p.req.Style.Forms[0].Sections[0]
	base.Repeat, base.Endings, base.Measures = false, false, p.req.Measures
	return []styles.Section{base}, nil
}

// sectionKey reports the concert key of a section: the trio's subdominant only where
// the rung has that key.
func (p *piece) sectionKey(name string) theory.Key {
	k := p.home
	switch name {
	case "subdominant":
		k = p.home.Subdominant()
		if p.home.Mode == theory.Minor { // a minor march's trio is in the relative major
			k = p.home.Relative()
		}
	case "dominant":
		k = p.home.Dominant()
	case "relative":
		k = p.home.Relative()
	}
	if !slices.Contains(p.bounds.Keys, k) {
		k = p.home
	}
	return k
}

// How much rarer a form is drawn for each step that its compass goes beyond the range, one
// whose mode is not the section's, and one whose close is weak. Set by hand.
const (
	stepBeyond = 0.45
	otherMode  = 0.002
	peaksLate  = 4   // as strains of bands do, times as often
	noAnswer   = 0.3 // nothing in measures 3 to 6 takes up the first two
	copies     = 0.1 // its second half is its first again
	noDominant = 0.3 // closes without the dominant ahead of its last measure
)

// bandly is the share of sections with the rhythms of bands, whatever their form. Set by hand.
const bandly = 0.6

// drawPlan draws the form of a real tune that the section is made by: of its length and
// mode, one that closes where the section does, and whose compass the range has.
func (p *piece) drawPlan(rng *rand.Rand, s *section) error {
	if s.from != nil {
		s.plan, s.class, s.base = s.from.plan, s.from.class, s.from.base
		return nil
	}
	forms := p.formsFor(s)
	bases := make([]int, len(forms))
	i := draw(rng, len(forms), func(i int) float64 {
		beyond := 0
		bases[i], beyond = p.settleBase(s.key, forms[i])
		w := float64(max(1, forms[i].Weight)) * math.Pow(stepBeyond, float64(beyond))
		if n := len(forms[i].Measures); s.Ends == "" && forms[i].Measures[n-2].Chord != idiom.V {
			w *= noDominant
		}
		if forms[i].PeaksLate() {
			w *= peaksLate
		}
		if !forms[i].Answers() {
			w *= noAnswer
		}
		if forms[i].Copies() {
			w *= copies
		}
		if forms[i].Minor != (s.key.Mode == theory.Minor) {
			w *= otherMode
		}
		return even(w)
	})
	if i < 0 {
		return refuse("no form of %d measures is known in %s; take another length or meter", s.Measures, p.meter)
	}
	s.plan, s.class, s.base = forms[i], forms[i].Class, bases[i]
	if p.learned.Band != idiom.None && rng.Float64() < bandly {
		s.class = p.learned.Band
	}
	return nil
}

// formsFor lists the forms that a section may be made by, cut or joined to its length.
func (p *piece) formsFor(s *section) []*idiom.Form {
	key := formsKey{p.learned.Meter, s.Measures, s.Ends}
	if known, ok := p.world.forms.load(key); ok {
		return known
	}
	var out, fitted []*idiom.Form
	for i := range p.learned.Forms {
		f := &p.learned.Forms[i]
		if f.Measures[len(f.Measures)-1].Silent { // it leaves room for a pickup that a section here has not
			continue
		}
		if fit := f.Fit(s.Measures); fit == f && f.Closes() == (s.Ends == "") {
			out = append(out, f)
		} else if fit != nil && fit.Closes() == (s.Ends == "") {
			fitted = append(fitted, fit)
		}
	}
	if len(out) < enoughForms { // of its own length there are too few
		out = append(out, fitted...)
	}
	if len(out) == 0 { // none ends so: one that closes is led elsewhere at its end
		for i := range p.learned.Forms {
			if fit := p.learned.Forms[i].Fit(s.Measures); fit != nil {
				out = append(out, fit.Ending(s.Ends == ""))
			}
		}
	}
	p.world.forms.store(key, out)
	return out
}

// settleBase reports where the tonic that a form's steps count from lies best, as a staff
// position, and how many steps of the compass are then beyond the range.
func (p *piece) settleBase(key theory.Key, f *idiom.Form) (base, beyond int) {
	low, high := p.low.Step(), p.high.Step()
	tonic, best := int(key.Tonic().Letter), 1000
	for t := tonic; t <= high+7; t += 7 {
		out := max(0, low-(t+f.Low)) + max(0, t+f.High-high)
		if out < best {
			base, best = t, out
		}
	}
	return base, best
}

// lay makes the section's phrases and empty bars.
func (p *piece) lay(rng *rand.Rand, s *section) error {
	n := len(s.plan.Measures)
	for i := range n {
		b := &bar{Measure: s.plan.Measures[i], key: s.key, place: idiom.PlaceOf(i, n)}
		if i%phraseLength == 0 && (n-i >= 3 || i == 0) {
			s.phrases = append(s.phrases, &phrase{first: i})
		}
		if i == n-1 && s.of == nil {
			b.ends(s)
		}
		b.phrase = s.phrases[len(s.phrases)-1]
		b.phrase.measures++
		if b.Kind != idiom.New {
			b.source = s.bars[b.Source]
		}
		chord, err := p.numeral(s, b, i)
		if err != nil {
			return err
		}
		b.chords = []spell{{0, chord}}
		if b.Kind == idiom.Same && i < n-1 { // the same notes, so the same chord
			b.Chord, b.chords = b.source.Chord, b.source.chords
		}
		if i == n-2 && s.Ends == "" && b.Chord == idiom.I && s.of == nil {
			p.prepareClose(s, b)
		}
		s.bars = append(s.bars, b)
	}
	if s.of != nil {
		for i, b := range s.bars {
			b.Kind, b.source, b.Chord, b.chords = idiom.Same, s.of.bars[i], s.of.bars[i].Chord, s.of.bars[i].chords
		}
	} else if s.from == nil {
		p.applyDominants(rng, s)
	}
	if s.from != nil {
		s.openLike(s.from)
	}
	s.nameHalves()
	if s.Endings && s.of == nil {
		s.ending = p.firstEnding(s)
	}
	return nil
}

// prepareClose gives the second half of the bar ahead of a close the dominant, where the form
// has the tonic in all of it: forms have one chord a measure.
func (p *piece) prepareClose(s *section, b *bar) {
	if v, err := s.key.Numeral("V7"); err == nil && p.half() != 0 {
		b.chords = append(b.chords, spell{p.half(), v})
	}
}

// appliedRungs is the rung from which dominants of other degrees than the tonic stand.
const appliedRungs = 8

// appliedChance is how often a chord ahead of the dominant, or the tonic ahead of the
// subdominant, is the applied dominant. Set by hand, near what songs and strains have.
const appliedChance = 0.4

// applyDominants gives some bars the dominant of the chord that follows: of the dominant, where
// a half cadence or the supertonic is ahead of it, and of the subdominant. Bars that take up
// their notes have the same chord, so the same must follow them.
func (p *piece) applyDominants(rng *rand.Rand, s *section) {
	if p.req.Rung < appliedRungs || s.key.Mode == theory.Minor {
		return
	}
	for i, b := range s.bars[:len(s.bars)-1] {
		to, name := s.bars[i+1].Chord, ""
		switch {
		case b.Kind == idiom.Same || len(b.chords) > 1:
		case to == idiom.V && (b.Chord == idiom.II || b.Chord == idiom.V && i%phraseLength == phraseLength-2):
			name = "V7/V"
		case to == idiom.IV && b.Chord == idiom.I && i > 0:
			name = "V7/IV"
		}
		if name == "" || rng.Float64() >= appliedChance {
			continue
		}
		alike := []*bar{b}
		for j, o := range s.bars {
			if o.Kind == idiom.Same && o.source == b {
				if j == len(s.bars)-1 || s.bars[j+1].Chord != to || len(o.chords) > 1 {
					alike = nil
					break
				}
				alike = append(alike, o)
			}
		}
		if chord, err := s.key.Numeral(name); err == nil {
			for _, o := range alike {
				o.chords = []spell{{0, chord}}
			}
		}
	}
}

// ends makes the bar one that ends its section: new, heard, on the tonic or the dominant.
func (b *bar) ends(s *section) {
	b.Kind, b.Silent = idiom.New, false
	if s.Ends == "" {
		b.Chord, b.End = idiom.I, 0
	} else if b.Chord != idiom.V || b.End == idiom.None {
		b.Chord, b.End = idiom.V, 4
	}
}

// openLike lets the section be the other one's notes up to the measure before its last
// phrase closes, and end otherwise.
func (s *section) openLike(other *section) {
	for i, b := range s.bars[:len(s.bars)-phraseLength/2] {
		b.Kind, b.source, b.Chord, b.chords = idiom.Same, other.bars[i], other.bars[i].Chord, other.bars[i].chords
	}
	for _, b := range s.bars[len(s.bars)-phraseLength/2:] {
		b.Kind, b.source = idiom.New, nil
	}
}

// nameHalves gives the phrases their letters and cadences.
func (s *section) nameHalves() {
	for k, ph := range s.phrases {
		head, last := s.bars[ph.first], s.bars[ph.first+ph.measures-1]
		ph.letter = string(rune('a' + k%26))
		if head.source != nil && head.Kind <= idiom.Head {
			for _, o := range s.phrases[:k] {
				if s.bars[o.first] == head.source {
					ph.letter = o.letter
				}
			}
		}
		dominant := last.Chord == idiom.V
		switch final := k == len(s.phrases)-1; {
		case final && s.Ends == "":
			ph.cadence = "close"
		case last.End == idiom.None && !final:
			ph.cadence = "on"
		case dominant:
			ph.cadence = "half"
		default:
			ph.cadence = "open"
		}
	}
}

// numerals are the chords of forms in major and minor, and what stands for them on rungs
// whose harmony is too low for them.
var numerals = [2][5]string{{"I", "V7", "IV", "ii", "vi"}, {"i", "V7", "iv", "iio", "VI"}}

// plainHarmony and richHarmony are the levels of harmony from which ii and vi stand.
const (
	plainHarmony = 2
	richHarmony  = 3
)

// numeral reports the chord of the section's measure i.
func (p *piece) numeral(s *section, b *bar, i int) (theory.Chord, error) {
	n, measures := b.Chord, s.plan.Measures
	switch {
	case n == idiom.II && p.rung.Harmony < plainHarmony:
		n = idiom.IV
	case n == idiom.VI && p.rung.Harmony < richHarmony:
		n = idiom.I
	}
	name := numerals[s.key.Mode][n]
	if last := i == len(measures)-1; n == idiom.V && (last || i%phraseLength == phraseLength-1 && measures[i+1].Chord != idiom.V) {
		name = "V"
	}
	return s.key.Numeral(name)
}

// half reports where a measure divides for a second chord; 0 if it does not.
func (p *piece) half() rhythm.Offset {
	beat := rhythm.Offset(p.meter.Beat())
	switch p.meter.Count() {
	case 2:
		return beat
	case 3, 4:
		return 2 * beat
	case 5:
		return 3 * beat
	}
	return 0
}

// firstEnding makes the measure that leads back: the tonic, or the dominant on its
// second half where the measure divides.
func (p *piece) firstEnding(s *section) *bar {
	last := s.bars[len(s.bars)-1]
	b := &bar{Measure: last.Measure, phrase: last.phrase, key: s.key, place: last.place, chords: append([]spell{}, last.chords...)}
	b.Kind, b.source = idiom.New, nil
	if at := p.half(); at != 0 && p.rung.Harmony >= 2 {
		if v, err := s.key.Numeral("V7"); err == nil {
			b.chords = append(b.chords[:1:1], spell{at, v})
		}
	}
	return b
}
