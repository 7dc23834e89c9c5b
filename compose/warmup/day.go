package warmup

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// The families in groups; a day takes the next of each group.
var (
	scales    = []Family{Octave, Extended, Growing}
	arpeggios = []Family{ArpeggioOctave, ArpeggioExtended, ArpeggioGrowing}
	ways      = []Family{Thirds, Intervals, Neighbours}
	endings   = []Family{Tonguing, Cycle}
	figures   = []Family{Figure}
)

// levels are the rungs from which families are in use; 1 for those that are not listed.
var levels = map[Family]int{ArpeggioExtended: 2, ArpeggioGrowing: 3, Thirds: 2, Intervals: 3, Neighbours: 7, Cycle: 7}

// A turn is a group and how many times it was taken before.
type turn struct {
	group []Family
	at    int
}

// turns lists what a day is made of: from five exercises on one of each group, of fewer
// the groups change from day to day.
func turns(exercises, day int) []turn {
	scale, chord, way, ending := turn{scales, day}, turn{arpeggios, day + 1}, turn{ways, day}, turn{endings, day}
	own := turn{figures, 0}
	switch exercises {
	case 3:
		first := turn{scales, day / 2}
		if day%2 == 1 {
			first.group = arpeggios
		}
		last := turn{ways, day/4*2 + day%2}
		if day/2%2 == 1 {
			last.group = endings
		}
		return []turn{first, own, last}
	case 4:
		last := turn{ways, day / 2}
		if day%2 == 1 {
			last.group = endings
		}
		return []turn{scale, chord, own, last}
	case 5:
		return []turn{scale, chord, way, own, ending}
	}
	return []turn{scale, chord, own, way, own, ending}
}

// A maker of a day keeps what the exercises so far have used.
type work struct {
	Day
	catalogue *figure.Catalogue
	ground    ground
	avoid     map[uint64]bool
	rhythms   map[string]bool // used today
	tongues   map[string]bool
	shapes    map[string]bool // of figures
	left      time.Duration   // to play, not yet given to an exercise
}

// Make makes the warm-up. It refuses with a *RequestError what the player can ask
// otherwise: other minutes, a key that the range has no room for.
func Make(cat *figure.Catalogue, req Request) (*Day, error) {
	w, err := begin(cat, req)
	if err != nil {
		return nil, err
	}
	list := turns(min(max(req.Minutes/2, 3), 6), req.Turn)
	made := make([]*Exercise, len(list))
	w.left = (time.Duration(req.Minutes)*time.Minute - margin) / 2
	for n, i := range order(len(list)) {
		if made[i] = w.take(list[i], len(list)-n); made[i] == nil {
			continue // the range or the minutes have no room for it
		}
		w.left -= made[i].Through()
	}
	for _, e := range made {
		if e != nil {
			w.Exercises = append(w.Exercises, *e)
		}
	}
	if len(w.Exercises) == 0 {
		return nil, fmt.Errorf("warm-up of seed %d: no exercise fits", req.Seed)
	}
	w.fill()
	return &w.Day, nil
}

// margin is what a warm-up leaves of its minutes for the count ahead.
const margin = 6 * time.Second

// order is in what order exercises are made: the last first, for it may be the longest.
func order(n int) []int {
	o := []int{n - 1}
	for i := range n - 1 {
		o = append(o, i)
	}
	return o
}

// begin checks the request and settles key and range.
func begin(cat *figure.Catalogue, req Request) (*work, error) {
	switch {
	case req.Minutes < MinMinutes || req.Minutes > MaxMinutes:
		return nil, &RequestError{fmt.Sprintf("a warm-up of %d minutes", req.Minutes), fmt.Sprintf("ask for %d to %d", MinMinutes, MaxMinutes)}
	case req.Rung < 1 || req.Rung > len(paces):
		return nil, &RequestError{fmt.Sprintf("rung %d", req.Rung), fmt.Sprintf("the ladder has rungs 1 to %d", len(paces))}
	case req.Bracket < theory.SixNotes || req.Bracket > theory.Beyond || req.Turn < 0 || len(req.Keys) == 0 && req.Key == nil:
		return nil, fmt.Errorf("warm-up: bracket %d, turn %d, %d keys: want a bracket, a turn from 0 and a key", req.Bracket, req.Turn, len(req.Keys))
	}
	w := &work{Day: Day{Request: req, Range: req.Instrument.Ranges[req.Bracket]}, catalogue: cat,
		avoid: map[uint64]bool{}, rhythms: map[string]bool{}, tongues: map[string]bool{}, shapes: map[string]bool{}}
	for _, h := range req.Avoid {
		w.avoid[h] = true
	}
	return w, w.settleKey()
}

// settleKey takes the key asked for, or the next in turn of those in which the range holds
// an octave, on the tonic or around it.
func (w *work) settleKey() error {
	choice := w.Keys
	if w.Key != nil {
		choice = []theory.Key{*w.Key}
	}
	fitting := choice[:0:0]
	for _, poor := range []bool{false, true} {
		for _, k := range choice {
			if g, ok := settle(w.written(k), w.Range); ok && (poor || g.high >= 8 || g.around()) {
				fitting = append(fitting, k)
			}
		}
		if len(fitting) > 0 {
			w.Concert = fitting[w.Turn%len(fitting)]
			w.Written = w.written(w.Concert)
			w.ground, _ = settle(w.Written, w.Range)
			return nil
		}
	}
	return &RequestError{fmt.Sprintf("concert %v on rung %d: %v to %v, the notes of the %s there, have no room for a scale on %v",
		choice[0], w.Rung, w.Range.Low, w.Range.High, w.Instrument.Name, w.written(choice[0]).Tonic()),
		"choose another key, or a higher rung"}
}

// written reports the written key of a concert key, with six accidentals at most.
func (w *work) written(concert theory.Key) theory.Key {
	return fewest(concert.Transpose(w.Instrument.Sounds.Neg()))
}

// take makes an exercise of the turn's group: of the family whose turn it is, else of the
// next one that there is room for. share is among how many exercises what is left of the
// time is to be shared.
func (w *work) take(t turn, share int) *Exercise {
	var open []Family
	for _, f := range t.group {
		if w.Rung >= max(levels[f], 1) {
			open = append(open, f)
		}
	}
	for i := range open {
		if e := w.exercise(open[(t.at+i)%len(open)], share); e != nil {
			return e
		}
	}
	return nil
}

// longest is how long one time through a family may take. The way through twelve keys may
// have a good part of the whole; others somewhat more than their share.
func (w *work) longest(f Family, share int) time.Duration {
	if f == Cycle {
		return min(w.left*11/20, w.left)
	}
	if share == 1 {
		return w.left
	}
	return min(w.left, w.left*5/time.Duration(4*share))
}

// A candidate is an exercise that may be.
type candidate struct {
	events  []rhythm.Event
	words   string // of the rhythm
	meter   rhythm.Meter
	tongue  *articulation
	figure  *figure.Figure
	shape   *figure.Shape
	degrees int  // that a figure begins on
	down    bool // from the highest of them
}

// What counts against a candidate; one that has nothing against it is taken at once.
const (
	lineReturns = 100 // for each line that is not to come again
	manyStops   = 10  // where more than a third of the measures are stops
	rhythmAgain = 3   // a rhythm that the day has already
	tongueAgain = 2   // likewise an articulation
	triesFamily = 600 // candidates looked at, at most
	triesFresh  = 80  // after which a repeated rhythm or articulation is good enough
	fewPerStop  = 3
)

// exercise draws an exercise of the family: of all candidates, shuffled, the first that has
// nothing against it, else the one with the least. It is nil where none fits.
func (w *work) exercise(f Family, share int) *Exercise {
	rng := rand.New(rand.NewPCG(w.Seed, stream(fmt.Sprint(f, len(w.rhythms)))))
	all := w.candidates(f, rng)
	longest := w.longest(f, share)
	var best *Exercise
	least := 0
	if f != Figure {
		all = slices.Repeat(all, 3) // each is drawn anew
	}
	for i := range all[:min(len(all), triesFamily)] {
		if i > triesFresh && least < manyStops && best != nil {
			break
		}
		c := &all[i]
		e := w.build(f, c, longest, rng)
		if e == nil {
			continue
		}
		against := lineReturns * w.returned(e)
		if f != Cycle && fewPerStop*e.stops > e.Count() {
			against += manyStops
		}
		if w.rhythms[c.words] {
			against += rhythmAgain
		}
		if w.tongues[c.tongue.words] {
			against += tongueAgain
		}
		if best == nil || against < least {
			best, least = e, against
		}
		if against == 0 {
			break
		}
	}
	if best == nil {
		return nil
	}
	return w.keep(best)
}

// returned counts the lines of an exercise that are not to come.
func (w *work) returned(e *Exercise) int {
	n := 0
	for i := range e.Lines {
		if w.avoid[e.Lines[i].Hash()] {
			n++
		}
	}
	return n
}

func (w *work) keep(e *Exercise) *Exercise {
	w.rhythms[e.Rhythm], w.tongues[e.Tongue] = true, true
	if e.Figure != nil {
		w.shapes[e.Figure.Shape] = true
	}
	w.Returned += w.returned(e)
	for i := range e.Lines {
		w.avoid[e.Lines[i].Hash()] = true
	}
	return e
}

func stream(name string) uint64 {
	h := newHash()
	fmt.Fprint(h, name)
	return h.Sum64()
}

// candidates lists what a family can be laid on, shuffled; figures stay in the order of
// need.
func (w *work) candidates(f Family, rng *rand.Rand) []candidate {
	if f == Figure {
		return w.figureCandidates(rng)
	}
	var all []candidate
	for i := range rhythms {
		r := &rhythms[i]
		if r.level > w.Rung || r.level < w.Rung-behind {
			continue
		}
		events := mustCell(r.cell)
		for _, name := range r.meters {
			m, err := rhythm.ParseMeter(name)
			if err != nil {
				panic(err) // the table is our own
			}
			for _, a := range w.tonguesFor(&layout{meter: m, events: events}, f == Tonguing) {
				all = append(all, candidate{events: events, words: r.words, meter: m, tongue: a})
			}
		}
	}
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all
}

func mustCell(text string) []rhythm.Event {
	events, err := rhythm.ParseCell(text)
	if err != nil {
		panic(err) // the table is our own
	}
	return events
}

// tonguesFor lists the articulations that suit a layout.
func (w *work) tonguesFor(l *layout, tongued bool) []*articulation {
	var all []*articulation
	for i := range articulations {
		a := &articulations[i]
		slurs := a.kind == whole || a.kind == grouped
		if a.level <= w.Rung && a.suits(l.events, l.slots()) && !(tongued && slurs) {
			all = append(all, a)
		}
	}
	return all
}

// mostFigures is how many figures, the weakest first, are looked at.
const mostFigures = 40

func (w *work) figureCandidates(rng *rand.Rand) []candidate {
	own := w.Figures
	if len(own) == 0 {
		own = common(w.catalogue, w.Rung, rng)
	}
	var all []candidate
	for _, f := range own[:min(len(own), mostFigures)] {
		some := w.ofFigure(f)
		rng.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
		all = append(all, some...)
	}
	return all
}

// ofFigure lists what one figure can be: nothing where it has fewer than three notes or a
// rhythm that fills no measure, or where its shape was drilled today.
func (w *work) ofFigure(f figure.Figure) []candidate {
	shape, cell := w.catalogue.Shape(f.Shape), w.catalogue.Cell(f.Cell)
	if shape == nil || cell == nil || w.shapes[f.Shape] || shape.Notes() < 3 || cell.Onsets() != shape.Notes() {
		return nil
	}
	m, ok := meterOf(cell)
	if !ok {
		return nil
	}
	var all []candidate
	for degrees := most; degrees >= 3; degrees-- {
		for _, a := range w.tonguesFor(&layout{meter: m, events: cell.Events}, shape.Family == "repeated") {
			for _, down := range []bool{false, true} {
				all = append(all, candidate{events: cell.Events, words: cell.Name, meter: m, tongue: a, figure: &f, shape: shape, degrees: degrees, down: down})
			}
		}
	}
	return all
}

// common is figures of the catalogue for a player who has drilled none: those of the rung
// and of two below it.
func common(cat *figure.Catalogue, rung int, rng *rand.Rand) []figure.Figure {
	var all []figure.Figure
	for i := range cat.Shapes {
		s := &cat.Shapes[i]
		if s.Level > rung || s.Level < rung-2 || s.LooksLike != "" {
			continue
		}
		for k := range cat.Cells {
			c := &cat.Cells[k]
			if c.Level <= rung && c.Level >= rung-2 && c.Onsets() == s.Notes() {
				all = append(all, figure.Figure{Shape: s.Name, Cell: c.Name})
			}
		}
	}
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	return all
}

// build lays a candidate out; nil where it does not come out.
func (w *work) build(f Family, c *candidate, longest time.Duration, rng *rand.Rand) *Exercise {
	at, ok := quickest(c.events, c.meter, w.Rung)
	if !ok {
		return nil
	}
	tempo := metronome[max(0, at-rng.IntN(4))]
	// The page is marked p: the wind lasts as at a soft dynamic.
	breath := rhythm.Duration(w.Instrument.Breath[0] * float64(tempo) / 60 * float64(c.meter.Beat()))
	l := &layout{meter: c.meter, events: c.events, breath: breath}
	if !l.fits() {
		return nil
	}
	d, ok := w.draw(f, c, l.slots(), rng)
	if !ok {
		return nil
	}
	e := &Exercise{Family: f, Title: d.title, Figure: c.figure, Key: d.lines[0].key, Meter: c.meter,
		Rhythm: c.words, Tongue: c.tongue.words, Tempo: tempo, Times: 1}
	if !e.add(l, d.lines, c.tongue) {
		return nil
	}
	if again := w.second(l, c.tongue, f == Tonguing, rng); f != Cycle && e.Through() < max(shortest, longest/5) && 2*e.Through() <= longest && again != nil {
		w.twice(e, l, d.lines, again)
	}
	if e.Through() > longest || !w.inRange(e) {
		return nil
	}
	return e
}

// add lays the patterns and adds them as lines; false where they do not come out.
func (e *Exercise) add(l *layout, patterns []pattern, a *articulation) bool {
	lines, stops, ok := l.lay(patterns)
	if !ok {
		return false
	}
	a.articulate(lines)
	e.stops += stops
	for i, measures := range lines {
		e.Lines = append(e.Lines, Line{Key: patterns[i].key, Words: patterns[i].words, Measures: measures})
	}
	return true
}

// twice adds the patterns in another articulation too, if that makes new lines of them.
func (w *work) twice(e *Exercise, l *layout, patterns []pattern, a *articulation) {
	both := *e
	both.Lines = slices.Clone(e.Lines)
	if !both.add(l, patterns, a) {
		return
	}
	had := map[uint64]bool{}
	for i := range both.Lines {
		h := both.Lines[i].Hash()
		if had[h] || i >= len(e.Lines) && w.avoid[h] {
			return
		}
		had[h] = true
	}
	both.Tongue += ", then " + a.words
	both.Lines[len(e.Lines)].Words = a.words
	*e = both
}

// second draws another articulation for a short pattern to come in once more; nil where
// there is none.
func (w *work) second(l *layout, first *articulation, tongued bool, rng *rand.Rand) *articulation {
	all := w.tonguesFor(l, tongued)
	if i := slices.Index(all, first); i >= 0 {
		all = slices.Delete(all, i, i+1)
	}
	if len(all) == 0 {
		return nil
	}
	return all[rng.IntN(len(all))]
}

func (w *work) draw(f Family, c *candidate, slots int, rng *rand.Rand) (drawn, bool) {
	if f == Figure {
		return sequence(&w.ground, c.shape, c.degrees, c.down)
	}
	if f == Cycle {
		var open []*circle
		for i := range circles {
			if circles[i].level <= w.Rung {
				open = append(open, &circles[i])
			}
		}
		return cycleBy(open[rng.IntN(len(open))], &w.ground, slots)
	}
	return makers[f](&w.ground, slots, rng)
}

// inRange proves that every note lies in the range.
func (w *work) inRange(e *Exercise) bool {
	for _, l := range e.Lines {
		for _, m := range l.Measures {
			for _, n := range m.Notes {
				if !n.Rest && !w.Range.Has(n.Pitch) {
					return false
				}
			}
		}
	}
	return true
}

// shortest is a time through that is too short to stand by itself.
const shortest = 12 * time.Second

// mostTimes is how many times one exercise is played at most.
const mostTimes = 10

// fill has the exercises played more often, the one that has had the least first, as long
// as the minutes hold it.
func (w *work) fill() {
	limit := time.Duration(w.Minutes) * time.Minute
	for {
		byNeed := make([]*Exercise, len(w.Exercises))
		for i := range w.Exercises {
			byNeed[i] = &w.Exercises[i]
		}
		slices.SortStableFunc(byNeed, func(a, b *Exercise) int {
			return int(time.Duration(a.Times)*a.Through() - time.Duration(b.Times)*b.Through())
		})
		more := false
		for _, e := range byNeed {
			e.Times++
			if more = e.Times <= mostTimes && w.Total() <= limit; more {
				break
			}
			e.Times--
		}
		if !more {
			return
		}
	}
}
