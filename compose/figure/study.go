package figure

import (
	"cmp"
	"math"
	"slices"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A Lesson is what a study of drilled parts found.
type Lesson struct {
	Vocabulary
	// Meetings are the figures that the parts are made of, by key, in order.
	Meetings []Meeting
	// ByNote and ByFigure are the lengths of the parts' description in bits, note by
	// note and by the vocabulary with all that it costs itself.
	ByNote, ByFigure float64
}

// A Meeting is a figure met in a written key, so many times.
type Meeting struct {
	Figure
	Key   theory.Key
	Times int
}

// A study looks for the vocabulary by which some bars are said shortest.
type study struct {
	catalogue *Catalogue
	own       bool // new shapes may be proposed
	bars      []studyBar
	symbols   []symbol
	index     map[Figure]int
	cells     []int // how often each cell is used; the first are signs by themselves
	cellIndex map[string]int
	newCell   int // what it costs to name a cell
}

// A symbol is one sign of the code: a figure, a cell without a shape, and two of its own.
type symbol struct {
	figure Figure
	own    []Move // of a shape that the catalogue has not
	cell   int    // index of its cell
	name   int    // what it costs to name its shape when that is new on the cell
	uses   int
	price  int // of each use
	last   int // the price before
	banned bool
	bars   []int // bars with a way that uses it
}

// The signs that every vocabulary has.
const (
	loneNote = iota // a note that is written by itself
	silence         // a beat in which nothing starts
	freeSymbols
)

// forbidden is the price of a symbol that may not be used.
const forbidden = math.MaxInt32

// A studyBar is a bar with all the ways to say it.
type studyBar struct {
	*bar
	points []rhythm.Offset
	starts []int   // the sound that starts at each point, -1 for none
	notes  []int   // what each sound's pitch costs
	ways   [][]way // by point
	picks  []way   // the shortest
	cost   int
}

// A way is to say some notes by one symbol.
type way struct {
	symbol      int
	at, to      int // points
	first, last int // sounds, last not included
	cost        int // what does not depend on the vocabulary
	plain       bool
}

// Study learns the parts together: it chooses the figures by which they are described
// shortest, see code.go, those of the catalogue and new ones that recur. Shapes of the
// player's own that the catalogue has (With) are as good as its others.
func (c *Catalogue) Study(parts ...*score.Part) Lesson { return c.study(true, parts) }

func (c *Catalogue) study(own bool, parts []*score.Part) Lesson {
	s := newStudy(c, own)
	for _, p := range parts {
		s.add(p)
	}
	if own {
		s.dropRare()
	}
	s.name()
	s.search()
	return s.lesson()
}

func newStudy(c *Catalogue, own bool) *study {
	s := &study{catalogue: c, own: own, index: map[Figure]int{}, cellIndex: map[string]int{}}
	for i := range freeSymbols {
		s.symbols, s.cells = append(s.symbols, symbol{cell: i}), append(s.cells, 0)
	}
	return s
}

// add takes in a part's bars with all the ways to say them.
func (s *study) add(p *score.Part) {
	bars := hear(p)
	before := theory.Pitch{Octave: 4}
	for i, first := 0, true; i < len(bars); i++ {
		b := studyBar{bar: &bars[i], points: bars[i].points()}
		for j := range b.sounds {
			if first {
				before, first = b.sounds[j].pitch, false
			}
			b.notes = append(b.notes, pitchBits(b.key, before, b.sounds[j].pitch))
			before = b.sounds[j].pitch
		}
		for _, at := range b.points {
			b.starts = append(b.starts, slices.IndexFunc(b.sounds, func(x sound) bool { return x.at == at }))
		}
		b.ways = make([][]way, len(b.points))
		for _, r := range s.catalogue.cellsIn(b.bar) {
			s.addWays(&b, len(s.bars), r)
		}
		s.bars = append(s.bars, b)
	}
}

// addWays adds the ways to say the notes of a cell.
func (s *study) addWays(b *studyBar, index int, r reading) {
	at, _ := slices.BinarySearch(b.points, r.from)
	to, _ := slices.BinarySearch(b.points, r.to)
	w := way{at: at, to: to, first: r.first, last: r.first + r.notes}
	heard := s.catalogue.hear(b.sounds[w.first:w.last], b.key)
	pitches := make([]theory.Pitch, r.notes)
	for i := range pitches {
		pitches[i] = b.sounds[w.first+i].pitch
	}
	add := func(f Figure, own []Move, cost int, plain bool) {
		w := w
		w.symbol, w.cost, w.plain = s.symbol(f, own), cost, plain
		b.ways[at] = append(b.ways[at], w)
		if bars := &s.symbols[w.symbol].bars; len(*bars) == 0 || (*bars)[len(*bars)-1] != index {
			*bars = append(*bars, index)
		}
	}
	for _, h := range heard {
		cost := r.cost + h.cost + b.notes[w.first] + h.shape.bits(pitches, b.key)
		add(Figure{h.shape.Name, r.figure.Cell}, nil, cost, r.cost+h.cost < closeCost)
	}
	if s.own && len(heard) == 0 {
		for _, shape := range proposals(pitches, b.key) {
			add(Figure{newShape + formatMoves(shape.Moves), r.figure.Cell}, shape.Moves,
				r.cost+levelCost+b.notes[w.first]+shape.bits(pitches, b.key), true)
		}
	}
	if r.notes == 1 {
		return // it is a long note
	}
	cost := r.cost
	for _, n := range b.notes[w.first:w.last] {
		cost += n
	}
	add(r.figure, nil, cost, false)
}

// newShape begins the name of a shape that has none yet; its moves follow.
const newShape = "\x00"

func (s *study) symbol(f Figure, own []Move) int {
	i, ok := s.index[f]
	if !ok {
		i = len(s.symbols)
		s.index[f] = i
		cell, met := s.cellIndex[f.Cell]
		if !met {
			cell = len(s.cells)
			s.cellIndex[f.Cell] = cell
			s.cells = append(s.cells, 0)
		}
		s.symbols = append(s.symbols, symbol{figure: f, own: own, cell: cell})
	}
	return i
}

// leastUses is how often a new figure must stand in what was drilled, on two different
// notes at least: a measure that only returns is a repeat, no figure.
const leastUses = 2

// dropRare leaves out the new figures that do not recur.
func (s *study) dropRare() {
	recurs := make([]bool, len(s.symbols))
	first := make([]theory.Pitch, len(s.symbols))
	for i := range s.bars {
		b := &s.bars[i]
		for _, at := range b.ways {
			for _, w := range at {
				p := b.sounds[w.first].pitch
				recurs[w.symbol] = recurs[w.symbol] || first[w.symbol] != theory.Pitch{} && first[w.symbol] != p
				first[w.symbol] = p
			}
		}
	}
	for i := range s.bars {
		b := &s.bars[i]
		for j := range b.ways {
			b.ways[j] = slices.DeleteFunc(b.ways[j], func(w way) bool { return s.symbols[w.symbol].own != nil && !recurs[w.symbol] })
		}
	}
}

// name sets what each shape costs when it is new on its cell: of the catalogue, one of
// as many notes, or spelled out. Simple shapes are likelier: those of a level half as
// likely as those four levels lower.
func (s *study) name() {
	met := map[string]bool{}
	for i := range s.bars {
		for _, p := range s.catalogue.patternsIn(s.bars[i].meter) {
			met[p.cell.Name] = true
		}
	}
	s.newCell = logBits(float64(len(met)))
	all := map[int]float64{}
	for notes, shapes := range s.catalogue.byNotes {
		for _, x := range shapes {
			all[notes] += likely(x)
		}
	}
	for i := freeSymbols; i < len(s.symbols); i++ {
		switch x := &s.symbols[i]; {
		case x.own != nil:
			x.name = newShapeBits + movesBits(x.own)
		case x.figure.Shape == "":
			x.name = noShapeBits
		default:
			shape := s.catalogue.Shape(x.figure.Shape)
			x.name = oldShapeBits + logBits(all[shape.Notes()]/likely(shape))
		}
	}
}

func likely(s *Shape) float64 { return math.Exp2(-float64(s.Level) / 4) }

// say finds the shortest way to say the bar, by dynamic programming from its end.
func (s *study) say(b *studyBar) {
	b.picks, b.cost = b.picks[:0], 0
	if len(b.sounds) == 0 {
		return
	}
	n := len(b.points) - 1
	cost, pick := make([]int, n+1), make([]int, n)
	for i := n - 1; i >= 0; i-- {
		pick[i] = -1
		if j := b.starts[i]; j >= 0 {
			cost[i] = cost[i+1] + s.symbols[loneNote].price + b.notes[j] + valueBits
		} else {
			cost[i] = cost[i+1] + s.symbols[silence].price
		}
		for j, w := range b.ways[i] {
			price := s.symbols[w.symbol].price
			if price == forbidden {
				continue
			}
			c := price + w.cost + cost[w.to]
			if c < cost[i] || c == cost[i] && (pick[i] < 0 || w.to > b.ways[i][pick[i]].to) {
				cost[i], pick[i] = c, j
			}
		}
	}
	b.cost = cost[0]
	for i := 0; i < n; i++ {
		if pick[i] >= 0 {
			w := b.ways[i][pick[i]]
			b.picks = append(b.picks, w)
			i = w.to - 1
		}
	}
}

// startPrices are what every figure costs at first: low ones favour short figures that
// recur, high ones long figures.
var startPrices = []int{4 * bit, 6 * bit, 9 * bit, 14 * bit}

// rounds is how often prices and figures are settled anew at most.
const rounds = 12

// search settles on the vocabulary by which the whole is shortest of those found.
func (s *study) search() {
	best, least := []int(nil), math.MaxInt
	for _, price := range startPrices {
		for i := range s.symbols {
			s.symbols[i].banned, s.symbols[i].price = false, price
		}
		for range rounds {
			s.sayAll()
			if total := s.settle(); total < least {
				least, best = total, s.prices()
			}
			if !s.prune() {
				break
			}
		}
	}
	for i := range best {
		s.symbols[i].banned, s.symbols[i].price = false, best[i]
	}
	s.sayAll()
	s.settle()
}

func (s *study) sayAll() {
	for i := range s.bars {
		s.say(&s.bars[i])
	}
}

// settle counts what is used, prices each symbol by it, and reports the length of the
// whole: first which cell, then which shape on it, then what is left to say.
func (s *study) settle() int {
	total := s.count()
	rhythm := urn{newness: newCells}
	shapes := make([]urn, len(s.cells))
	for i, n := range s.cells {
		rhythm.put(n)
		if n > 0 && i >= freeSymbols {
			total += s.newCell
		}
	}
	for i := range shapes {
		shapes[i].newness = newShapes
	}
	for i := range s.symbols {
		x := &s.symbols[i]
		shapes[x.cell].put(x.uses)
		if x.uses > 0 {
			total += x.name
		}
	}
	for i := range shapes {
		if i >= freeSymbols {
			total += shapes[i].bits()
		}
	}
	for i := range s.symbols {
		s.reprice(&s.symbols[i], &rhythm, &shapes[s.symbols[i].cell])
	}
	return total + rhythm.bits()
}

// count counts what is used, and reports what there is to say beside the signs.
func (s *study) count() int {
	rest := 0
	clear(s.cells)
	for i := range s.symbols {
		s.symbols[i].uses = 0
	}
	for i := range s.bars {
		for _, n := range s.usesIn(&s.bars[i]) {
			s.symbols[n].uses++
			s.cells[s.symbols[n].cell]++
		}
		rest += s.restOf(&s.bars[i])
	}
	return rest
}

// reprice sets what one more use of the symbol costs about.
func (s *study) reprice(x *symbol, rhythm, shapes *urn) {
	x.last = x.price
	cell := s.cells[x.cell]
	x.price = rhythm.price(cell)
	if x.cell < freeSymbols {
		return
	}
	if cell == 0 {
		x.price += s.newCell
	}
	switch {
	case x.banned, x.own != nil && x.uses == 0:
		x.price = forbidden
	case x.uses > 0:
		x.price += shapes.price(x.uses)
	case x.figure.Shape == "": // cheap, so that figures which hardly pay give way to it
		x.price += shapes.price(1 + cell/4)
	default:
		x.price += shapes.price(0) + x.name
	}
}

// usesIn lists the symbols by which the bar is said.
func (s *study) usesIn(b *studyBar) []int {
	var all []int
	if len(b.sounds) == 0 {
		return nil
	}
	next := 0
	for i := 0; i < len(b.points)-1; {
		switch {
		case next < len(b.picks) && b.picks[next].at == i:
			all = append(all, b.picks[next].symbol)
			i = b.picks[next].to
			next++
			continue
		case b.starts[i] >= 0:
			all = append(all, loneNote)
		default:
			all = append(all, silence)
		}
		i++
	}
	return all
}

// restOf reports what the bar costs beside its symbols.
func (s *study) restOf(b *studyBar) int {
	cost, next := 0, 0
	for _, w := range b.picks {
		cost += w.cost
	}
	for i := 0; i < len(b.points)-1; i++ {
		if next < len(b.picks) && b.picks[next].at == i {
			i = b.picks[next].to - 1
			next++
		} else if j := b.starts[i]; j >= 0 {
			cost += b.notes[j] + valueBits
		}
	}
	return cost
}

// prices lists at what prices the bars were said last.
func (s *study) prices() []int {
	all := make([]int, len(s.symbols))
	for i := range s.symbols {
		all[i] = s.symbols[i].last
	}
	return all
}

// prune leaves out, the rarest first, each figure without which the whole is shorter at
// the prices of the others, and reports whether there was one.
func (s *study) prune() bool {
	var order []int
	for i := range s.symbols {
		if x := &s.symbols[i]; x.uses > 0 && x.figure.Shape != "" {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(s.symbols[a].uses, s.symbols[b].uses) })
	pruned, shapes := false, urn{newness: newShapes}
	for _, i := range order {
		x := &s.symbols[i]
		price := x.price
		with := s.costOf(x.bars)
		x.price = forbidden
		if s.costOf(x.bars) <= with+x.name+shapes.entry(x.uses) || x.own != nil && x.uses < leastUses {
			x.banned, pruned = true, true
			continue
		}
		x.price = price
	}
	return pruned
}

// costOf reports what the bars cost when each is said the shortest way.
func (s *study) costOf(bars []int) int {
	cost := 0
	for _, n := range bars {
		s.say(&s.bars[n])
		cost += s.bars[n].cost
	}
	return cost
}
