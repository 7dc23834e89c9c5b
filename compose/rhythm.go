package compose

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"onward/compose/idiom"
	"onward/rhythm"
)

// primes marks the stream of a draw that is made again.
func primes(times int) string { return strings.Repeat("'", times) }

// rhythms gives every bar its cells: the rhythms of real measures, each as likely as it is
// after the one before in its place, as far as the cells of rung and player say them.
func (p *piece) rhythms() error {
	rng := stream(p.req.Seed, "rhythm"+primes(p.try))
	m := p.newRhythms(rng)
	for _, s := range p.sections {
		if s.of == nil {
			if s == p.sections[0] && (!s.Repeat || s.Endings) {
				p.leadIn(m.stock, s)
			}
			if err := p.sectionRhythm(rng, m, s); err != nil {
				return err
			}
		}
		for i, b := range s.bars {
			if s.of != nil {
				b.cells, b.pickup, b.into = b.source.cells, b.source.pickup, b.source.into
			} else if i%phraseLength == phraseLength-1 && i < len(s.bars)-1 {
				b.pickup = p.pickupOf(b)
			}
		}
		if s.ending != nil {
			p.leadBack(rng, m.stock, s)
		}
		if s.Stinger {
			p.sting(m.stock, s)
		}
	}
	return nil
}

// A written is the rhythm of a measure as the stock writes it.
type written struct {
	cells  []laid
	index  int // of the rhythm that was learned, idiom.None for one made of cells
	onsets int
	over   int      // ticks that the last note lasts beyond the barline
	wanted float64  // how much likelier than others, by vocabulary, aims and what is fresh
	fresh  bool     // it has a cell that the read is to bring
	beats  []string // what stands on each of its beats
	inside int      // rests before its last note, one on the downbeat twice
	ahead  int      // the same, but for one before the notes that lead on, after a long one
}

// A rhythmBook is the rhythms that a piece's measures may have.
type rhythmBook struct {
	*stock
	p        *piece
	bring    *bar              // gets a cell that the read is to bring; nil for none
	graceful bool              // the grace notes that the read is to bring stand
	tiled    []written         // made of cells
	plain    map[int][]written // of the rhythms learned, by how many ticks are held over

}

// tilings is how many measures are made of cells where no rhythms were learned, tilesBeside
// how many beside those learned, for what those do not have.
const (
	tilings     = 24
	tilesBeside = 12
)

func (p *piece) newRhythms(rng *rand.Rand) *rhythmBook {
	m := &rhythmBook{stock: p.newStock(), p: p, plain: map[int][]written{}}
	end := rhythm.Offset(p.meter.Measure())
	n := tilesBeside
	if len(p.learned.Rhythms) == 0 || !p.learned.exact || p.drilled != nil {
		n = tilings
	}
	add := func(weights []float64) {
		if cells := m.tile(rng, 0, end, weights); cells != nil {
			m.tiled = append(m.tiled, m.write(cells, idiom.None, 0))
		}
	}
	for range n {
		add(m.weight)
	}
	bring := slices.Clone(m.weight)
	for i := range bring {
		if m.fresh[i] {
			bring[i] *= 1e4
		}
	}
	for range n / 2 {
		add(bring)
	}
	return m
}

// write notes what the cells are.
func (m *rhythmBook) write(cells []laid, index, over int) written {
	w := written{cells: cells, index: index, over: over, wanted: 1}
	for _, l := range cells {
		w.onsets += l.cell.Onsets()
		if i := slices.Index(m.cells, l.cell); i >= 0 {
			w.wanted *= m.wanted[i]
			w.fresh = w.fresh || m.fresh[i]
		}
	}
	w.wanted = even(w.wanted)
	w.beats = m.p.beats(cells)
	w.inside, w.ahead = m.p.restsInside(cells)
	return w
}

// restsInside counts the rests of a measure that notes follow, one on the downbeat twice, and
// how many of them are no breath: a breath comes after a note of a beat.
func (p *piece) restsInside(cells []laid) (all, noBreath int) {
	var line []sound
	for _, l := range cells {
		line = append(line, sounds(l.cell, l.at)...)
	}
	for len(line) > 0 && line[len(line)-1].rest {
		line = line[:len(line)-1]
	}
	for i, x := range line {
		switch {
		case !x.rest:
		case i == 0:
			all, noBreath = all+2, noBreath+2
		case line[i-1].to.Since(line[i-1].from) >= p.meter.Beat():
			all++
		default:
			all, noBreath = all+1, noBreath+1
		}
	}
	return all, noBreath
}

// breaks weighs the rests of a measure that stand inside a phrase.
func (p *piece) breaks(w *written, b *bar) float64 {
	n := w.inside
	if b.place >= 2 {
		n = w.ahead
	}
	if rests := p.req.Style.Rhythm.Rests; rests != 0 {
		return math.Pow(rests, float64(n))
	}
	return 1
}

// beats names what stands on each beat of a measure: where its notes begin.
func (p *piece) beats(cells []laid) []string {
	beat := rhythm.Offset(p.meter.Beat())
	all := make([]string, int(rhythm.Offset(p.meter.Measure())/beat))
	for _, l := range cells {
		for _, x := range sounds(l.cell, l.at) {
			if k := int(x.from / beat); !x.rest && k < len(all) {
				all[k] += string(rune('0' + (x.from%beat)*48/beat))
			}
		}
	}
	return all
}

// kin is how much oftener a new measure is drawn all of whose beats the section has had: tunes
// are made of few cells. Set by hand.
const kin = 6.0

// kinship weighs a measure by the share of its beats that the section has had.
func kinship(w *written, had map[string]bool) float64 {
	if len(had) == 0 {
		return 1
	}
	share := 0
	for _, b := range w.beats {
		if had[b] {
			share++
		}
	}
	return math.Pow(kin, float64(share)/float64(len(w.beats)))
}

// learned lists the rhythms learned that the stock has, where so many ticks of the measure
// are held over from the one before.
func (m *rhythmBook) learned(held int) []written {
	if known, ok := m.plain[held]; ok {
		return known
	}
	var out []written
	if m.p.learned.exact {
		for i, r := range m.p.learned.Rhythms {
			if len(r) == 0 || r[0].Onset < held {
				continue
			}
			want, over := m.p.spread(r, held)
			if cells := m.match(want, rhythm.Offset(m.p.meter.Measure())); cells != nil {
				out = append(out, m.write(cells, i, over))
			}
		}
	}
	m.plain[held] = out
	return out
}

// tiesFrom is the rung from which notes are tied over the barline: the published levels of
// the rungs below do not name it.
const tiesFrom = 7

// spread reports the sounds of a measure of that rhythm, and how many ticks of the last lie
// beyond the barline: 0 on rungs that have no such ties.
func (p *piece) spread(r idiom.Rhythm, held int) (out []sound, over int) {
	end := p.learned.Measured
	at := 0
	add := func(to int, rest bool) {
		if to > at {
			out = append(out, sound{p.learned.offset(at), p.learned.offset(to), rest})
			at = to
		}
	}
	add(held, false)
	for i, n := range r {
		add(n.Onset, true)
		stop := n.Onset + n.Ticks
		if i+1 < len(r) {
			stop = min(stop, r[i+1].Onset)
		}
		if stop > end && p.req.Rung >= tiesFrom {
			over = stop - end
		}
		add(min(stop, end), false)
	}
	add(end, true)
	return out, over
}

// sectionRhythm fills the section's bars.
func (p *piece) sectionRhythm(rng *rand.Rand, m *rhythmBook, s *section) error {
	used, had := map[int]bool{}, map[string]bool{}
	if s == p.sections[0] && slices.Contains(m.fresh, true) {
		m.bring = s.bringing()
	}
	last := s.bars[len(s.bars)-1]
	if last.Kind == idiom.New && !last.Silent {
		w, err := p.drawMeasure(rng, m, s, last, nil, 0, used, nil)
		if err != nil {
			return err
		}
		last.cells, last.rhythm = w.cells, w.index
	}
	var before idiom.Rhythm
	held := 0
	for i, b := range s.bars {
		yields := s.Character == "break" && i%phraseLength >= phraseLength/2 && i < len(s.bars)-phraseLength
		switch {
		case b == last && b.cells != nil && held == 0:
			continue
		case yields:
			p.yield(m.stock, b, i%phraseLength == phraseLength/2)
			held = 0
			continue
		case b.Silent && held == 0:
			b.cells, before = []laid{{m.rest(0, rhythm.Offset(p.meter.Measure())), 0}}, idiom.Rhythm{}
			continue
		case b.source != nil && b.mayTakeUp(held):
			b.cells, b.rhythm, b.over = b.source.cells, b.source.rhythm, b.source.over
		default:
			w, err := p.drawMeasure(rng, m, s, b, before, held, used, had)
			if err != nil && held > 0 { // nothing can follow the tie: the note ends at the barline
				held, s.bars[i-1].over = 0, 0
				w, err = p.drawMeasure(rng, m, s, b, before, held, used, had)
			}
			if err != nil {
				return err
			}
			if b.Kind != idiom.New {
				b.Kind, b.source = idiom.New, nil
			}
			b.cells, b.rhythm, b.over = w.cells, w.index, w.over
		}
		b.into = held
		for _, name := range p.beats(b.cells) {
			had[name] = true
		}
		if before = nil; b.rhythm != idiom.None {
			before = p.learned.Rhythms[b.rhythm]
			used[b.rhythm] = true
		}
		if held = b.over; i+1 < len(s.bars) {
			if next := s.bars[i+1]; next.Silent || next == last || next.source != nil && !next.mayTakeUp(held) {
				held, b.over = 0, 0
			}
		}
	}
	return nil
}

// mayTakeUp reports whether the bar may have its source's cells, with so many ticks held over
// into it: as many as were held over into the source.
func (b *bar) mayTakeUp(held int) bool {
	return b.source.cells != nil && !b.source.Silent && b.source.into == held && len(b.source.chords) == 1
}

// sharper is the power of the learned chances that rhythms are drawn by: the back-off to more
// general contexts makes them too even. Set by hand.
const sharper = 1.5

// again is how much rarer a rhythm is that the section had, where a measure is new. Set by
// hand, as in the sketch that the forms were tried with.
const again = 0.05

// twoAtTheEnd is how much rarer a section closes on two notes than bands do, whose parts go on.
const twoAtTheEnd = 0.3

// tieAhead is how much oftener notes are tied into a new bar, as they are never into one that
// takes up another. Set by hand.
const tieAhead = 3.0

// drawMeasure draws the rhythm of a bar that takes up no other.
func (p *piece) drawMeasure(rng *rand.Rand, m *rhythmBook, s *section, b *bar, before idiom.Rhythm, held int, used map[int]bool, had map[string]bool) (*written, error) {
	tilt := p.tilt + 0.4*math.Log(s.Energy)
	options := m.learned(held)
	if held == 0 {
		options = append(slices.Clip(options), m.tiled...)
	}
	var chances []float64
	if p.learned.exact {
		chances = p.learned.RhythmChances(s.class, b.place, before)
	}
	spare := 1 / float64(1+len(m.tiled)) // all that is made of cells together weighs as one rhythm of average chance
	if n := len(chances); n > 0 && p.drilled == nil {
		spare /= float64(n)
	}
	bring := m.bring == b
	if bring && slices.ContainsFunc(options, func(w written) bool { return w.fresh && w.index != idiom.None && chances[w.index] > 0 }) {
		spare = 0 // a rhythm that was learned brings it
	}
	sharp, most := sharper, p.mostClosing()
	if s.class == p.learned.Band { // few strains are known
		sharp = 1
	}
	tied := tieAhead // a note can be tied only into a bar that is drawn too
	if k := slices.Index(s.bars, b); k+1 < len(s.bars) && (s.bars[k+1].Kind != idiom.New || s.bars[k+1].Silent || k+2 == len(s.bars)) {
		tied = 0
	}
	final := b == s.bars[len(s.bars)-1] // a section closes on a note or two
	weigh := func(i int) float64 {
		w := &options[i]
		chance := spare
		if w.index != idiom.None {
			chance = math.Pow(chances[w.index], sharp)
		} else if b.place >= 2 && !endsLong(w.cells, p.meter) {
			return 0
		}
		if w.over > 0 {
			chance *= tied
		}
		if final && w.onsets > 1 {
			chance *= twoAtTheEnd
		}
		if final && (w.over > 0 || !closes(w, p.meter, most) || held > 0 && w.onsets < 2) || bring && !w.fresh {
			return 0
		}
		if b.Kind == idiom.New && used[w.index] && w.index != idiom.None {
			chance *= again
		}
		if p.drilled != nil && w.index == idiom.None { // its cells were drawn as the player needs them
			return even(chance * math.Exp(tilt*float64(w.onsets)))
		}
		return even(chance * w.wanted * kinship(w, had) * p.breaks(w, b) * math.Exp(tilt*float64(w.onsets)))
	}
	i := draw(rng, len(options), weigh)
	if i < 0 && final {
		most = 3 // nothing else is known
		i = draw(rng, len(options), weigh)
	}
	if i < 0 && bring {
		bring = false
		i = draw(rng, len(options), weigh)
	}
	if i < 0 {
		return nil, refuse("no rhythm of rung %d fills a measure of %s; take another meter or a higher rung", p.req.Rung, p.meter)
	}
	w := options[i]
	if held == 0 { // else its first note is tied over
		w.cells = p.grace(rng, m, s, w.cells)
	}
	return &w, nil
}

// grace puts grace notes ahead of one note of the measure, now and then; where the read is
// to bring such, in its first measure that has a place for them.
func (p *piece) grace(rng *rand.Rand, m *rhythmBook, s *section, cells []laid) []laid {
	ways, fresh := m.graced(cells)
	if len(ways) == 0 {
		return cells
	}
	i := rng.IntN(len(ways))
	if now := rng.Float64() < p.req.Style.Rhythm.Graces; !now && (!fresh[i] || s != p.sections[0] || m.graceful) {
		return cells
	}
	m.graceful = m.graceful || fresh[i]
	out := slices.Clone(cells)
	for k := range out {
		if out[k].at == ways[i].at {
			out[k] = ways[i]
		}
	}
	return out
}

// bringing reports the bar of the section that is to have a cell that the read brings: a new
// one inside a phrase that others take up, but as few as may be, so that the tune is not made
// of it alone.
func (s *section) bringing() *bar {
	var best *bar
	fewest := len(s.bars) + 1
	for i, b := range s.bars {
		if b.Kind != idiom.New || b.Silent || i%phraseLength == phraseLength-1 || i == len(s.bars)-1 {
			continue
		}
		takers := 0
		for _, o := range s.bars {
			if o.source == b {
				takers++
			}
		}
		if takers == 0 {
			takers = phraseLength // it would be heard but once
		}
		if takers < fewest {
			best, fewest = b, takers
		}
	}
	return best
}

// mostClosing is in how many notes a section closes at most: bands often strike twice.
func (p *piece) mostClosing() int {
	if p.learned.Band != idiom.None {
		return 2
	}
	return 1
}

// closes reports whether a section may close with the measure: in few notes, the last of them
// long, and nothing after it but rest.
func closes(w *written, m rhythm.Meter, most int) bool {
	return w.onsets <= most && !w.cells[0].cell.Events[0].Rest && endsLong(w.cells, m)
}

// endsLong reports whether the cells end in a note of a beat that nothing follows but rest; in
// compound meters two thirds of one will do.
func endsLong(cells []laid, m rhythm.Meter) bool {
	var all []sound
	for _, l := range cells {
		all = append(all, sounds(l.cell, l.at)...)
	}
	for len(all) > 0 && all[len(all)-1].rest {
		all = all[:len(all)-1]
	}
	least := m.Beat()
	if m.Compound() {
		least = 2 * least / 3
	}
	return len(all) > 0 && all[len(all)-1].to.Since(all[len(all)-1].from) >= least
}

// yield leaves a bar to the band, which answers: after the first of a phrase's bars that
// it leaves, a note on the downbeat, the player rests.
func (p *piece) yield(st *stock, b *bar, strikes bool) {
	b.Kind, b.source, b.Silent = idiom.New, nil, true
	b.rhythm = idiom.None
	end := rhythm.Offset(p.meter.Measure())
	if short := st.shortest(p.half()); strikes && short != nil {
		b.cells, b.Silent = []laid{{short, 0}, {st.rest(p.half(), end), p.half()}}, false
		return
	}
	b.cells = []laid{{st.rest(0, end), 0}}
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
	last.source = nil
	last.Kind = idiom.New
	last.into = 0
	last.cells = []laid{{short, 0}, {short, at}}
	if end := rhythm.Offset(p.meter.Measure()); end > 2*at {
		last.cells = append(last.cells, laid{st.rest(2*at, end), 2 * at})
	}
}

// pickupOf reports where, in the last bar of a phrase, the next phrase sets in: after its
// last long note or rest; 0 if it waits for the barline.
func (p *piece) pickupOf(b *bar) rhythm.Offset {
	at := rhythm.Offset(0)
	long := rhythm.Duration(0)
	for _, l := range b.cells {
		for _, s := range sounds(l.cell, l.at) {
			if d := s.to.Since(s.from); d >= p.meter.Beat() || s.rest && d > long {
				at, long = s.to, d
			}
		}
	}
	if at == 0 || at >= rhythm.Offset(p.meter.Measure()) {
		return 0
	}
	for _, l := range b.cells {
		for _, s := range sounds(l.cell, l.at) {
			if !s.rest && s.from >= at {
				return s.from
			}
		}
	}
	return 0
}

func sameCells(a, b []laid) bool { return slices.Equal(a, b) }

// dwells reports whether a note of the bar lasts a beat or more.
func (p *piece) dwells(cells []laid) bool {
	for _, l := range cells {
		for _, s := range sounds(l.cell, l.at) {
			if !s.rest && s.to.Since(s.from) >= p.meter.Beat() {
				return true
			}
		}
	}
	return false
}
