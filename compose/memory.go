package compose

import (
	"slices"

	"onward/compose/lattice"
)

// Seen is what a player has read before, however long ago. Both methods take runs of
// one length; see Run.
type Seen interface {
	// Seen reports which of the hashes are hashes of earlier runs.
	Seen(length int, hashes []uint64) (map[uint64]bool, error)
	// WithRhythm reports the intervals of the earlier runs that have one of the
	// rhythms, by rhythm.
	WithRhythm(length int, rhythms []uint64) (map[uint64][][]int8, error)
}

// A memory is what a read's runs must keep clear of: drills and recent reads from
// the start, of the others what turned out to be in the way.
type memory struct {
	length int
	books  []book          // of the drills, of recent reads, and of what was met
	full   map[uint64]bool // rhythms of which all earlier runs are in the last book
	clear  map[uint64]bool // hashes that were looked up and not met
	seen   Seen
}

func newMemory(w *World, req Request, length int) *memory {
	return &memory{length: length, books: []book{w.drilledBook(req.Drills, length), newBook(w.Recent, length), {}},
		full: map[uint64]bool{}, clear: map[uint64]bool{}, seen: w.Seen}
}

// memory reports the piece's memory of runs of the length in force. What one draw met, the
// next keeps clear of from the start.
func (p *piece) memory() *memory {
	m, ok := p.memories[p.run]
	if !ok {
		m = newMemory(p.world, p.req, p.run)
		p.memories[p.run] = m
	}
	return m
}

// A book holds runs by their rhythms.
type book map[uint64][][]lattice.Symbol

func newBook(lines []Line, length int) book {
	b := book{}
	for _, l := range lines {
		for _, r := range l.Runs(length) {
			b.add(r.Rhythm, r.Intervals)
		}
	}
	return b
}

func (b book) add(rhythm uint64, intervals []int8) {
	symbols := make([]lattice.Symbol, len(intervals))
	for i, s := range intervals {
		symbols[i] = lattice.Symbol(s)
	}
	b[rhythm] = append(b[rhythm], symbols)
}

// A drillsKey names a slice of drills and a length of run.
type drillsKey struct {
	first  *Line
	lines  int
	length int
}

// drilledBook makes the book of the drills once: all reads of a batch have the same.
func (w *World) drilledBook(drills []Line, length int) book {
	if len(drills) == 0 || w.books == nil {
		return newBook(drills, length)
	}
	key := drillsKey{&drills[0], len(drills), length}
	b, ok := w.books.Load(key)
	if !ok {
		b, _ = w.books.LoadOrStore(key, newBook(drills, length))
	}
	return b.(book)
}

// forbidden lists the runs that a passage with these notes' starts must not make, one
// for each place where the rhythm fits.
func (m *memory) forbidden(at []int64) []lattice.Run {
	var out []lattice.Run
	for w := 0; w+m.length <= len(at); w++ {
		rhythm := rhythmHash(at[w : w+m.length])
		for _, b := range m.books {
			for _, symbols := range b[rhythm] {
				out = append(out, lattice.Run{At: w, Symbols: symbols})
			}
		}
	}
	return out
}

// heard reports whether the line has a run that was drilled or read before, or that a tune has
// which was learned from.
func (m *memory) heard(l Line) (bool, error) {
	if len(l.learnedRuns()) > 0 {
		return true, nil
	}
	runs := l.Runs(m.length)
	for _, r := range runs {
		for _, b := range m.books {
			for _, symbols := range b[r.Rhythm] {
				if slices.EqualFunc(symbols, r.Intervals, func(a lattice.Symbol, b int8) bool { return int(a) == int(b) }) {
					return true, nil
				}
			}
		}
	}
	found, err := m.lookUp(runs)
	return len(found) > 0, err
}

// lookUp reports which of the runs' hashes were read before; none twice that was not.
func (m *memory) lookUp(runs []Run) (map[uint64]bool, error) {
	var hashes []uint64
	for _, r := range runs {
		if !m.clear[r.Hash] {
			hashes = append(hashes, r.Hash)
		}
	}
	if m.seen == nil || len(hashes) == 0 {
		return nil, nil
	}
	found, err := m.seen.Seen(m.length, hashes)
	if err != nil {
		return nil, err
	}
	for _, h := range hashes {
		if !found[h] {
			m.clear[h] = true
		}
	}
	return found, nil
}

// heardAny reports whether any of the lines has a run that was drilled or read before.
func (m *memory) heardAny(lines []Line) (bool, error) {
	for _, l := range lines {
		if heard, err := m.heard(l); heard || err != nil {
			return heard, err
		}
	}
	return false, nil
}

// met looks up a drawn line's runs among all earlier reads. Where one is met, every
// earlier run of that rhythm enters the book, and met reports true: the passage is to
// be drawn again with the book as it now is. A line kept after that is drawn as if
// all runs had been in the book from the start.
func (m *memory) met(l Line) (bool, error) {
	runs := l.Runs(m.length)
	found, err := m.lookUp(runs)
	if err != nil || len(found) == 0 {
		return false, err
	}
	var rhythms []uint64
	for _, r := range runs {
		if found[r.Hash] && !m.full[r.Rhythm] {
			m.full[r.Rhythm] = true
			rhythms = append(rhythms, r.Rhythm)
		}
	}
	if len(rhythms) == 0 { // every one is in the book: they stand where nothing is drawn
		return false, nil
	}
	more, err := m.seen.WithRhythm(m.length, rhythms)
	for _, r := range rhythms {
		for _, intervals := range more[r] {
			m.books[len(m.books)-1].add(r, intervals)
		}
	}
	return true, err
}
