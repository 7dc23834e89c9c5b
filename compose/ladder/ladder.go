// Package ladder holds the twelve rungs of difficulty as data: what each adds, what a
// read on it may carry, and which published levels it meets.
package ladder

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"

	"github.com/pelletier/go-toml/v2"
)

//go:embed rungs.toml
var rungsFile []byte

// A Ladder is the ground and the rungs in order, the lowest first.
type Ladder struct {
	Ground Ground  `toml:"ground"`
	Rungs  []Rung  `toml:"rung"`
	Levels []Level `toml:"level"`
}

// A Rung is one step. Its limits hold for reads on it; what it adds comes on top of
// what all lower rungs added.
type Rung struct {
	Number  int    `toml:"number" json:"number"`
	Name    string `toml:"name" json:"name"`
	Words   string `toml:"words" json:"words"` // what it adds, in words
	Bracket string `toml:"bracket" json:"bracket"`
	// Span is the most notes of the scale between the lowest and the highest note of
	// a read, both counted: 6 is six notes, 10 an octave and a third.
	Span int `toml:"span" json:"span"`
	// Leap is the largest interval between two notes, in notes of the scale: 2 is a
	// second, 8 an octave.
	Leap int `toml:"leap" json:"leap"`
	// Tempo bounds the felt quarters a minute; absent, the style's own range holds, its
	// fastest tempo times Pace percent.
	Tempo [2]int `toml:"tempo" json:"tempo,omitempty"`
	Pace  int    `toml:"pace" json:"pace,omitempty"`
	// Measures bounds the length as written.
	Measures [2]int `toml:"measures" json:"measures"`
	// Harmony is the level of progressions that may be used.
	Harmony int `toml:"harmony" json:"harmony"`
	// Traps is the fewest and the most traps in sixteen measures.
	Traps [2]int `toml:"traps" json:"traps"`
	// Run is L: how many notes in a row may not return from a drill or an earlier
	// read. Where few notes leave few runs it is longer.
	Run int `toml:"run" json:"run"`
	// Aim is the mean load that its reads are to have, in figures a second; from where the
	// styles have their own tempos on, times the style's share (styles.Sheet.Load).
	Aim float64 `toml:"aim" json:"aim"`
	// Load is the band about the aim in which the mean load of its reads lies nineteen times
	// in twenty, before the style's share; figures a second.
	Load [2]float64 `toml:"-" json:"load"`
	Adds []Thing    `toml:"adds" json:"adds"`
}

// A Thing is one thing that a rung adds; a read carries at most two of its rung's.
type Thing struct {
	Words  string   `toml:"words" json:"words"`
	Keys   []string `toml:"keys" json:"keys,omitempty"` // concert keys
	Meters []string `toml:"meters" json:"meters,omitempty"`
	Cells  []string `toml:"cells" json:"cells,omitempty"`
	Shapes []string `toml:"shapes" json:"shapes,omitempty"`
	Marks  []string `toml:"marks" json:"marks,omitempty"`
	// On lists cells that it needs to lay its shapes on, where the lower rungs have none.
	On []string `toml:"on" json:"-"`
	// Traps lists the trap shapes that may be placed.
	Traps []string `toml:"traps" json:"traps,omitempty"`
	// Frees lists cells that a lower rung tied to certain shapes and that now take any.
	Frees []string `toml:"frees" json:"frees,omitempty"`
}

// A Ground is what every read may carry: the keys, meters and marks of the first rung.
type Ground struct {
	Thing
	// Only ties cells to the shapes that they may carry until a rung frees them.
	Only map[string][]string `toml:"only"`
}

// A Level is a published level and the rungs that meet it.
type Level struct {
	Document string `toml:"document"`
	Name     string `toml:"name"`
	Rungs    [2]int `toml:"rungs"`
	Source   string `toml:"source"`
}

// Bounds is what one read may carry: all of the lower rungs and the things chosen
// from its own.
type Bounds struct {
	Rung    *Rung
	Bracket theory.Bracket
	Keys    []theory.Key
	Meters  []rhythm.Meter
	Traps   map[string]bool
	Marks   map[string]bool
	// Fresh is the words of the rung's own things that the read carries.
	Fresh []string
	// FreshCells and FreshShapes are those that the chosen things add.
	FreshCells, FreshShapes map[string]bool

	level int                 // cells and shapes up to this level are in
	tied  map[string][]string // cells that take certain shapes only
}

var brackets = map[string]theory.Bracket{
	"six notes": theory.SixNotes, "beginner": theory.Beginner,
	"intermediate": theory.Intermediate, "advanced": theory.Advanced, "beyond": theory.Beyond,
}

// Default reads the shipped ladder against the catalogue.
func Default(cat *figure.Catalogue) (*Ladder, error) { return Parse("rungs.toml", rungsFile, cat) }

// Parse reads a ladder from TOML; every cell and shape it names must be in the
// catalogue. An error gives file, line, what is wrong.
func Parse(file string, b []byte, cat *figure.Catalogue) (*Ladder, error) {
	var l Ladder
	err := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields().Decode(&l)
	var strict *toml.StrictMissingError
	var de *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		row, _ := strict.Errors[0].Position()
		return nil, fmt.Errorf("%s:%d: key %q is not one that a rung has", file, row, strings.Join(strict.Errors[0].Key(), "."))
	case errors.As(err, &de):
		row, col := de.Position()
		return nil, fmt.Errorf("%s:%d:%d: %w", file, row, col, err)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	for i := range l.Rungs {
		if err := l.Rungs[i].check(i+1, cat); err != nil {
			return nil, fmt.Errorf("%s: rung %d: %w", file, i+1, err)
		}
		l.Rungs[i].band()
	}
	return &l, nil
}

// bandWidth is how far a read's load may lie from its rung's aim, either way.
const bandWidth = 0.08

// band sets the load band about the aim, in whole hundredths.
func (r *Rung) band() {
	r.Load = [2]float64{math.Round(r.Aim*100*(1-bandWidth)) / 100, math.Round(r.Aim*100*(1+bandWidth)) / 100}
}

func (r *Rung) check(number int, cat *figure.Catalogue) error {
	if r.Number != number {
		return fmt.Errorf("numbered %d, out of order", r.Number)
	}
	if _, ok := brackets[r.Bracket]; !ok {
		return fmt.Errorf("bracket %q is not six notes, beginner, intermediate, advanced or beyond", r.Bracket)
	}
	if r.Words == "" || r.Name == "" || r.Span < 5 || r.Leap < 2 || r.Run < 5 || r.Aim <= 0 || r.Harmony < 1 {
		return fmt.Errorf("it needs name, words, span of 5 or more, leap of 2 or more, run of 5 or more, aim and harmony")
	}
	if r.Tempo == [2]int{} && r.Pace == 0 {
		return fmt.Errorf("it needs tempo = [slowest, fastest] or pace = percent of the style's")
	}
	for _, t := range r.Adds {
		if err := t.check(cat); err != nil {
			return err
		}
	}
	return nil
}

func (t *Thing) check(cat *figure.Catalogue) error {
	if t.Words == "" {
		return fmt.Errorf("something added has no words")
	}
	for _, k := range t.Keys {
		if _, err := theory.ParseKey(k); err != nil {
			return err
		}
	}
	for _, m := range t.Meters {
		if _, err := rhythm.ParseMeter(m); err != nil {
			return err
		}
	}
	for _, c := range slices.Concat(t.Cells, t.On) {
		if cat.Cell(c) == nil {
			return fmt.Errorf("%s: cell %q is not in the catalogue", t.Words, c)
		}
	}
	for _, s := range append(append([]string{}, t.Shapes...), t.Traps...) {
		if cat.Shape(s) == nil {
			return fmt.Errorf("%s: shape %q is not in the catalogue", t.Words, s)
		}
	}
	return nil
}

// Rung reports the rung of that number, 1 to 12.
func (l *Ladder) Rung(number int) (*Rung, error) {
	if number < 1 || number > len(l.Rungs) {
		return nil, fmt.Errorf("rung %d: the ladder has rungs 1 to %d", number, len(l.Rungs))
	}
	return &l.Rungs[number-1], nil
}

// Runs lists the lengths of run that the rungs ask for, shortest first.
func (l *Ladder) Runs() []int {
	var out []int
	for _, r := range l.Rungs {
		if !slices.Contains(out, r.Run) {
			out = append(out, r.Run)
		}
	}
	slices.Sort(out)
	return out
}

// Bounds reports what a read on the rung may carry when it takes the things of the
// rung's own given by index.
func (l *Ladder) Bounds(number int, things []int) (*Bounds, error) {
	r, err := l.Rung(number)
	if err != nil {
		return nil, err
	}
	b := &Bounds{Rung: r, Bracket: brackets[r.Bracket], Traps: map[string]bool{}, Marks: map[string]bool{},
		FreshCells: map[string]bool{}, FreshShapes: map[string]bool{}, level: max(1, number-1), tied: map[string][]string{}}
	for cell, shapes := range l.Ground.Only {
		b.tied[cell] = shapes
	}
	b.add(&l.Ground.Thing)
	for i := range l.Rungs[:number-1] {
		for j := range l.Rungs[i].Adds {
			b.add(&l.Rungs[i].Adds[j])
		}
	}
	for _, i := range things {
		t := &r.Adds[i]
		b.add(t)
		b.Fresh = append(b.Fresh, t.Words)
		for _, c := range slices.Concat(t.Cells, t.On) {
			b.FreshCells[c] = true
		}
		for _, s := range t.Shapes {
			b.FreshShapes[s] = true
		}
	}
	return b, nil
}

func (b *Bounds) add(t *Thing) {
	for _, s := range t.Keys {
		k, _ := theory.ParseKey(s) // checked when read
		b.Keys = append(b.Keys, k)
	}
	for _, s := range t.Meters {
		m, _ := rhythm.ParseMeter(s)
		b.Meters = append(b.Meters, m)
	}
	for _, n := range t.Traps {
		b.Traps[n] = true
	}
	for _, n := range t.Marks {
		b.Marks[n] = true
	}
	for _, n := range t.Frees {
		delete(b.tied, n)
	}
}

// AllowsCell reports whether a read may use the cell: it belongs to a lower rung, or
// to the things chosen.
func (b *Bounds) AllowsCell(c *rhythm.Cell) bool { return c.Level <= b.level || b.FreshCells[c.Name] }

// AllowsShape reports whether a read may use the shape; traps are let in by Traps.
func (b *Bounds) AllowsShape(s *figure.Shape) bool {
	return s.LooksLike == "" && (s.Level <= b.level || b.FreshShapes[s.Name])
}

// AllowsFigure reports whether the shape may be laid on the cell, where both are
// allowed by themselves.
func (b *Bounds) AllowsFigure(s *figure.Shape, c *rhythm.Cell) bool {
	shapes, ok := b.tied[c.Name]
	return !ok || slices.Contains(shapes, s.Name)
}
