package figure

import (
	"cmp"
	"slices"
	"strings"

	"onward/compose/score"
)

// Learn is the vocabulary of a player who has drilled the parts: Study without new
// figures, so that all of it is of the catalogue.
func (c *Catalogue) Learn(parts ...*score.Part) Vocabulary { return c.study(false, parts).Vocabulary }

// lesson reports what the study has settled on.
func (s *study) lesson() Lesson {
	var l Lesson
	l.Own = s.nameNew()
	for i := range s.bars {
		s.report(&l, &s.bars[i])
	}
	total := s.settle()
	l.ByFigure, l.ByNote = float64(total)/bit, s.byNote()
	l.Own = s.catalogue.usedOwn(&l.Vocabulary)
	return l
}

// Rename is Vocabulary.Rename for the whole lesson.
func (l Lesson) Rename(c *Catalogue, names map[string]string) (Lesson, error) {
	v, err := l.Vocabulary.Rename(c, names)
	if err != nil {
		return l, err
	}
	l.Vocabulary, l.Meetings = v, slices.Clone(l.Meetings)
	for i, m := range l.Meetings {
		if to, ok := names[m.Shape]; ok {
			l.Meetings[i].Shape = to
		}
	}
	return l, nil
}

// byNote reports the length of the bars written note by note, in bits.
func (s *study) byNote() float64 {
	cost := 0
	for i := range s.bars {
		for _, n := range s.bars[i].notes {
			cost += n + valueBits
		}
	}
	return float64(cost) / bit
}

// nameNew names the new shapes that are used, those that take in most notes first.
func (s *study) nameNew() []Own {
	notes := map[string]int{}
	for i := range s.symbols {
		if x := &s.symbols[i]; x.own != nil && x.uses > 0 {
			notes[formatMoves(x.own)] += x.uses * (len(x.own) + 1)
		}
	}
	var moves []string
	for m := range notes {
		moves = append(moves, m)
	}
	slices.SortFunc(moves, func(a, b string) int { return cmp.Or(notes[b]-notes[a], cmp.Compare(a, b)) })
	named := s.catalogue.nameOwn(moves, nil)
	for i := range s.symbols {
		x := &s.symbols[i]
		for _, o := range named {
			if x.figure.Shape == newShape+o.Moves {
				x.figure.Shape = o.Name
			}
		}
	}
	return named
}

// usedOwn lists the shapes of the player's own among the vocabulary's figures: the new
// ones and those that the catalogue was given.
func (c *Catalogue) usedOwn(v *Vocabulary) []Own {
	var own []Own
	for _, o := range v.Own {
		if slices.ContainsFunc(v.Figures, func(e Entry) bool { return e.Shape == o.Name }) {
			own = append(own, o)
		}
	}
	for i := range c.Shapes {
		shape := &c.Shapes[i]
		if shape.Family == OwnFamily && slices.ContainsFunc(v.Figures, func(e Entry) bool { return e.Shape == shape.Name }) {
			own = append(own, Own{shape.Name, formatMoves(shape.Moves)})
		}
	}
	return own
}

// report adds what a bar is made of to the lesson.
func (s *study) report(l *Lesson, b *studyBar) {
	v := Vocabulary{
		Keys:   []KeyCount{{b.key, 1}},
		Meters: []MeterCount{{b.meter.String(), 1}},
		Total:  len(b.sounds),
	}
	for _, w := range b.picks {
		f := s.symbols[w.symbol].figure
		v.Cells = merge(v.Cells, []CellCount{{f.Cell, 1}}, cellParts)
		s.within(&v, b, w)
		if f.Shape == "" {
			continue
		}
		v.Explained += w.last - w.first
		v.add(Entry{Figure: f, Count: 1, Notes: w.last - w.first})
		l.meet(Meeting{f, b.key, 1})
	}
	own := l.Own
	l.Vocabulary = l.Vocabulary.Merge(v)
	l.Own = own
}

// within adds the other figures that the notes of one, or of a cell, can plainly be
// taken for, and those inside it: they do not pay for themselves here, but were played.
func (s *study) within(v *Vocabulary, b *studyBar, around way) {
	for at := around.at; at < around.to; at++ {
		for _, w := range b.ways[at] {
			f := s.symbols[w.symbol].figure
			if w.to > around.to || !w.plain || f.Shape == "" || w.symbol == around.symbol && w.at == around.at && w.to == around.to || strings.HasPrefix(f.Shape, newShape) {
				continue
			}
			v.add(Entry{Figure: f, Within: 1})
		}
	}
}

// meet counts a meeting in.
func (l *Lesson) meet(m Meeting) {
	i := slices.IndexFunc(l.Meetings, func(x Meeting) bool { return x.Figure == m.Figure && x.Key == m.Key })
	if i < 0 {
		l.Meetings = append(l.Meetings, m)
		return
	}
	l.Meetings[i].Times += m.Times
}

func cellParts(c *CellCount) (string, *int) { return c.Cell, &c.Count }
