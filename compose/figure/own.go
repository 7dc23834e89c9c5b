package figure

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"onward/theory"
)

// An Own is a shape of the player's own: one that recurs in what was drilled and that
// the catalogue has not.
type Own struct {
	Name  string `toml:"name" json:"name"`
	Moves string `toml:"moves" json:"moves"` // as in shapes.toml
}

// OwnFamily is the family of shapes of the player's own.
const OwnFamily = "own"

// The fewest and the most notes of a shape that is proposed.
const (
	ownFewest = 3
	ownMost   = 16
)

// longestName is how many characters a name may have.
const longestName = 60

// Words says how the shape moves, as a player would: "up a third, down a step".
func (o Own) Words() string {
	moves, err := ParseMoves(o.Moves)
	if err != nil {
		return o.Moves
	}
	var words []string
	for _, m := range moves {
		words = append(words, m.words())
	}
	return strings.Join(words, ", ")
}

// words says where the move leads: "up a third", "down the chord", "the same".
func (m Move) words() string {
	way, by := "up", m.By
	if by < 0 {
		way, by = "down", -by
	}
	switch {
	case by == 0:
		return "the same"
	case m.Unit == ChordTone && by == 1:
		return way + " the chord"
	case m.Unit == ChordTone:
		return fmt.Sprintf("%s the chord by %d", way, by)
	case m.Unit != Scale:
		return way + " a half step"
	}
	names := []string{"a step", "a third", "a fourth", "a fifth", "a sixth", "a seventh", "an octave", "a ninth", "a tenth"}
	if by <= len(names) {
		return way + " " + names[by-1]
	}
	return fmt.Sprintf("%s %d steps", way, by)
}

// shape makes a shape of the catalogue of it. Its level is that of its hardest move: of
// steps 2, and one more for each step that the widest leap is wider, chromatic 8; one
// more if it has more than five notes; 12 at most.
func (o Own) shape() (Shape, error) {
	s := Shape{Name: o.Name, Family: OwnFamily, Words: o.Words()}
	name := strings.TrimSpace(o.Name)
	if name == "" || name != o.Name || len([]rune(name)) > longestName || strings.ContainsFunc(name, unicode.IsControl) {
		return s, fmt.Errorf("name %q: write 1 to %d characters, none of them control characters or spaces at an end", o.Name, longestName)
	}
	moves, err := ParseMoves(o.Moves)
	if err != nil {
		return s, err
	}
	if n := len(moves) + 1; n < ownFewest || n > ownMost {
		return s, fmt.Errorf("moves %q make %d notes, not %d to %d", o.Moves, n, ownFewest, ownMost)
	}
	s.Moves, s.Level = moves, 2
	for _, m := range moves {
		by := max(m.By, -m.By)
		switch {
		case m.Unit >= Chromatic:
			s.Level = max(s.Level, 8)
		case m.Unit == ChordTone:
			s.Level = max(s.Level, 2*by+1)
		default:
			s.Level = max(s.Level, by+1)
		}
	}
	if len(moves) > 4 {
		s.Level++
	}
	s.Level = min(s.Level, 12)
	return s, nil
}

// With is the catalogue with shapes of the player's own after its own shapes; c itself
// if there are none. A shape whose name the catalogue has with the same moves is passed
// over; with other moves, and moves that cannot be read, it is an error.
func (c *Catalogue) With(own []Own) (*Catalogue, error) {
	var more []Shape
	for _, o := range own {
		s, err := o.shape()
		if err != nil {
			return nil, fmt.Errorf("own shape %q: %w", o.Name, err)
		}
		had := c.Shape(o.Name)
		for i := range more {
			if more[i].Name == o.Name {
				had = &more[i]
			}
		}
		switch {
		case had == nil:
			more = append(more, s)
		case had.Family != OwnFamily:
			return nil, fmt.Errorf("own shape %q: the catalogue has a shape of this name; give it another", o.Name)
		case formatMoves(had.Moves) != formatMoves(s.Moves):
			return nil, fmt.Errorf("own shape %q: two shapes have this name; give one another", o.Name)
		}
	}
	if len(more) == 0 {
		return c, nil
	}
	with := &Catalogue{
		Shapes: append(slices.Clone(c.Shapes), more...), Cells: c.Cells,
		shapes: map[string]*Shape{}, cells: c.cells, byNotes: map[int][]*Shape{}, patterns: c.patterns,
	}
	for i := range with.Shapes {
		s := &with.Shapes[i]
		with.shapes[s.Name] = s
		with.byNotes[s.Notes()] = append(with.byNotes[s.Notes()], s)
	}
	return with, nil
}

// formatMoves writes moves as shapes.toml does.
func formatMoves(moves []Move) string {
	words := make([]string, len(moves))
	for i, m := range moves {
		words[i] = m.String()
	}
	return strings.Join(words, " ")
}

// proposals lists the shapes, without names, that the pitches could be called: by steps
// and half steps, and by members of the chord if they lie in one.
func proposals(pitches []theory.Pitch, key theory.Key) []Shape {
	if len(pitches) < ownFewest || len(pitches) > ownMost {
		return nil
	}
	var all []Shape
	for _, moves := range [][]Move{stepMoves(pitches, key), chordMoves(pitches)} {
		s := Shape{Family: OwnFamily, Moves: moves}
		if moves != nil && s.Matches(pitches, key) {
			all = append(all, s)
		}
	}
	return all
}

// stepMoves reports how the pitches move by steps of the scale, by half steps where one
// of the two is off it; nil where they do neither.
func stepMoves(pitches []theory.Pitch, key theory.Key) []Move {
	var moves []Move
	for i, q := range pitches[1:] {
		p := pitches[i]
		by, semitones := q.Step()-p.Step(), q.MIDI()-p.MIDI()
		off := offKey(key, p) || offKey(key, q)
		switch {
		case by == semitones && (by == 1 || by == -1) && off:
			moves = append(moves, Move{Chromatic, by})
		case by == 0 && (semitones == 1 || semitones == -1):
			moves = append(moves, Move{ChromaticRun, semitones})
		case by >= -14 && by <= 14 && scaleMove(key, p, q, by):
			moves = append(moves, Move{Scale, by})
		default:
			return nil
		}
	}
	return moves
}

// chordMoves reports how the pitches move along the plainest chord that has them all,
// nil if there is none or nothing moves.
func chordMoves(pitches []theory.Pitch) []Move {
	for q, build := range builds {
		for _, b := range build {
			chord := theory.Chord{Root: pitches[0].Class().Transpose(b.Neg()), Quality: theory.Quality(q)}
			if moves := movesAlong(pitches, chord); moves != nil {
				return moves
			}
		}
	}
	return nil
}

func movesAlong(pitches []theory.Pitch, chord theory.Chord) []Move {
	var moves []Move
	moved := false
	for i, q := range pitches[1:] {
		if q == pitches[i] {
			moves = append(moves, Move{Scale, 0})
			continue
		}
		by, ok := membersBetween(pitches[i], q, chord)
		if !ok || by > 14 || by < -14 {
			return nil
		}
		moves, moved = append(moves, Move{ChordTone, by}), true
	}
	if !moved {
		return nil
	}
	return moves
}

// membersBetween reports how many members of the chord lead from p to q.
func membersBetween(p, q theory.Pitch, chord theory.Chord) (int, bool) {
	from, to := member(chord, p.Class()), member(chord, q.Class())
	if from < 0 || to < 0 {
		return 0, false
	}
	n := len(builds[chord.Quality])
	root := func(x theory.Pitch, member int) int { return (x.Step() - builds[chord.Quality][member].Steps) / 7 }
	by := to - from + n*(root(q, to)-root(p, from))
	at, ok := chordMove(chord, p, by)
	return by, ok && at == q
}

// nameOwn gives the new shapes names, "own 1" the one that comes first, that neither the
// catalogue nor taken has.
func (c *Catalogue) nameOwn(moves []string, taken []Own) []Own {
	var named []Own
	n := 0
	for _, m := range moves {
		name := ""
		for used := true; used; {
			n++
			name = fmt.Sprintf("own %d", n)
			used = c.Shape(name) != nil || slices.ContainsFunc(taken, func(o Own) bool { return o.Name == name })
		}
		named = append(named, Own{name, m})
	}
	return named
}

// Rename gives shapes of the player's own new names, old name to new. An old name that
// is none of theirs, and a new one that the catalogue or another shape has, is an error.
func (v Vocabulary) Rename(c *Catalogue, names map[string]string) (Vocabulary, error) {
	for _, old := range slices.Sorted(maps.Keys(names)) {
		if !slices.ContainsFunc(v.Own, func(o Own) bool { return o.Name == old }) {
			return v, fmt.Errorf("%q is no shape of your own here%s", old, v.ownNames())
		}
	}
	v.Own = slices.Clone(v.Own)
	for i, o := range v.Own {
		if to, ok := names[o.Name]; ok {
			v.Own[i].Name = to
		}
	}
	if _, err := c.With(v.Own); err != nil {
		return v, err
	}
	if n := len(v.Own); n > len(slices.CompactFunc(sortedOwn(v.Own), func(a, b Own) bool { return a.Name == b.Name })) {
		return v, fmt.Errorf("two shapes of your own would have one name")
	}
	return v.renamed(names), nil
}

// ownNames lists the names of the player's own shapes for an error.
func (v Vocabulary) ownNames() string {
	if len(v.Own) == 0 {
		return ": there is none"
	}
	var names []string
	for _, o := range v.Own {
		names = append(names, o.Name)
	}
	return ": there is " + strings.Join(names, ", ")
}

// renamed is the vocabulary with the figures of renamed shapes under their new names.
func (v Vocabulary) renamed(names map[string]string) Vocabulary {
	figures := v.Figures
	v.Figures = nil
	for _, e := range figures {
		if to, ok := names[e.Shape]; ok {
			e.Shape = to
		}
		v.add(e)
	}
	return v
}

func sortedOwn(own []Own) []Own {
	own = slices.Clone(own)
	slices.SortFunc(own, func(a, b Own) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.Moves, b.Moves)) })
	return own
}

// mergeOwn adds w's own shapes to v's. Shapes that move alike become one, under v's
// name; a name of w that v has for other moves gets a number. It reports them all, and
// which names of w changed.
func mergeOwn(v, w []Own) (all []Own, changed map[string]string) {
	all, changed = slices.Clone(v), map[string]string{}
	for _, o := range w {
		if i := slices.IndexFunc(all, func(x Own) bool { return x.Moves == o.Moves }); i >= 0 {
			if all[i].Name != o.Name {
				changed[o.Name] = all[i].Name
			}
			continue
		}
		name := o.Name
		for n := 2; slices.ContainsFunc(all, func(x Own) bool { return x.Name == name }) ||
			name != o.Name && slices.ContainsFunc(w, func(x Own) bool { return x.Name == name }); n++ {
			name = fmt.Sprintf("%s (%d)", o.Name, n)
		}
		if name != o.Name {
			changed[o.Name] = name
		}
		all = append(all, Own{name, o.Moves})
	}
	return all, changed
}
