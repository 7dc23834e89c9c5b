package compose

import (
	"math/rand/v2"

	"onward/rhythm"
	"onward/styles"
)

// patterns are the ways a new phrase's measures answer each other in rhythm: equal
// letters are equal measures; the last stands for the cadence. Real marches repeat
// the measure before only one time in eight (counted in seven solo cornet parts).
var patterns = []struct {
	text   string
	weight float64
}{
	{"xyxc", 4}, {"xyzc", 3}, {"xxyc", 1}, {"xyyc", 1},
}

// rhythms gives every bar its cells.
func (p *piece) rhythms() error {
	rng := stream(p.req.Seed, "rhythm")
	st := p.newStock()
	var motto *bar
	for _, s := range p.sections {
		onsets := p.sheet.Onsets * p.rung.Onsets * s.Energy
		w := st.palette(rng, st.weights(onsets), p.req.Style.Rhythm.Palette, p.req.Style.Rhythm.Stray)
		if s.of != nil {
			p.repeatSection(s)
		} else {
			for _, ph := range s.phrases {
				if err := p.phraseRhythm(rng, st, w, s, ph, motto); err != nil {
					return err
				}
				if motto == nil {
					motto = s.bars[0]
				}
			}
		}
		if s.ending != nil {
			if err := p.leadBack(rng, st, w, s); err != nil {
				return err
			}
		}
		if s.Stinger {
			p.sting(st, s)
		}
	}
	return nil
}

// repeatSection makes every bar of s the same as that of the section it plays again.
func (p *piece) repeatSection(s *section) {
	for i, b := range s.bars {
		b.cells, b.same, b.pickup = s.of.bars[i].cells, s.of.bars[i], s.of.bars[i].pickup
	}
}

// phraseRhythm fills the bars of one phrase.
func (p *piece) phraseRhythm(rng *rand.Rand, st *stock, w []float64, s *section, ph *phrase, motto *bar) error {
	bars := s.bars[ph.first : ph.first+ph.measures]
	done := 0
	if ph.source != nil {
		done = p.takeUp(bars, s.bars[ph.source.first:ph.source.first+ph.source.measures], ph, s.bars[len(s.bars)-1])
	}
	pattern := patterns[draw(rng, len(patterns), func(i int) float64 { return patterns[i].weight })].text
	pattern = pattern[max(0, len(pattern)-len(bars)):] // a short phrase has its end
	for i := done; i < len(bars); i++ {
		b := bars[i]
		if b.cells != nil {
			continue
		}
		if i == len(bars)-1 && ph.Cadence != "on" {
			if err := p.cadence(rng, st, w, b); err != nil {
				return err
			}
			if ph != s.phrases[len(s.phrases)-1] && rng.Float64() < p.req.Style.Rhythm.Pickup {
				p.pickup(rng, st, w, b)
			}
			continue
		}
		p.newBar(rng, st, w, bars, i, pattern, motto)
		if b.cells == nil {
			return refuse("no rhythm of rung %d fills a measure of %s; take another meter or a higher rung", p.req.Rung, p.meter)
		}
	}
	return nil
}

// takeUp copies what a returning phrase keeps of its source, and reports how many
// bars are done with. last is the section's last bar.
func (p *piece) takeUp(bars, source []*bar, ph *phrase, last *bar) int {
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
func (p *piece) newBar(rng *rand.Rand, st *stock, w []float64, bars []*bar, i int, pattern string, motto *bar) {
	b := bars[i]
	at := i - (len(bars) - len(pattern)) // a stretched phrase starts before its pattern
	if at > 0 {
		for j := range at {
			if pattern[j] == pattern[at] && p.mayCopy(b, bars[i-at+j]) {
				b.cells = bars[i-at+j].cells
				if rng.IntN(2) == 0 {
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
	wantFresh := motto == nil && i < 2 && st.hasFresh(w)
	for range 12 {
		if b.cells = p.tileBar(rng, st, w, b); b.cells == nil {
			return
		}
		if p.carries(b, b.cells) && (i == 0 || !sameCells(b.cells, bars[i-1].cells)) && (!wantFresh || p.bringsFresh(b.cells)) &&
			!p.dull(b.cells) && !(i == 0 && p.restsFirst(b.cells)) {
			return
		}
	}
	if !p.carries(b, b.cells) {
		b.cells = p.tileBar(rng, st, st.few(w), b)
	}
}

// busyRungs is the rung from which bars bear at least two thirds of their notes.
const busyRungs = 8

// dull reports whether a bar inside a phrase has less than half of the notes that the
// style and rung give it. What was drilled is not dull.
func (p *piece) dull(cells []laid) bool {
	if p.drilled != nil {
		return false
	}
	n := 0
	for _, l := range cells {
		n += l.cell.Onsets()
	}
	least := 0.5
	if p.req.Rung >= busyRungs {
		least = 0.65
	}
	return float64(n) < least*p.sheet.Onsets*p.rung.Onsets
}

// restOpens is the rung from which a phrase may open on a rest.
const restOpens = 8

// restsFirst reports whether the bar begins with a rest where the style or the rung has
// no phrase open on one.
func (p *piece) restsFirst(cells []laid) bool {
	return cells[0].cell.Events[0].Rest && (p.req.Style.Rhythm.Rests < 0.1 || p.req.Rung < restOpens)
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
		if len(p.instances(sl)) == 0 {
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

// pickup lets the next phrase set in on the last beat of a cadence's bar, if the
// cadence's note began well before.
func (p *piece) pickup(rng *rand.Rand, st *stock, w []float64, b *bar) {
	end := rhythm.Offset(p.meter.Measure())
	at := end - rhythm.Offset(p.meter.Beat())
	final := b.cells[len(b.cells)-1]
	for _, l := range b.cells {
		if l.cell.Onsets() > 0 {
			final = l
		}
	}
	if p.meter.Count() < 2 || final.at >= at {
		return
	}
	lead := st.tile(rng, at, end, w)
	held := st.holding(final.at, at)
	if lead == nil || held == nil {
		return
	}
	var cells []laid
	for _, l := range b.cells {
		if l.at < final.at {
			cells = append(cells, l)
		}
	}
	cells = append(append(cells, laid{held, final.at}), lead...)
	if p.carries(b, cells) {
		b.cells, b.pickup = cells, at
	}
}

// leadBack fills the first ending: the cadence note, then notes that lead to the
// strain's start.
func (p *piece) leadBack(rng *rand.Rand, st *stock, w []float64, s *section) error {
	b := s.ending
	at := p.half()
	if at == 0 || len(b.chords) < 2 {
		b.cells = s.bars[len(s.bars)-1].cells
		return nil
	}
	end := rhythm.Offset(p.meter.Measure())
	var first []laid
	for i, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && rhythm.Offset(c.Span) == at && st.mayStart(c, 0) && st.wanted[i] > 0 {
			first = []laid{{c, 0}}
			break
		}
	}
	second := st.tile(rng, at, end, w)
	if first == nil || second == nil {
		b.chords = b.chords[:1]
		b.cells = s.bars[len(s.bars)-1].cells
		return nil
	}
	b.cells = append(first, second...)
	return nil
}

// sting ends the section's last bar with the cadence note short and one more short
// note after it.
func (p *piece) sting(st *stock, s *section) {
	last := s.bars[len(s.bars)-1]
	at := p.half()
	var short *rhythm.Cell
	for _, c := range st.cells {
		if c.Onsets() == 1 && !c.Events[0].Rest && c.Events[0].Grace == 0 && rhythm.Offset(c.Span) == at &&
			(short == nil || sounding(c) < sounding(short)) {
			short = c
		}
	}
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
