package warmup

import (
	"math/rand/v2"

	"onward/compose/figure"
	"onward/rhythm"
)

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
