package musicxml

import (
	"cmp"
	"slices"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// notations takes what is drawn at a note. The slurs are put into marked, as "start 1"
// and the like.
func (b *lineBuilder) notations(m *score.Measure, n *score.Note, e *element, marked map[string]bool) {
	for _, k := range e.kids {
		switch k.name {
		case "tied":
		case "slur":
			marked[k.attr("type")+" "+k.attr("number")] = true
		case "tuplet":
			n.TupletStart = n.TupletStart || k.attr("type") == "start"
			n.TupletStop = n.TupletStop || k.attr("type") == "stop"
		case "articulations":
			for _, a := range k.kids {
				b.articulation(n, a)
			}
		case "fermata":
			n.Fermata = true
		case "dynamics":
			for _, d := range k.kids {
				if nearest, known := nearestMark[d.name]; known {
					m.Dynamics = append(m.Dynamics, score.Dynamic{At: n.At, Mark: nearest})
				}
			}
		case "ornaments", "technical":
			for _, o := range k.kids {
				b.warn("%.40s was left out", o.name)
			}
		default:
			b.warn("%.40s was left out", k.name)
		}
	}
}

func (b *lineBuilder) articulation(n *score.Note, e *element) {
	a, known := articulations[e.name]
	if !known {
		b.warn("%.40s was left out", e.name)
	}
	n.Staccato, n.Tenuto = n.Staccato || a.staccato, n.Tenuto || a.tenuto
	n.Accent, n.Marcato, n.Breath = n.Accent || a.accent, n.Marcato || a.marcato, n.Breath || a.breath
}

// articulations say what a sign of MusicXML is as one in use.
var articulations = map[string]struct{ staccato, tenuto, accent, marcato, breath bool }{
	"staccato": {staccato: true}, "staccatissimo": {staccato: true}, "spiccato": {staccato: true},
	"tenuto": {tenuto: true}, "detached-legato": {staccato: true, tenuto: true},
	"accent": {accent: true}, "stress": {accent: true}, "strong-accent": {marcato: true},
	"breath-mark": {breath: true}, "caesura": {breath: true},
}

// slurs settles what the slurs at a note mean for the line, in which one is open at
// a time.
func (b *lineBuilder) slurs(n *score.Note, marked map[string]bool) {
	for number, begins := range b.graceSlurs {
		switch {
		case begins && marked["stop "+number]:
			n.GraceSlur = true
			delete(marked, "stop "+number)
		case begins: // it goes on over the note
			marked["start "+number] = true
		default:
			marked["stop "+number] = true
		}
	}
	b.graceSlurs = nil
	if b.slur != "" && marked["stop"+b.slur] {
		n.SlurStop, b.slur = true, ""
	}
	for _, number := range []string{"", "1", "2", "3", "4", "5", "6"} {
		switch {
		case !marked["start "+number]:
		case marked["stop "+number] && !n.SlurStop: // both ends at one note
		case b.slur != "":
			b.warn("a slur inside another was left out")
		default:
			n.SlurStart, b.slur = true, " "+number
		}
	}
}

// mend puts right what the choice of one line may have torn: ties, hairpins, endings,
// tuplet brackets, beams; and brings the accidentals to the copyist's rule.
func (b *lineBuilder) mend() {
	b.mendTies()
	b.mendSlurs()
	b.mendDynamics()
	b.mendHairpins()
	b.mendEndings()
	report := score.Check(&score.Score{Parts: []score.Part{b.part}})
	if len(report.Of("tuplets").Offenders) > 0 {
		score.SetTuplets(&b.part)
	}
	if len(report.Of("beams").Offenders) > 0 {
		score.SetBeams(&b.part)
	}
	b.mendAccidentals()
}

// notes reports every note and rest of the line in order.
func (b *lineBuilder) notes() []*score.Note {
	var notes []*score.Note
	for i := range b.part.Measures {
		for j := range b.part.Measures[i].Notes {
			notes = append(notes, &b.part.Measures[i].Notes[j])
		}
	}
	return notes
}

// mendTies makes both sides of each tie agree. A tie into a second ending has no
// neighbour that begins it and stays.
func (b *lineBuilder) mendTies() {
	var before *score.Note // the last note ahead of the first ending
	var last *score.Note
	for i := range b.part.Measures {
		m := &b.part.Measures[i]
		for j := range m.Notes {
			n := &m.Notes[j]
			held := last != nil && last.TieStart && !last.Rest && !n.Rest && last.Pitch == n.Pitch
			if last != nil && last.TieStart && !held {
				last.TieStart = false
				b.warn("a tie to another pitch or to nothing was left out")
			}
			intoEnding := j == 0 && m.EndingStart && m.Ending == 2 && before != nil && before.TieStart && before.Pitch == n.Pitch
			if n.TieStop && !held && !intoEnding {
				b.warn("a tie that does not begin was left out")
			}
			n.TieStop = held || n.TieStop && intoEnding
			last = n
		}
		if m.Ending == 0 {
			before = last
		}
	}
	if last != nil && last.TieStart {
		last.TieStart = false
		b.warn("a tie to another pitch or to nothing was left out")
	}
}

// mendSlurs takes away the ends of slurs that have no other end.
func (b *lineBuilder) mendSlurs() {
	var open *score.Note
	for _, n := range b.notes() {
		if n.SlurStop && open == nil {
			n.SlurStop = false
			b.warn("a slur that does not begin was left out")
		}
		if n.SlurStop {
			open = nil
		}
		if n.SlurStart && open != nil {
			n.SlurStart = false
			b.warn("a slur inside another was left out")
		}
		if n.SlurStart {
			open = n
		}
	}
	if open != nil {
		open.SlurStart = false
		b.warn("a slur that does not end was left out")
	}
}

// mendDynamics brings the marks of each measure into order, one at a place.
func (b *lineBuilder) mendDynamics() {
	for i := range b.part.Measures {
		m := &b.part.Measures[i]
		var kept []score.Dynamic
		for _, d := range sortedByPlace(m.Dynamics, func(d score.Dynamic) rhythm.Offset { return d.At }) {
			if len(kept) > 0 && kept[len(kept)-1].At == d.At {
				if kept[len(kept)-1].Mark != d.Mark {
					b.warn("two dynamics at one place: the first was taken")
				}
				continue
			}
			kept = append(kept, d)
		}
		m.Dynamics = kept
	}
}

// sortedByPlace brings marks into order of time.
func sortedByPlace[M any](marks []M, at func(M) rhythm.Offset) []M {
	slices.SortStableFunc(marks, func(a, b M) int { return cmp.Compare(at(a), at(b)) })
	return marks
}

// mendHairpins leaves only hairpins that open when none is open and stop later.
func (b *lineBuilder) mendHairpins() {
	type spot struct {
		measure, index int
		at             rhythm.Offset
	}
	var open *spot
	for i := range b.part.Measures {
		m := &b.part.Measures[i]
		var kept []score.Hairpin
		for _, h := range sortedByPlace(m.Hairpins, func(h score.Hairpin) rhythm.Offset { return h.At }) {
			stops := h.Kind == score.HairpinStop
			here := spot{i, len(kept), h.At}
			switch {
			case stops == (open == nil), stops && open.measure == i && open.at == h.At:
				b.warn("a hairpin that does not pair was left out")
				continue
			case stops:
				open = nil
			default:
				open = &here
			}
			kept = append(kept, h)
		}
		m.Hairpins = kept
	}
	if open != nil {
		m := &b.part.Measures[open.measure]
		m.Hairpins = append(m.Hairpins[:open.index], m.Hairpins[open.index+1:]...)
		if len(m.Hairpins) == 0 {
			m.Hairpins = nil
		}
		b.warn("a hairpin that does not pair was left out")
	}
}

// mendEndings marks the measures between the two ends of a bracket and closes one
// that does not end.
func (b *lineBuilder) mendEndings() {
	under := 0
	for i := range b.part.Measures {
		m := &b.part.Measures[i]
		if under != 0 && m.EndingStart {
			b.part.Measures[i-1].EndingStop = true
		}
		switch {
		case m.EndingStart:
			under = m.Ending
		case under != 0:
			m.Ending = under
		case m.Ending != 0: // a bracket that ends and never began
			m.EndingStart = true
		}
		if m.EndingStop {
			under = 0
		}
	}
	if under != 0 {
		b.part.Measures[len(b.part.Measures)-1].EndingStop = true
	}
}

// mendAccidentals shows those that the page needs, makes courtesies of the others
// that stand in the file, and shows none on the continuation of a tie.
func (b *lineBuilder) mendAccidentals() {
	var inForce score.Accidentals
	var key theory.Key
	for i := range b.part.Measures {
		m := &b.part.Measures[i]
		if m.Key != nil {
			key = *m.Key
		}
		inForce.NewMeasure(key)
		for j := range m.Notes {
			n := &m.Notes[j]
			if n.Rest {
				continue
			}
			for _, g := range n.Grace {
				inForce.Sound(g)
			}
			shown := n.Accidental != score.Hidden
			n.Accidental = score.Hidden
			switch {
			case n.TieStop:
				inForce.Held(n.Pitch)
				continue
			case inForce.Needs(n.Pitch):
				n.Accidental = score.Shown
			case shown:
				n.Accidental = score.Courtesy
			}
			inForce.Sound(n.Pitch)
		}
	}
}
