package band

import (
	"onward/compose"
	"onward/compose/musicxml"
	"onward/midi/timeline"
	"onward/rhythm"
	"onward/theory"
)

// Harmonize finds chords to the line of a part, counted from 0, in each measure as
// printed: one to the measure, or one to the half of a measure of four beats or more.
//
// It is the best of all ways through the key's own chords and the dominants applied to
// them (Viterbi, IEEE Trans. Inf. Theory 13, 1967): a chord gains by the time that the line
// sounds its members, loses by what else the line sounds, longer notes and those on the
// beat first, and a step to the next gains by how usual it is. The weights are our own.
func Harmonize(p *musicxml.Piece, part int) []compose.Chord {
	slots := slotsOf(p, part)
	var ways [][]way
	for i, s := range slots {
		now := make([]way, len(s.vocabulary))
		for k := range now {
			gain := s.fit(k)
			if i == 0 {
				now[k] = way{gain: gain + opening(k), from: -1}
				continue
			}
			for from, w := range ways[i-1] {
				total := w.gain + gain + slots[i-1].step(from, &slots[i], k)
				if from == 0 || total > now[k].gain {
					now[k] = way{total, from}
				}
			}
		}
		ways = append(ways, now)
	}
	chords := make([]compose.Chord, len(slots))
	best := 0
	for k, w := range ways[len(ways)-1] {
		if w.gain+closing(k) > ways[len(ways)-1][best].gain+closing(best) {
			best = k
		}
	}
	for i := len(slots) - 1; i >= 0; i-- {
		chords[i] = compose.Chord{Measure: slots[i].measure, At: slots[i].at, Chord: slots[i].vocabulary[best].chord}
		best = ways[i][best].from
	}
	return chords
}

// ChordsOf reports the chord symbols of a piece, those of the part if it has some, else of
// the first part that has; a piece without is harmonized.
func ChordsOf(p *musicxml.Piece, part int) []compose.Chord {
	for _, i := range append([]int{part}, numbers(len(p.Parts))...) {
		if chords := symbols(p, i); chords != nil {
			return chords
		}
	}
	return Harmonize(p, part)
}

func numbers(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// symbols lists the chord symbols of a part, with one at the start of each measure: the
// one that goes on, before the first the tonic. It is nil where there are none.
func symbols(p *musicxml.Piece, part int) []compose.Chord {
	var chords []compose.Chord
	printed := false
	now := concertKeys(p, part)[0].Triad(1)
	for i, m := range p.Measures {
		last := rhythm.Offset(-1)
		for _, c := range p.Parts[part].Chords[i] {
			if last < 0 && c.At > 0 {
				chords, last = append(chords, compose.Chord{Measure: i, Chord: now}), 0
			}
			if now, printed = c.Chord, true; c.At > last && c.At < rhythm.Offset(m.Length) {
				chords, last = append(chords, compose.Chord{Measure: i, At: c.At, Chord: now}), c.At
			}
		}
		if last < 0 {
			chords = append(chords, compose.Chord{Measure: i, Chord: now})
		}
	}
	if !printed {
		return nil
	}
	return chords
}

// A way is the best way to a chord: what it gains and the chord before. Gains are in
// hundredths of a quarter note that fits.
type way struct {
	gain int64
	from int
}

// A candidate is a chord that a slot may have.
type candidate struct {
	chord  theory.Chord
	degree int // of its root
	leads  int // an applied dominant's degree that it leads to, 0 for none
	worth  int64
}

// The places of the tonic and the dominant seventh in the vocabulary.
const (
	tonicAt = iota
	dominantAt
)

// vocabularyOf are the chords of a key, the tonic first.
func vocabularyOf(k theory.Key) []candidate {
	list := []candidate{
		{chord: k.Triad(1), degree: 1, worth: 50}, {chord: k.DominantSeventh(), degree: 5, worth: 25},
		{chord: k.Triad(4), degree: 4, worth: 25}, {chord: k.Triad(5), degree: 5, worth: 20}, {chord: k.Triad(2), degree: 2, worth: 5},
		{chord: k.Triad(6), degree: 6, worth: 5}, {chord: k.Triad(3), degree: 3, worth: -40},
	}
	for _, degree := range []int{5, 4, 2, 6} {
		if k.Mode == theory.Minor && degree == 2 {
			continue // nothing leads to a diminished chord
		}
		list = append(list, candidate{chord: k.Applied(degree), degree: degree + 4, leads: degree, worth: -60})
	}
	return list
}

// A slot is a place for a chord.
type slot struct {
	measure    int
	at         rhythm.Offset
	length     rhythm.Duration
	key        theory.Key
	first      bool // of its measure
	vocabulary []candidate
	sounds     [12]int64 // what the line sounds of each pitch class, in hundredths of a quarter
}

// slotsOf lists the places for chords and what sounds in them.
func slotsOf(p *musicxml.Piece, part int) []slot {
	keys := concertKeys(p, part)
	var slots []slot
	for i, m := range p.Measures {
		parts := rhythm.Duration(1)
		if m.Meter.Count() >= 4 && m.Meter.Count()%2 == 0 && m.Length == m.Meter.Measure() {
			parts = 2
		}
		for k := range parts {
			s := slot{measure: i, at: rhythm.Offset(k * (m.Length / parts)), length: m.Length / parts, key: keys[i], first: k == 0, vocabulary: vocabularyOf(keys[i])}
			for _, n := range p.Parts[part].Notes[i] {
				s.hear(n, m.Meter)
			}
			slots = append(slots, s)
		}
	}
	return slots
}

// hear adds what of a note sounds in the slot; what begins on a beat counts half as much
// again, on the slot's first twice.
func (s *slot) hear(n musicxml.PieceNote, meter rhythm.Meter) {
	from, to := max(s.at, n.At), min(s.at.Add(s.length), n.At.Add(n.Length))
	if n.Grace || to <= from {
		return
	}
	weight := int64(to-from) * 100 / int64(rhythm.Quarter)
	switch {
	case n.At == s.at:
		weight *= 2
	case meter.OnBeat(n.At):
		weight = weight * 3 / 2
	}
	s.sounds[n.Key%12] += weight
}

// fit reports what the slot's chord k gains from the line.
func (s *slot) fit(k int) int64 {
	c := s.vocabulary[k]
	var has [12]bool
	for _, tone := range c.chord.Tones() {
		has[tone.Chroma()] = true
	}
	gain := c.worth
	for class, weight := range s.sounds {
		if has[class] {
			gain += weight
		} else {
			gain -= weight
		}
	}
	return gain
}

// step reports what going from chord i of the slot to chord k of the next gains.
func (s *slot) step(i int, next *slot, k int) int64 {
	a, b := s.vocabulary[i], next.vocabulary[k]
	switch {
	case s.key != next.key:
		return 0
	case a.leads > 0 && (b.degree-a.leads)%7 == 0 && b.leads == 0:
		return 80
	case a.leads > 0 && a.chord != b.chord:
		return -150 // an applied dominant goes where it leads
	case a.chord == b.chord && !next.first:
		return 60 // no new chord in the middle of a measure without need
	case a.chord == b.chord:
		return 0
	case a.degree == 5 && b.degree == 1 || a.degree == 4 && b.degree == 5 || a.degree == 2 && b.degree == 5:
		return 40
	case a.degree == 5 && (b.degree == 4 || b.degree == 2):
		return -40
	}
	return 0
}

// opening and closing are what the first and the last chord gain by being the tonic.
func opening(k int) int64 {
	if k == tonicAt {
		return 60
	}
	return 0
}

func closing(k int) int64 {
	if k == tonicAt {
		return 200
	}
	return 0
}

// readOf makes a read of the one line of a piece, so that a style's band can play to it.
func readOf(p *musicxml.Piece, part int, l *timeline.Layout, opts PieceOptions) *compose.Read {
	r := &compose.Read{Title: p.Title, Style: opts.Style, Meter: l.Measures[0].Meter, Key: l.Measures[0].Key, Chords: ChordsOf(p, part)}
	keys := concertKeys(p, part)
	for i := range p.Measures {
		if n := len(r.Sections); n == 0 || keys[i] != keys[i-1] {
			r.Sections = append(r.Sections, compose.Section{Name: "Strain", First: i, Key: keys[i]})
		}
		r.Sections[len(r.Sections)-1].Measures++
	}
	const phrase = 4 // measures, where nothing tells
	for i := range r.Sections {
		s := &r.Sections[i]
		for first := s.First; first < s.First+s.Measures; first += phrase {
			s.Phrases = append(s.Phrases, compose.Phrase{First: first, Measures: min(phrase, s.First+s.Measures-first)})
		}
	}
	return r
}
