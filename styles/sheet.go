// Package styles holds the style sheets: what makes a march a march and a song a
// song, as data. A sheet says which meters, forms, chords, cells and marks a style
// has and how its band plays. A player's own sheet loads by path.
package styles

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"onward/compose/idiom"
)

//go:embed *.toml
var shipped embed.FS

// A Sheet is one style.
type Sheet struct {
	Name  string `toml:"name" json:"name"`   // "march"
	Title string `toml:"title" json:"title"` // as printed at the head of a read: "March"
	Words string `toml:"words" json:"words"` // what it is, for `onward styles`

	// Tunes names what was learned from real tunes of the kind: "march", "song", or a file
	// beside the sheet. Forms, rhythms and lines are drawn from it.
	Tunes string `toml:"tunes" json:"-"`

	// Load is how much a read of the style bears against what its rung aims at in all
	// styles: a march's beat is brisk, a song's slow. 0 counts as 1.
	Load float64 `toml:"load" json:"-"`

	// Minor is how much rarer a minor key is than a major one, 1 for not at all.
	Minor float64 `toml:"minor" json:"-"`

	Meters []Meter `toml:"meter" json:"meters"`
	Forms  []Form  `toml:"form" json:"forms"`
	Rhythm Rhythm  `toml:"rhythm" json:"-"`
	Marks  Marks   `toml:"marks" json:"-"`
	Band   Band    `toml:"band" json:"-"`
}

// A Meter is one of a style's meters.
type Meter struct {
	Name   string  `toml:"name" json:"name"`     // "6/8", "cut"
	Weight float64 `toml:"weight" json:"weight"` // how often, against the others
	Tempo  [2]int  `toml:"tempo" json:"tempo"`   // felt beats a minute, slowest and fastest
	Words  string  `toml:"words" json:"words"`   // the tempo word printed
	// Onsets is how many notes a measure of this meter bears at ease.
	Onsets float64 `toml:"onsets" json:"-"`
	// Load is how much a read in this meter bears against the style's others. 0 counts as 1.
	Load float64 `toml:"load" json:"-"`
}

// A Form is a piece's plan: its sections in order.
type Form struct {
	Name     string    `toml:"name" json:"name"`
	Words    string    `toml:"words" json:"words"`
	Sections []Section `toml:"section" json:"sections"`
}

// A Section is a strain or verse.
type Section struct {
	Name     string `toml:"name" json:"name"`
	Measures int    `toml:"measures" json:"measures"` // 4 to 64
	// Ends is "half" where it ends on the dominant, "" where it closes on the tonic.
	Ends    string `toml:"ends" json:"ends,omitempty"`
	Key     string `toml:"key" json:"key"`         // "tonic", "subdominant", "dominant" or "relative"
	Dynamic string `toml:"dynamic" json:"dynamic"` // at its start
	// Again is the dynamic of the second time through, "" for the same.
	Again   string `toml:"again" json:"again,omitempty"`
	Repeat  bool   `toml:"repeat" json:"repeat"`
	Endings bool   `toml:"endings" json:"endings,omitempty"` // first and second endings
	// Of names an earlier section that this one plays again, note for note.
	Of string `toml:"of" json:"of,omitempty"`
	// From names an earlier section that this one opens like.
	From  string `toml:"from" json:"-"`
	Words string `toml:"words" json:"words,omitempty"` // printed at its start: "Trio"
	// Character bends melody and band: "" plain, "smooth", "break" (high against low).
	Character string `toml:"character" json:"character,omitempty"`
	// Energy multiplies how many notes a measure bears.
	Energy  float64 `toml:"energy" json:"-"`
	Stinger bool    `toml:"stinger" json:"stinger,omitempty"` // one short last note after the cadence
	// Letter prints a rehearsal letter.
	Letter bool `toml:"letter" json:"-"`
}

// Rhythm says what a style adds to the rhythms of its tunes.
type Rhythm struct {
	Graces float64 `toml:"graces"` // share of the places for grace notes that have them
	// How often, against the tunes that the style was learned from, a rest stands inside a
	// phrase, and a note is repeated: players breathe between phrases, and have no words to
	// say on one note. 0 counts as 1.
	Rests   float64 `toml:"rests"`
	Repeats float64 `toml:"repeats"`
}

// Marks says which marks the style writes.
type Marks struct {
	Slur     float64 `toml:"slur"`     // share of groups slurred
	Staccato float64 `toml:"staccato"` // share of short notes dotted
	Accent   float64 `toml:"accent"`   // share of leaning notes accented
	Tenuto   float64 `toml:"tenuto"`
	Legato   bool    `toml:"legato"`  // slurs join, hairpins fade again; else they lead to a louder mark
	Hairpin  float64 `toml:"hairpin"` // share of phrases with a hairpin to the peak
}

// Names reports the names of the shipped sheets, sorted.
func Names() []string {
	files, _ := fs.Glob(shipped, "*.toml")
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(f, ".toml")
	}
	sort.Strings(names)
	return names
}

// Shipped reports the sheet of that name; an error names those there are.
func Shipped(name string) (*Sheet, error) {
	b, err := shipped.ReadFile(name + ".toml")
	if err != nil {
		return nil, fmt.Errorf("style %q: not one of %s, and not a file", name, strings.Join(Names(), ", "))
	}
	return Parse(name+".toml", b)
}

// Parse reads a sheet from TOML. file is its name in errors, which give file, line,
// what is wrong and how to mend it.
func Parse(file string, b []byte) (*Sheet, error) {
	var s Sheet
	d := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return nil, decodeError(file, err)
	}
	if err := s.check(); err != nil {
		return nil, placed(file, b, err)
	}
	return &s, nil
}

// decodeError gives a TOML error its file and line, and all unknown keys at once.
func decodeError(file string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var lines []string
		for _, e := range strict.Errors {
			row, _ := e.Position()
			lines = append(lines, fmt.Sprintf("%s:%d: key %q is not one that a style sheet has; remove or correct it", file, row, strings.Join(e.Key(), ".")))
		}
		return errors.New(strings.Join(lines, "\n"))
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		row, col := de.Position()
		return fmt.Errorf("%s:%d:%d: %s", file, row, col, de.Error())
	}
	return fmt.Errorf("%s: %w", file, err)
}

// A fault is a wrong value; at is a text of the sheet by which its line is found.
type fault struct{ at, what string }

func (f fault) Error() string { return f.what }

func placed(file string, b []byte, err error) error {
	var f fault
	if errors.As(err, &f) && f.at != "" {
		for i, line := range strings.Split(string(b), "\n") {
			if strings.Contains(line, f.at) && !strings.HasPrefix(strings.TrimSpace(line), "#") {
				return fmt.Errorf("%s:%d: %w", file, i+1, err)
			}
		}
	}
	return fmt.Errorf("%s: %w", file, err)
}

// Learned reports what was learned of the style's tunes.
func (s *Sheet) Learned() (*idiom.Idiom, error) { return idiom.Shipped(s.Tunes) }
