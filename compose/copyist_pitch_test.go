package compose_test

import (
	"onward/compose/score"
	"onward/theory"
)

// pitchRules are what a copyist asks of spelling and accidentals.
var pitchRules = []rule{
	{"no double sharps or flats", "common practice for parts to be read at sight", 10_000, doubleAlterations, 0},
	{"a chord's note is spelled as the chord spells it", "common practice", 2_500, chordSpelling, 2},
	{"chromatic notes are raised to rise and lowered to fall", "common practice; engraving handbooks, from memory", 30, chromaticDirection, 150},
	{"no augmented seconds, no doubly altered intervals in a line", "common practice; harmonic minor's own steps aside", 7_500, oddIntervals, 5},
	{"one sound has one name in a measure", "common practice", 2_500, twoNames, 3},
	{"accidentals are printed where they are needed, once", "common practice: in force at one staff position to the barline", 10_000, accidentalsPrinted, 0},
	{"ties over a barline repeat no accidental", "common practice", 50, tiedAccidentals, 0},
	{"courtesy accidentals where a player may doubt", "engraving handbooks, from memory: next measure, other octave", 15, courtesies, 0},
}

func doubleAlterations(p *page, l *look) {
	for _, n := range p.tones {
		for _, q := range append([]theory.Pitch{n.pitch()}, n.first.Grace...) {
			l.examined++
			if q.Alter < -1 || q.Alter > 1 {
				l.blame(p, n.first.measure, "%s", q)
			}
		}
	}
}

func chordSpelling(p *page, l *look) {
	for _, n := range p.tones {
		for _, c := range n.chord.Tones() {
			if c.Chroma() == n.pitch().Class().Chroma() {
				l.examined++
				if c != n.pitch().Class() && c.Alter >= -1 && c.Alter <= 1 {
					l.blame(p, n.first.measure, "%s over %s", n.pitch(), n.chord)
				}
			}
		}
	}
}

// diatonic reports whether a pitch belongs to its key, the raised sixth and seventh of
// minor among it.
func diatonic(k theory.Key, c theory.Class) bool {
	for n := 1; n <= 7; n++ {
		if k.Degree(n) == c || k.Harmonic(n) == c || k.Melodic(n) == c {
			return true
		}
	}
	return false
}

// A chromatic note outside the chord that goes on by a semitone goes to the next
// staff position, F-sharp to G, G-flat to F, but for the raised fourth, which may fall,
// and the lowered seventh, which may rise: so chromatic scales are usually written. Nor
// is a natural written E-sharp, B-sharp, F-flat or C-flat, where the chord does not ask.
func chromaticDirection(p *page, l *look) {
	for i := 0; i+1 < len(p.tones); i++ {
		a, b := &p.tones[i], &p.tones[i+1]
		d := b.pitch().MIDI() - a.pitch().MIDI()
		if d != 1 && d != -1 || diatonic(a.first.key, a.pitch().Class()) || a.chord.Has(a.pitch().Class()) || a.last.end != b.first.start {
			continue
		}
		l.examined++
		degree, altered := a.first.key.DegreeOf(a.pitch().Class())
		usual := d < 0 && degree == 4 && altered > 0 || d > 0 && degree == 7 && altered < 0
		usual = usual || a.pitch().Alter == 0
		if b.pitch().Step()-a.pitch().Step() != d && !usual {
			l.blame(p, a.first.measure, "%s to %s over %s in %s", a.pitch(), b.pitch(), a.chord, a.first.key)
		}
	}
}

// oddIntervals lets through, beside what the major scale has, the chromatic semitone,
// the diminished fourth, fifth and seventh and the augmented fourth, and in minor the
// augmented second and fifth between the raised seventh and the key's own notes.
func oddIntervals(p *page, l *look) {
	usual := map[[2]int]bool{}
	for steps, semitones := range [][]int{{0, 1}, {1, 2}, {3, 4}, {4, 5, 6}, {6, 7}, {8, 9}, {9, 10, 11}, {12}} {
		for _, s := range semitones {
			usual[[2]int{steps, s}] = true
		}
	}
	for i := 0; i+1 < len(p.tones); i++ {
		a, b := &p.tones[i], &p.tones[i+1]
		if a.section != b.section || a.phrase != b.phrase || a.last.end != b.first.start {
			continue
		}
		low, high := a.pitch(), b.pitch()
		if low.Step() > high.Step() || low.Step() == high.Step() && low.Alter > high.Alter {
			low, high = high, low
		}
		in := theory.Between(low, high)
		for in.Steps >= 7 && in.Semitones >= 12 {
			in.Steps, in.Semitones = in.Steps-7, in.Semitones-12
		}
		l.examined++
		key := a.first.key
		harmonic := key.Mode == theory.Minor && (low.Class() == key.LeadingTone() || high.Class() == key.LeadingTone())
		chordal := a.chord.Has(a.pitch().Class()) && a.chord.Has(b.pitch().Class())
		if !usual[[2]int{in.Steps, in.Semitones}] && !harmonic && !chordal {
			l.blame(p, a.first.measure, "%s to %s over %s in %s", a.pitch(), b.pitch(), a.chord, key)
		}
	}
}

// resolves reports whether a tone is named for where it goes: a half step on, to the
// next staff position.
func (p *page) resolves(i int) bool {
	if i+1 >= len(p.tones) {
		return false
	}
	steps := p.tones[i+1].pitch().Step() - p.tones[i].pitch().Step()
	return (steps == 1 || steps == -1) && p.tones[i+1].pitch().MIDI()-p.tones[i].pitch().MIDI() == steps
}

// A pitch is not written E-sharp and F in one measure, unless each is of its chord or
// named for where it goes.
func twoNames(p *page, l *look) {
	for i := range p.tones {
		a := &p.tones[i]
		l.examined++
		for j := i + 1; j < len(p.tones) && p.tones[j].first.measure == a.first.measure; j++ {
			b := &p.tones[j]
			asked := (a.chord.Has(a.pitch().Class()) || p.resolves(i)) && (b.chord.Has(b.pitch().Class()) || p.resolves(j))
			if a.pitch().MIDI() == b.pitch().MIDI() && a.pitch() != b.pitch() && !asked {
				l.blame(p, a.first.measure, "%s and %s", a.pitch(), b.pitch())
			}
		}
	}
}

// accidentalsPrinted keeps its own account of what is in force.
func accidentalsPrinted(p *page, l *look) {
	inForce, measure := map[int]int{}, -1
	for _, n := range p.ink {
		if n.measure != measure {
			inForce, measure = map[int]int{}, n.measure
		}
		if n.Rest || n.TieStop {
			continue
		}
		for _, g := range n.Grace {
			inForce[g.Step()] = g.Alter
		}
		now, stated := inForce[n.Pitch.Step()]
		if !stated {
			now = n.key.Alter(n.Pitch.Letter)
		}
		l.examined++
		if needed := now != n.Pitch.Alter; needed != (n.Accidental == score.Shown) {
			l.blame(p, n.measure, "%s: an accidental is needed: %t, printed: %t", n.Pitch, needed, n.Accidental == score.Shown)
		}
		inForce[n.Pitch.Step()] = n.Pitch.Alter
	}
}

func tiedAccidentals(p *page, l *look) {
	for _, n := range p.ink {
		if n.TieStop {
			l.examined++
			if n.Accidental != score.Hidden {
				l.blame(p, n.measure, "%s", n.Pitch)
			}
		}
	}
}

// courtesies looks at plain notes of the key whose staff position was altered in the
// measure before, or whose letter was altered in this measure in another octave.
func courtesies(p *page, l *look) {
	for i, n := range p.ink {
		if n.Rest || n.TieStop || n.Accidental == score.Shown {
			continue
		}
		same, before, octave := false, false, false // seen here; altered before; altered here elsewhere
		last, latest := 0, map[int]bool{}
		for j := i - 1; j >= 0 && p.ink[j].measure >= n.measure-1; j-- {
			e := p.ink[j]
			if e.Rest {
				continue
			}
			here, position := e.measure == n.measure, e.Pitch.Step() == n.Pitch.Step()
			for _, g := range e.Grace { // they have said it
				same = same || g == n.Pitch
			}
			switch {
			case here && position && !e.TieStop:
				same = true
			case here && !position && e.Pitch.Letter == n.Pitch.Letter:
				octave = octave || !latest[e.Pitch.Step()] && e.Pitch.Alter != n.Pitch.Alter
				latest[e.Pitch.Step()] = true
			case !here && position && last == 0:
				last, before = 1, e.Pitch.Alter != n.Pitch.Alter
			}
		}
		if same || !before && !octave || len(n.Grace) > 0 {
			continue
		}
		l.examined++
		if n.Accidental != score.Courtesy {
			l.blame(p, n.measure, "%s has no reminder", n.Pitch)
		}
	}
}
