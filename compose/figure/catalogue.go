package figure

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"onward/rhythm"

	"github.com/pelletier/go-toml/v2"
)

//go:embed shapes.toml
var shapesFile []byte

//go:embed cells.toml
var cellsFile []byte

// Default reports the catalogue that the program carries. It is parsed once and
// shared: do not change it.
func Default() *Catalogue { return carried() }

var carried = sync.OnceValue(func() *Catalogue {
	c, err := Parse(shapesFile, cellsFile)
	if err != nil {
		panic("figure: the program's own catalogue: " + err.Error())
	}
	return c
})

type shapeEntry struct {
	Name      string `toml:"name"`
	Family    string `toml:"family"`
	Moves     string `toml:"moves"`
	From      int    `toml:"from"`
	Members   int    `toml:"members"`
	LooksLike string `toml:"looks_like"`
	Level     int    `toml:"level"`
	Words     string `toml:"words"`
}

type cellEntry struct {
	Name   string   `toml:"name"`
	Text   string   `toml:"text"`
	Meters []string `toml:"meters"`
	Level  int      `toml:"level"`
}

// Parse reads a catalogue from the text of a shapes.toml and a cells.toml. Unknown
// keys, unreadable moves and rhythms, names used twice and cells that do not fit
// their meters are errors that name file and line and say how to mend them.
func Parse(shapes, cells []byte) (*Catalogue, error) {
	c := &Catalogue{
		shapes:   make(map[string]*Shape),
		cells:    make(map[string]*rhythm.Cell),
		byNotes:  make(map[int][]*Shape),
		patterns: make(map[string][]pattern),
	}
	if err := c.addShapes(shapes); err != nil {
		return nil, err
	}
	if err := c.addCells(cells); err != nil {
		return nil, err
	}
	return c, nil
}

func (c *Catalogue) addShapes(data []byte) error {
	var file struct {
		Shape []shapeEntry `toml:"shape"`
	}
	if err := decode("shapes.toml", data, &file); err != nil {
		return err
	}
	c.Shapes = make([]Shape, len(file.Shape))
	for i, e := range file.Shape {
		s, err := e.shape()
		if err == nil && c.shapes[s.Name] != nil {
			err = fmt.Errorf("the name is used twice; give each shape its own")
		}
		if err != nil {
			return placed("shapes.toml", data, i, e.Name, err)
		}
		c.Shapes[i] = s
		c.shapes[s.Name] = &c.Shapes[i]
		c.byNotes[s.Notes()] = append(c.byNotes[s.Notes()], &c.Shapes[i])
	}
	for i, s := range c.Shapes {
		if s.LooksLike != "" && c.shapes[s.LooksLike] == nil {
			return placed("shapes.toml", data, i, s.Name,
				fmt.Errorf("looks_like %q is no shape; write a name of this file", s.LooksLike))
		}
	}
	return nil
}

func (e shapeEntry) shape() (Shape, error) {
	s := Shape{Name: e.Name, Family: e.Family, From: e.From, Members: e.Members,
		LooksLike: e.LooksLike, Level: e.Level, Words: e.Words}
	if e.Name == "" || e.Family == "" || e.Words == "" {
		return s, fmt.Errorf("name, family and words must not be empty")
	}
	if e.Level < 1 || e.Level > 12 {
		return s, fmt.Errorf("level %d is not 1 to 12", e.Level)
	}
	if e.Members != 0 && e.Members != 3 && e.Members != 4 || e.From < 0 || e.From > 4 {
		return s, fmt.Errorf("members is 3, 4 or left out; from is 1 to 4 or left out")
	}
	moves, err := ParseMoves(e.Moves)
	s.Moves = moves
	if err == nil && (e.Members != 0 || e.From != 0) && !s.onChord() {
		err = fmt.Errorf("from and members need a move by chord members, such as c1")
	}
	return s, err
}

// onChord reports whether the shape moves along a chord.
func (s *Shape) onChord() bool {
	return slices.ContainsFunc(s.Moves, func(m Move) bool { return m.Unit == ChordTone })
}

func (c *Catalogue) addCells(data []byte) error {
	var file struct {
		Cell []cellEntry `toml:"cell"`
	}
	if err := decode("cells.toml", data, &file); err != nil {
		return err
	}
	c.Cells = make([]rhythm.Cell, len(file.Cell))
	for i, e := range file.Cell {
		cell, err := e.cell()
		if err == nil && c.cells[cell.Name] != nil {
			err = fmt.Errorf("the name is used twice; give each cell its own")
		}
		if err != nil {
			return placed("cells.toml", data, i, e.Name, err)
		}
		c.Cells[i] = cell
		c.cells[cell.Name] = &c.Cells[i]
		for _, m := range c.Cells[i].Meters {
			c.patterns[m] = append(c.patterns[m], patternOf(&c.Cells[i]))
		}
	}
	return nil
}

func (e cellEntry) cell() (rhythm.Cell, error) {
	c := rhythm.Cell{Name: e.Name, Text: e.Text, Level: e.Level}
	if e.Name == "" || len(e.Meters) == 0 {
		return c, fmt.Errorf("name and meters must not be empty")
	}
	if e.Level < 1 || e.Level > 12 {
		return c, fmt.Errorf("level %d is not 1 to 12", e.Level)
	}
	var err error
	if c.Events, err = rhythm.ParseCell(e.Text); err != nil {
		return c, err
	}
	for _, v := range c.Events {
		c.Span += v.Value.Duration()
	}
	if c.Onsets() == 0 {
		return c, fmt.Errorf("%q starts no note; leave cells of rests out", e.Text)
	}
	for _, name := range e.Meters {
		m, err := rhythm.ParseMeter(name)
		if err != nil {
			return c, err
		}
		if c.Span > m.Measure() || c.Span%m.Beat() != 0 {
			return c, fmt.Errorf("%q does not fill whole beats of one measure of %s; mend the text or drop the meter", e.Text, name)
		}
		c.Meters = append(c.Meters, m.String())
	}
	return c, nil
}

// ParseMoves reads a shape's moves: "1 1 -1" scale steps, "c1" chord members,
// "h-1" chromatic neighbours, "k1" chromatic runs. The empty text is no move.
func ParseMoves(text string) ([]Move, error) {
	var moves []Move
	for _, word := range strings.Fields(text) {
		m := Move{Unit: Scale}
		digits := word
		if i := strings.IndexByte(" chk", word[0]); i > 0 {
			m.Unit, digits = Unit(i), word[1:]
		}
		by, err := strconv.Atoi(digits)
		if err != nil || by < -14 || by > 14 {
			return nil, fmt.Errorf("move %q: write steps such as 1 or -2, or c1, h-1, k1", word)
		}
		if m.Unit != Scale && by == 0 || m.Unit >= Chromatic && by != 1 && by != -1 {
			return nil, fmt.Errorf("move %q: h and k go by 1 or -1, c by one or more members; 0 repeats a note", word)
		}
		m.By = by
		moves = append(moves, m)
	}
	return moves, nil
}

// String reports the move as shapes.toml writes it: "1", "c-2", "h1", "k-1".
func (m Move) String() string {
	return [...]string{"", "c", "h", "k"}[m.Unit] + strconv.Itoa(m.By)
}

func decode(file string, data []byte, to any) error {
	d := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	err := d.Decode(to)
	var unknown *toml.StrictMissingError
	var wrong *toml.DecodeError
	switch {
	case errors.As(err, &unknown):
		var all []error
		for _, e := range unknown.Errors {
			line, _ := e.Position()
			all = append(all, fmt.Errorf("%s:%d: unknown key %q; take it out or mend its spelling",
				file, line, strings.Join(e.Key(), ".")))
		}
		return errors.Join(all...)
	case errors.As(err, &wrong):
		line, column := wrong.Position()
		return fmt.Errorf("%s:%d:%d: %w; mend the line", file, line, column, wrong)
	case err != nil:
		return fmt.Errorf("%s: %w", file, err)
	}
	return nil
}

// entryStart is the start of an entry of a catalogue file, which has a line to
// itself: "{" in a list, or "[[shape]]".
var entryStart = regexp.MustCompile(`^\s*(\{|\[\[)`)

// placed puts file and line before an error of the i-th entry of a file.
func placed(file string, data []byte, i int, name string, err error) error {
	for n, text := range strings.Split(string(data), "\n") {
		if !entryStart.MatchString(text) {
			continue
		}
		if i--; i < 0 {
			return fmt.Errorf("%s:%d: %q: %w", file, n+1, name, err)
		}
	}
	return fmt.Errorf("%s: %q: %w", file, name, err)
}
