package figure

import (
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A Found is a figure found in a part. Its notes are the onsets of the part, tied
// notes merged and grace notes left out, counted from 0.
type Found struct {
	Figure
	Measure int // index into the part's measures
	// At is where the cell begins in the measure; below 0 in a pickup whose cell
	// begins with a rest that the pickup leaves out.
	At    rhythm.Offset
	First int // the first onset
	Notes int
}

// What it costs to explain a measure, in thousandths of a figure. A figure of the
// vocabulary asked for costs figureCost alone.
const (
	figureCost    = 1000 // each figure: so the fewest, longest figures win
	strangeCost   = 1000 // each note of a figure outside the vocabulary
	cellCost      = 1400 // each note of a cell on which no shape is known
	aloneCost     = 1500 // each note that is in no figure
	shortenedCost = 10   // a note with a rest that the cell has not
	heldCost      = 20   // a note held through a rest of the cell
	graceCost     = 10   // grace notes that the cell has not
	oddCost       = 100  // a scale note off the key, a run spelled oddly, a chromatic shape within the key
	closeCost     = 50   // a move to the next chord member that is only a step
	respelledCost = 200  // pitches that fit only when spelled anew
	levelCost     = 1    // each level: the simpler of two names wins
	chordCost     = 3    // a shape along a chord: a plain leap is the simpler name
)

// Recognize finds the figures that the part is made of: the cheapest explanation of
// each measure, which is the one with the fewest and longest figures. A figure
// begins on a beat and lies in one measure. The key is the one in force; shapes are
// found in any key and transposition by their steps as spelled, or by semitones
// where the spelling fits none. Where a rhythm is a known cell but its notes are no
// known shape, the figure's Shape is "". Notes in no figure are left out.
func (c *Catalogue) Recognize(p *score.Part) []Found { return c.RecognizeIn(p, nil) }

// RecognizeIn is Recognize for a reader with a vocabulary: of all explanations, one
// that puts most notes into the vocabulary's figures. A nil vocabulary knows all.
func (c *Catalogue) RecognizeIn(p *score.Part, v *Vocabulary) []Found {
	var found []Found
	bars := hear(p)
	for i := range bars {
		found = append(found, bars[i].explain(c.readings(&bars[i], v))...)
	}
	return found
}

// A reading is one way to read some notes of a bar as a figure.
type reading struct {
	figure   Figure
	from, to rhythm.Offset
	first    int // index into the bar's sounds
	notes    int
	cost     int
}

// readings lists the ways to read the bar's notes as figures, by where they begin.
func (c *Catalogue) readings(b *bar, v *Vocabulary) map[rhythm.Offset][]reading {
	all := make(map[rhythm.Offset][]reading)
	for _, r := range c.cellsIn(b) {
		for _, h := range c.hear(b.sounds[r.first:r.first+r.notes], b.key) {
			known := r
			known.figure.Shape = h.shape.Name
			known.cost += h.cost + figureCost + strange(v, known.figure, r.notes)
			all[r.from] = append(all[r.from], known)
		}
		r.cost += cellCost * r.notes
		if v != nil {
			r.cost += strangeCost * r.notes
		}
		all[r.from] = append(all[r.from], r)
	}
	return all
}

// cellsIn lists the cells that the bar's notes can be read as, with what departures
// from their lengths cost.
func (c *Catalogue) cellsIn(b *bar) []reading {
	var all []reading
	patterns := c.patternsIn(b.meter)
	for at := rhythm.Offset(0); at < rhythm.Offset(b.meter.Measure()); at = at.Add(b.meter.Beat()) {
		for i := range patterns {
			p := &patterns[i]
			if first, cost, ok := p.fits(b, at); ok {
				all = append(all, reading{Figure{Cell: p.cell.Name}, at, at.Add(p.cell.Span), first, len(p.notes), cost})
			}
		}
	}
	return all
}

// strange reports what a figure outside the vocabulary costs more; nil knows all.
func strange(v *Vocabulary, f Figure, notes int) int {
	if v == nil || v.Knows(f) {
		return 0
	}
	return strangeCost * notes
}

// fits reports whether the bar's notes from at on have the pattern's onsets, the
// index of the first, and what departures from its lengths cost.
func (p *pattern) fits(b *bar, at rhythm.Offset) (first, cost int, ok bool) {
	end := at.Add(p.cell.Span)
	for first < len(b.sounds) && b.sounds[first].at < at {
		first++
	}
	if first+len(p.notes) > len(b.sounds) || end > rhythm.Offset(b.meter.Measure()) {
		return 0, 0, false
	}
	if first+len(p.notes) < len(b.sounds) && b.sounds[first+len(p.notes)].at < end {
		return 0, 0, false
	}
	if first > 0 && b.sounds[first-1].at.Add(b.sounds[first-1].length) > at {
		cost += heldCost
	}
	for i, want := range p.notes {
		got := b.sounds[first+i]
		if got.at != at+want.at || got.grace < want.grace {
			return 0, 0, false
		}
		if got.length < want.length {
			cost += shortenedCost
		}
		if got.length > want.length {
			cost += heldCost
		}
		if got.grace > want.grace {
			cost += graceCost
		}
	}
	return first, cost, true
}

// A hearing is what some notes can be heard as: a shape, and at what cost.
type hearing struct {
	shape *Shape
	cost  int
}

// hear lists the shapes that the sounds can be heard as: as they are spelled, or
// where the spelling fits none, spelled anew.
func (c *Catalogue) hear(sounds []sound, key theory.Key) []hearing {
	pitches := make([]theory.Pitch, len(sounds))
	for i := range sounds {
		pitches[i] = sounds[i].pitch
	}
	heard := c.hearSpelled(pitches, key, 0)
	if len(heard) == 0 {
		for i, p := range pitches {
			pitches[i] = respell(key, p)
		}
		heard = c.hearSpelled(pitches, key, respelledCost)
	}
	return heard
}

func (c *Catalogue) hearSpelled(pitches []theory.Pitch, key theory.Key, cost int) []hearing {
	var heard []hearing
	for _, s := range c.byNotes[len(pitches)] {
		if chord, ok := s.match(pitches, key); ok {
			heard = append(heard, hearing{s, cost + s.hearCost(pitches, key, chord)})
		}
	}
	return heard
}

// hearCost reports what hearing the pitches as the shape costs, over the chord if
// it moves along one.
func (s *Shape) hearCost(pitches []theory.Pitch, key theory.Key, chord theory.Chord) int {
	cost := levelCost*s.Level + int(chord.Quality) // plainer chords first
	if s.onChord() {
		cost += chordCost
	}
	chromatic, off := false, offKey(key, pitches[0])
	for i, m := range s.Moves {
		p, q := pitches[i], pitches[i+1]
		off = off || offKey(key, q)
		chromatic = chromatic || m.Unit >= Chromatic
		switch steps := q.Step() - p.Step(); {
		case m.Unit == Scale && offKey(key, q), m.Unit == ChromaticRun && q != chromaticStep(key, p, m.By):
			cost += oddCost
		case m.Unit == ChordTone && (steps == 1 || steps == -1):
			cost += closeCost
		}
	}
	if chromatic && !off {
		cost += oddCost
	}
	return cost
}

// offKey reports whether p is off the key's scale; in minor the raised sixth and
// seventh are on it.
func offKey(key theory.Key, p theory.Pitch) bool {
	degree, off := key.DegreeOf(p.Class())
	return off != 0 && !(key.Mode == theory.Minor && degree >= 6 && off == 1)
}

// respell reports the pitch that sounds as p and is the simplest in the key: of the
// scale, else with the letter that is nearest to the signature.
func respell(key theory.Key, p theory.Pitch) theory.Pitch {
	best, least := p, 99
	for step := p.Step() - 2; step <= p.Step()+2; step++ {
		q := key.At(step)
		off := p.MIDI() - q.MIDI()
		q.Alter += off
		if size := max(off, -off)*2 + max(q.Alter, -q.Alter); size < least {
			best, least = q, size
		}
	}
	return best
}

// explain picks the readings that explain the bar at the least cost, by dynamic
// programming from its end over the beats and the onsets off them. Of two that cost
// the same, the one that begins earlier, then the longer, wins: so a cell with a
// rest before or after wins over the cell without it.
func (b *bar) explain(readings map[rhythm.Offset][]reading) []Found {
	points := b.points()
	cost := make(map[rhythm.Offset]int, len(points))
	pick := make(map[rhythm.Offset]*reading)
	for i := len(points) - 2; i >= 0; i-- {
		at := points[i]
		cost[at] = cost[points[i+1]]
		if b.startsAt(at) {
			cost[at] += aloneCost
		}
		for j := range readings[at] {
			r := &readings[at][j]
			c := r.cost + cost[r.to]
			if c < cost[at] || c == cost[at] && (pick[at] == nil || r.to > pick[at].to) {
				cost[at], pick[at] = c, r
			}
		}
	}
	var found []Found
	for i := 0; i < len(points)-1; i++ {
		r := pick[points[i]]
		if r == nil {
			continue
		}
		found = append(found, Found{r.figure, b.index, r.from - rhythm.Offset(b.missing), b.first + r.first, r.notes})
		for points[i+1] < r.to {
			i++
		}
	}
	return found
}

// points lists the bar's beats and onsets in order, and the end of the measure.
func (b *bar) points() []rhythm.Offset {
	var points []rhythm.Offset
	next := 0
	end := rhythm.Offset(b.meter.Measure())
	for at := rhythm.Offset(0); at < end; at = at.Add(b.meter.Beat()) {
		points = append(points, at)
		for ; next < len(b.sounds) && b.sounds[next].at < at.Add(b.meter.Beat()); next++ {
			if b.sounds[next].at > at {
				points = append(points, b.sounds[next].at)
			}
		}
	}
	return append(points, end)
}

func (b *bar) startsAt(at rhythm.Offset) bool {
	for i := range b.sounds {
		if b.sounds[i].at == at {
			return true
		}
	}
	return false
}
