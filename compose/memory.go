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
	book   map[uint64][][]int8
	full   map[uint64]bool // rhythms of which all earlier runs are in the book
	seen   Seen
}

func newMemory(w *World, req Request, length int) *memory {
	m := &memory{length: length, book: map[uint64][][]int8{}, full: map[uint64]bool{}, seen: w.Seen}
	for _, lines := range [2][]Line{req.Drills, w.Recent} {
		for _, l := range lines {
			for _, r := range l.Runs(length) {
				m.book[r.Rhythm] = append(m.book[r.Rhythm], r.Intervals)
			}
		}
	}
	return m
}

// forbidden lists the runs that a passage with these notes' starts must not make, one
// for each place where the rhythm fits.
func (m *memory) forbidden(at []int64) []lattice.Run {
	var out []lattice.Run
	for w := 0; w+m.length <= len(at); w++ {
		for _, intervals := range m.book[rhythmHash(at[w:w+m.length])] {
			symbols := make([]lattice.Symbol, len(intervals))
			for i, s := range intervals {
				symbols[i] = lattice.Symbol(s)
			}
			out = append(out, lattice.Run{At: w, Symbols: symbols})
		}
	}
	return out
}

// heard reports whether the line has a run that was drilled or read before.
func (m *memory) heard(l Line) (bool, error) {
	runs := l.Runs(m.length)
	var hashes []uint64
	for _, r := range runs {
		for _, in := range m.book[r.Rhythm] {
			if slices.Equal(in, r.Intervals) {
				return true, nil
			}
		}
		hashes = append(hashes, r.Hash)
	}
	if m.seen == nil {
		return false, nil
	}
	found, err := m.seen.Seen(m.length, hashes)
	return len(found) > 0, err
}

// met looks up a drawn line's runs among all earlier reads. Where one is met, every
// earlier run of that rhythm enters the book, and met reports true: the passage is to
// be drawn again with the book as it now is. A line kept after that is drawn as if
// all runs had been in the book from the start.
func (m *memory) met(l Line) (bool, error) {
	if m.seen == nil {
		return false, nil
	}
	runs := l.Runs(m.length)
	hashes := make([]uint64, len(runs))
	for i, r := range runs {
		hashes[i] = r.Hash
	}
	found, err := m.seen.Seen(m.length, hashes)
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
		m.book[r] = append(m.book[r], more[r]...)
	}
	return true, err
}
