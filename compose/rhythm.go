package compose

import (
	"math/rand/v2"
	"slices"
	"strings"

	"onward/rhythm"
	"onward/styles"
)

// patterns are the ways a new phrase's measures answer each other: equal letters are
// equal in rhythm, with ~ a sequence of the earlier one, with = the same if the chords are
// (else a sequence); c stands for the cadence. Real
// marches repeat the measure before only one time in eight (counted in seven solo cornet
// parts).
var patterns = []struct {
	text   string
	weight float64
}{
	{"x y x~ c", 3}, {"x y x= c", 1}, {"x y x c", 1}, {"x y z c", 3}, {"x x~ y c", 1.2}, {"x x= y c", 0.4}, {"x y y~ c", 0.8}, {"x x y c", 0.3},
}

// patternWeight is how gladly the style's phrases go as pattern i does.
func (p *piece) patternWeight(i int) float64 {
	w := patterns[i].weight
	if a := p.req.Style.Rhythm.Answer; a > 0 && strings.HasPrefix(patterns[i].text, "x y x") {
		w *= a
	}
	return w
}

// rhythms gives every bar its cells.
func (p *piece) rhythms() error {
	rng := stream(p.req.Seed, "rhythm"+strings.Repeat("'", p.try))
	st := p.newStock()
	var motto *bar
	for _, s := range p.sections {
		onsets := p.onsets * s.Energy
		w := p.sectionWeights(rng, st, onsets)
		if s.of != nil {
			p.repeatSection(s)
		} else {
			up := p.upbeat(rng, st, w.calm)
			for _, ph := range s.phrases {
				if err := p.phraseRhythm(rng, st, w.of(ph, s), s, ph, motto, up); err != nil {
					return err
				}
				if motto == nil {
					motto = s.bars[0]
				}
			}
			if s == p.sections[0] && (!s.Repeat || s.Endings) && rng.Float64() < p.req.Style.Rhythm.Lead {
				p.leadIn(s, up)
			}
		}
		if s.ending != nil {
			if err := p.leadBack(rng, st, w.calm, s); err != nil {
				return err
			}
		}
		if s.Stinger {
			p.sting(st, s)
		}
	}
	return nil
}

// A pace is the weights of a section's cells: for its first phrase and what takes that up,
// and for the others.
type pace struct{ calm, busy []float64 }

// of reports the weights for one phrase of the section.
func (w pace) of(ph *phrase, s *section) []float64 {
	if ph.Letter == s.phrases[0].Letter {
		return w.calm
	}
	return w.busy
}

// bringing reports the phrase of the first section that is to bring what is new: its first,
// or where that is calm the first of other material; nil for other sections.
func (p *piece) bringing(s *section) *phrase {
	if s != p.sections[0] {
		return nil
	}
	for _, ph := range s.phrases {
		if p.req.Style.Rhythm.Calm > 0 && ph.Letter != s.phrases[0].Letter {
			return ph
		}
	}
	return s.phrases[0]
}

// sectionWeights draws the cells of a section: a tune that begins with its song and moves
// after it is known, where the style asks for that.
func (p *piece) sectionWeights(rng *rand.Rand, st *stock, onsets float64) pace {
	likes := p.req.Style.Rhythm
	if likes.Calm == 0 || p.drilled != nil {
		w := st.palette(rng, st.weights(onsets, p.tilt), likes.Palette, likes.Stray)
		return pace{w, w}
	}
	calm := st.weights(onsets*likes.Calm, p.tilt)
	for i, c := range st.cells {
		if st.fresh[i] > 0 && p.bringing(p.sections[0]) == p.sections[0].phrases[0] {
			continue
		}
		if divides(c) != inHalves || c.Onsets() >= manyNotes && !p.dwells([]laid{{c, 0}}) {
			calm[i] *= quickInCalm
		}
	}
	return pace{
		st.palette(rng, calm, likes.Palette, likes.Stray),
		st.palette(rng, st.weights(onsets*(2-likes.Calm), p.tilt), likes.Palette, likes.Stray),
	}
}

// quickInCalm is how much rarer cells are that divide the beat further, or have many notes
// and none of a beat, in the phrase that a section begins with.
const quickInCalm = 0.15

// repeatSection makes every bar of s the same as that of the section it plays again.
func (p *piece) repeatSection(s *section) {
	for i, b := range s.bars {
		b.cells, b.same, b.pickup = s.of.bars[i].cells, s.of.bars[i], s.of.bars[i].pickup
	}
}

// phraseRhythm fills the bars of one phrase.
func (p *piece) phraseRhythm(rng *rand.Rand, st *stock, w []float64, s *section, ph *phrase, motto *bar, up []laid) error {
	bars := s.bars[ph.first : ph.first+ph.measures]
	done := 0
	if ph.source != nil {
		done = p.takeUp(bars, ph.source.bars, ph, s.bars[len(s.bars)-1])
	}
	pattern := strings.Fields(patterns[draw(rng, len(patterns), p.patternWeight)].text)
	if ph.Return == styles.Head {
		pattern = strings.Fields("x x y c")
	}
	pattern = pattern[max(0, len(pattern)-len(bars)):] // a short phrase has its end
	for i := done; i < len(bars); i++ {
		b := bars[i]
		if b.cells != nil {
			continue
		}
		if s.Character == "break" && i >= 2 && ph != s.phrases[len(s.phrases)-1] {
			p.yield(st, b, i == 2)
			continue
		}
		if i == len(bars)-1 && ph.Cadence != "on" {
			if err := p.cadence(rng, st, w, b); err != nil {
				return err
			}
			if ph != s.phrases[len(s.phrases)-1] && rng.Float64() < p.req.Style.Rhythm.Pickup {
				p.pickup(st, b, up)
			}
			continue
		}
		p.newBar(rng, st, w, s, bars, i, pattern, motto)
		if b.cells == nil {
			return refuse("no rhythm of rung %d fills a measure of %s; take another meter or a higher rung", p.req.Rung, p.meter)
		}
	}
	return nil
}

// takeUp copies what a returning phrase keeps of its source, and reports how many
// bars are done with. last is the section's last bar.
func (p *piece) takeUp(bars, source []*bar, ph *phrase, last *bar) int {
	if ph.Return == styles.Head {
		head := source[0]
		for i := 0; i < 2 && i < len(bars)-1; i++ {
			if p.mayCopy(bars[i], head) { // the second moves on from the first
				bars[i].cells, bars[i].like = head.cells, head
				head = bars[i]
			}
		}
		return 0
	}
	if ph.Return == styles.Alike {
		for i := 0; i < len(bars)-1 && i < len(source)-1; i++ {
			if p.mayCopy(bars[i], source[i]) {
				bars[i].cells, bars[i].like = source[i].cells, source[i]
			}
		}
		return 0
	}
	keep := ph.keeps()
	for i := range keep {
		if source[i].pickup > 0 && bars[i] == last { // nothing comes for the pickup to lead to
			return i
		}
		bars[i].cells, bars[i].same, bars[i].pickup = source[i].cells, source[i], source[i].pickup
	}
	return keep
}

// mayCopy reports whether a bar's chords change where the source's cells let them.
func (p *piece) mayCopy(b, source *bar) bool {
	if !p.carries(b, source.cells) {
		return false
	}
	for _, s := range b.chords[1:] {
		ok := false
		for _, c := range source.cells {
			ok = ok || c.at == s.at
		}
		if !ok {
			return false
		}
	}
	return true
}

// newBar fills one bar that no plan settles: a pattern's repeat, the motto, or new
// cells unlike the bar before.
func (p *piece) newBar(rng *rand.Rand, st *stock, w []float64, s *section, bars []*bar, i int, pattern []string, motto *bar) {
	b := bars[i]
	at := i - (len(bars) - len(pattern)) // a stretched phrase starts before its pattern
	if at > 0 {
		for j := range at {
			if pattern[j][0] == pattern[at][0] && p.mayCopy(b, bars[i-at+j]) {
				b.cells = bars[i-at+j].cells
				switch {
				case strings.HasSuffix(pattern[at], "=") && slices.Equal(b.chords, bars[i-at+j].chords):
					b.same = bars[i-at+j]
				case len(pattern[at]) > 1:
					b.like = bars[i-at+j]
				}
				return
			}
		}
	}
	if at == 0 && motto != nil && rng.IntN(10) < 3 && p.mayCopy(b, motto) {
		b.cells = motto.cells
		return
	}
	known := p.req.Style.Rhythm.Known
	if b.phrase.Cadence == "close" && b.phrase != s.phrases[0] {
		known = 1 // the last phrase brings nothing new
	}
	if rng.Float64() < known {
		if b.cells = p.knownRhythm(rng, s, bars, i); b.cells != nil {
			return
		}
	}
	wantFresh := i < 2 && b.phrase == p.bringing(s) && st.hasFresh(w)
	wantLong := rng.Float64() < p.req.Style.Rhythm.Long && p.drilled == nil
	for range 24 {
		if b.cells = p.tileBar(rng, st, w, b); b.cells == nil {
			return
		}
		if p.carries(b, b.cells) && (i == 0 || !sameCells(b.cells, bars[i-1].cells)) && (!wantFresh || p.bringsFresh(b.cells)) &&
			!p.dull(b.cells, s.Energy) && !p.rushes(b.cells, s.Energy) && (!wantLong || p.dwells(b.cells)) && !(i == 0 && p.restsFirst(b.cells)) {
			return
		}
	}
	if !p.carries(b, b.cells) {
		b.cells = p.tileBar(rng, st, st.few(w), b)
	}
}

// knownRhythm draws the rhythm of a measure that the section had before, cadences and the
// measure just before left out; nil if there is none that fits.
func (p *piece) knownRhythm(rng *rand.Rand, s *section, bars []*bar, i int) []laid {
	var open [][]laid
	for j, o := range s.bars {
		if o == bars[i] {
			break
		}
		final := j == o.phrase.first+o.phrase.measures-1
		if final || i > 0 && sameCells(o.cells, bars[i-1].cells) || !p.mayCopy(bars[i], o) || i == 0 && p.restsFirst(o.cells) {
			continue
		}
		open = append(open, o.cells)
	}
	if len(open) == 0 {
		return nil
	}
	return open[draw(rng, len(open), func(j int) float64 {
		if bars[i].phrase.Cadence == "close" && i == len(bars)-2 { // it broadens before the end
			return 1 / float64(onsetsOf(open[j]))
		}
		return 1
	})]
}

// onsetsOf counts the notes of a measure's cells, at least 1.
func onsetsOf(cells []laid) int {
	n := 0
	for _, l := range cells {
		n += l.cell.Onsets()
	}
	return max(n, 1)
}

// dwells reports whether a note of the bar lasts a beat or more: what moves quickly needs
// something to move from.
func (p *piece) dwells(cells []laid) bool {
	for _, l := range cells {
		tied := rhythm.Duration(0)
		for _, e := range l.cell.Events {
			if e.Rest {
				continue
			}
			if tied += e.Value.Duration(); tied >= p.meter.Beat() {
				return true
			}
			if !e.Tied {
				tied = 0
			}
		}
	}
	return false
}

// fullRungs is the rung from which a style's measures have their fewest notes.
const fullRungs = 3

// busyRungs is the rung from which bars bear at least two thirds of their notes.
const busyRungs = 8

// dull reports whether a bar inside a phrase has much fewer notes than style and rung give
// it in a section of that energy. What was drilled is not dull.
func (p *piece) dull(cells []laid, energy float64) bool {
	if p.drilled != nil {
		return false
	}
	n := 0
	for _, l := range cells {
		n += l.cell.Onsets()
	}
	least := 0.6
	if p.req.Rung >= busyRungs {
		least = 0.65
	}
	return float64(n) < least*p.onsets*min(energy, 1) || n < p.req.Style.Rhythm.Fewest && p.req.Rung >= fullRungs
}

// rushes reports whether a bar has more than twice the notes that style and rung give it in
// a section of that energy: notes so fast grow out of nothing. What was drilled does not rush.
func (p *piece) rushes(cells []laid, energy float64) bool {
	return p.drilled == nil && float64(onsetsOf(cells)) > 2*p.onsets*energy
}

// restOpens is the rung from which a phrase may open on a rest.
const restOpens = 8

// restsFirst reports whether the bar begins with a rest where the style or the rung has
// no phrase open on one.
func (p *piece) restsFirst(cells []laid) bool {
	return cells[0].cell.Events[0].Rest && p.drilled == nil && (p.req.Style.Rhythm.Rests < 0.1 || p.req.Rung < restOpens)
}

// bringsFresh reports whether a cell of the bar is one that the read is to bring.
func (p *piece) bringsFresh(cells []laid) bool {
	for _, l := range cells {
		if p.bounds.FreshCells[l.cell.Name] {
			return true
		}
	}
	return false
}

// fewestLong is how many ways there must be to fill a cell that is nearly a run by itself:
// each is heard but once.
const fewestLong = 40

// manyNotes is from how many notes on a cell is looked at for whether the chord lets
// it carry any shape.
const manyNotes = 5

// carries reports whether every cell of many notes has a shape on the bar's chords.
func (p *piece) carries(b *bar, cells []laid) bool {
	for _, l := range cells {
		if l.cell.Onsets() < manyNotes {
			continue
		}
		sl := p.newSlot(b, l, b.key)
		sl.target = float64(p.low.Step()+p.high.Step()) / 2
		least := 1
		if l.cell.Onsets() >= p.rung.Run-1 {
			least = fewestLong
		}
		if len(p.instances(sl)) < least {
			return false
		}
	}
	return true
}

func sameCells(a, b []laid) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// tileBar draws cells for a measure so that each chord begins with a cell.
func (p *piece) tileBar(rng *rand.Rand, st *stock, w []float64, b *bar) []laid {
	end := rhythm.Offset(p.meter.Measure())
	var out []laid
	for i, s := range b.chords {
		to := end
		if i+1 < len(b.chords) {
			to = b.chords[i+1].at
		}
		part := st.tile(rng, s.at, to, w)
		if part == nil {
			return nil
		}
		out = append(out, part...)
	}
	return out
}

// cadence fills a phrase's last bar: it ends in a note on a strong beat, with
// nothing after it but rest.
func (p *piece) cadence(rng *rand.Rand, st *stock, w []float64, b *bar) error {
	strong := []rhythm.Offset{0}
	if at := p.half(); p.req.Style.Rhythm.Closing >= 1 && at != 0 && p.meter.Count() != 3 && b.phrase.Cadence != "close" {
		strong = append(strong, at)
	}
	at := strong[draw(rng, len(strong), func(i int) float64 { return []float64{3, 1}[i] })]
	if len(b.chords) > 1 {
		at = b.chords[len(b.chords)-1].at
	}
	ways, weights := st.closings(at, p.req.Style.Rhythm.Closing)
	i := draw(rng, len(ways), func(i int) float64 { return weights[i] })
	if i < 0 {
		return refuse("rung %d has no long note to end a phrase on in %s", p.req.Rung, p.meter)
	}
	b.cells = nil
	if at > 0 {
		if b.cells = st.tile(rng, 0, at, w); b.cells == nil {
			return refuse("no rhythm of rung %d leads to a cadence in %s; take another meter or a higher rung", p.req.Rung, p.meter)
		}
	}
	b.cells = append(b.cells, ways[i]...)
	return nil
}

// yield leaves a bar to the band, which answers: after the first of a phrase's bars that
// it leaves, a note on the downbeat, the player rests.
func (p *piece) yield(st *stock, b *bar, strikes bool) {
	end := rhythm.Offset(p.meter.Measure())
	if short := st.shortest(p.half()); strikes && short != nil {
		b.cells = []laid{{short, 0}, {st.rest(p.half(), end), p.half()}}
		return
	}
	b.cells = []laid{{st.rest(0, end), 0}}
}

// shortest reports the cell of one note that lasts from the barline to at and sounds least;
// nil if there is none.
func (st *stock) shortest(at rhythm.Offset) *rhythm.Cell {
	var short *rhythm.Cell
	for _, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && c.Events[0].Grace == 0 && rhythm.Offset(c.Span) == at &&
			(short == nil || sounding(c) < sounding(short)) {
			short = c
		}
	}
	return short
}

// sting ends the section's last bar with the cadence note short and one more short
// note after it.
func (p *piece) sting(st *stock, s *section) {
	last := s.bars[len(s.bars)-1]
	at := p.half()
	short := st.shortest(at)
	if short == nil || at == 0 {
		s.Stinger = false
		return
	}
	last.same = nil
	last.cells = []laid{{short, 0}, {short, at}}
	if end := rhythm.Offset(p.meter.Measure()); end > 2*at {
		last.cells = append(last.cells, laid{st.rest(2*at, end), 2 * at})
	}
}
