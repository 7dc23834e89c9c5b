package figure

import (
	"slices"
	"strings"
	"testing"

	"onward/rhythm"
)

func meters(t *testing.T) []rhythm.Meter {
	t.Helper()
	var all []rhythm.Meter
	for _, s := range strings.Fields("2/4 3/4 4/4 cut 6/8 3/8 9/8 5/4") {
		m, err := rhythm.ParseMeter(s)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, m)
	}
	return all
}

func TestCatalogueIsLarge(t *testing.T) {
	c := Default()
	if len(c.Shapes) < 40 || len(c.Cells) < 60 {
		t.Errorf("%d shapes and %d cells, want at least 40 and 60", len(c.Shapes), len(c.Cells))
	}
	for notes, want := range map[int]int{1: 1, 2: 12, 3: 12, 4: 12, 5: 6, 6: 6, 7: 6, 8: 6, 9: 1, 10: 1, 11: 1, 12: 1, 16: 1} {
		if got := len(c.ShapesOf(notes)); got < want {
			t.Errorf("%d shapes of %d notes, want at least %d", got, notes, want)
		}
	}
	for _, cell := range c.Cells {
		if len(c.ShapesOf(cell.Onsets())) == 0 {
			t.Errorf("no shape has the %d notes of the cell %q", cell.Onsets(), cell.Name)
		}
	}
}

// The families of melodic figures, in rough order of learning: common practice.
func TestFamilies(t *testing.T) {
	has := map[string]bool{}
	for _, s := range Default().Shapes {
		has[s.Family] = true
	}
	for _, f := range []string{"held", "repeated", "scale", "thirds", "turn", "neighbour", "arpeggio",
		"seventh", "broken", "octave", "extended", "chromatic", "sequence", "leap", "rocking"} {
		if !has[f] {
			t.Errorf("no shape of the family %q", f)
		}
	}
}

// A trap starts as the shape it looks like and leaves it later.
func TestTrapsStartAlike(t *testing.T) {
	c := Default()
	traps := 0
	for _, s := range c.Shapes {
		if s.LooksLike == "" {
			continue
		}
		traps++
		o := c.Shape(s.LooksLike)
		if o.Notes() != s.Notes() || o.Family == "broken" || s.Family != "broken" {
			t.Errorf("%q looks like %q, which has other notes or is a trap itself", s.Name, o.Name)
		}
		up := func(x *Shape) bool { return x.Moves[0].By > 0 }
		if up(&s) != up(o) {
			t.Errorf("%q goes another way than %q", s.Name, o.Name)
		}
	}
	if traps < 6 {
		t.Errorf("only %d traps", traps)
	}
}

// Every measure of every meter can be filled, already by the cells of the level at
// which its meter is introduced.
func TestMetersCanBeFilled(t *testing.T) {
	lowest := map[string]int{"2/4": 1, "3/4": 1, "4/4": 1, "cut": 1, "6/8": 5, "3/8": 5, "9/8": 5, "5/4": 1}
	for _, m := range meters(t) {
		fills := map[rhythm.Duration]bool{0: true}
		held := false
		for at := rhythm.Duration(0); at < m.Measure(); at += m.Beat() {
			for _, cell := range Default().Cells {
				held = held || cell.Fits(m) && cell.Onsets() == 1 && cell.Span == m.Measure()
				if fills[at] && cell.Fits(m) && cell.Level <= lowest[m.String()] {
					fills[at+cell.Span] = true
				}
			}
		}
		if !fills[m.Measure()] {
			t.Errorf("%s: no cells of level %d fill a measure", m, lowest[m.String()])
		}
		if !held {
			t.Errorf("%s: no cell is one note that fills the measure", m)
		}
	}
}

// One rhythm has one name in a meter.
func TestCellTextsDiffer(t *testing.T) {
	seen := map[string]string{}
	for _, c := range Default().Cells {
		for _, m := range c.Meters {
			if o := seen[m+c.Text]; o != "" {
				t.Errorf("in %s, %q and %q are both %q", m, o, c.Name, c.Text)
			}
			seen[m+c.Text] = c.Name
		}
	}
}

func TestShapesDiffer(t *testing.T) {
	type key struct {
		moves         string
		from, members int
	}
	seen := map[key]string{}
	for _, s := range Default().Shapes {
		k := key{movesText(s.Moves), s.From, s.Members}
		if o, ok := seen[k]; ok {
			t.Errorf("%q and %q are the same", o, s.Name)
		}
		seen[k] = s.Name
	}
}

// A half of a 6/8 measure: two sixteenths and a quarter (short note first).
func TestShortFirstCellFillsHalfOfSixEight(t *testing.T) {
	if got := Default().Cell("two sixteenths, quarter").Span; got != 3*rhythm.Eighth {
		t.Errorf("span %d, want three eighths", got)
	}
}

func TestParseRefuses(t *testing.T) {
	shape := func(rest string) string { return "\nshape = [\n  {" + rest + "},\n]\n" }
	cell := func(rest string) string { return "\ncell = [\n  {" + rest + "},\n]\n" }
	const good = `name = "a", family = "scale", words = "a", level = 1, `
	for _, tt := range []struct{ shapes, cells, want string }{
		{shape(good + `moves = "1", colour = 3`), "", `shapes.toml:3: unknown key "colour"`},
		{shape(good + `moves = "x1"`), "", `shapes.toml:3: "a": move "x1": write steps`},
		{shape(good + `moves = "h2"`), "", `shapes.toml:3: "a": move "h2": h and k go by 1`},
		{shape(good + `moves = "1", looks_like = "b"`), "", `shapes.toml:3: "a": looks_like "b" is no shape`},
		{shape(good+`moves = "1"`) + "colour = 1", "", `shapes.toml:5: unknown key "colour"`},
		{shape(`name = "a", family = "scale", words = "a", level = 13, moves = ""`), "", `level 13 is not 1 to 12`},
		{shape(good + `moves = "1", from = 1`), "", `from and members need a move by chord members`},
		{shape(good + `moves = "1"` + "},\n  {" + good + `moves = "2"`), "", `shapes.toml:4: "a": the name is used twice`},
		{shape(good + `moves = 1`), "", `shapes.toml:3:`},
		{shape(`family = "scale", words = "a", level = 1, moves = "1"`), "", `shapes.toml:3: "": name, family and words`},
		{"[[shape]]\n" + strings.ReplaceAll(good, ", ", "\n") + "moves = \"1\"\n[[shape]]\nname = \"b\"\n", "", `shapes.toml:7: "b": name, family`},
		{"", cell(`name = "a", text = "8", meters = ["2/4"], level = 1`), `cells.toml:3: "a": "8" does not fill whole beats of one measure of 2/4`},
		{"", cell(`name = "a", text = "7", meters = ["2/4"], level = 1`), `cells.toml:3: "a": cell "7"`},
		{"", cell(`name = "a", text = "4", meters = ["2/5"], level = 1`), `cells.toml:3: "a": meter "2/5"`},
		{"", cell(`name = "a", text = "r4", meters = ["2/4"], level = 1`), `starts no note`},
		{"", cell(`name = "a", texts = "4", meters = ["2/4"], level = 1`), `cells.toml:3: unknown key "texts"`},
	} {
		_, err := Parse([]byte(tt.shapes), []byte(tt.cells))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("got %v, want %s", err, tt.want)
		}
	}
}

func movesText(moves []Move) string {
	var s []string
	for _, m := range moves {
		s = append(s, m.String())
	}
	return strings.Join(s, " ")
}

func TestMovesText(t *testing.T) {
	const want = "1 -2 0 c1 c-3 h-1 h1 k1"
	moves, err := ParseMoves(want)
	if got := movesText(moves); got != want || err != nil {
		t.Errorf("got %q, %v, want %q", got, err, want)
	}
}

// Whole, half, quarter; dotted half, paired eighths; dotted quarter-eighth, single
// eighth and rest, eighth-quarter-eighth; four sixteenths; their combinations;
// triplet; sixteenth syncopation: order of introduction of a district band
// curriculum map (Massachusetts, 2014) and a state sight-reading criteria sheet
// (Missouri, rev. 2002-03).
func TestCellsInOrderOfIntroduction(t *testing.T) {
	groups := [][]string{
		{"whole", "half", "quarter", "quarter and rest", "half and half rest"},
		{"dotted half", "two eighths"},
		{"dotted quarter-eighth", "eighth and rest", "eighth-quarter-eighth"},
		{"four sixteenths"},
		{"eighth and two sixteenths", "two sixteenths and eighth", "dotted eighth-sixteenth"},
		{"eighth triplet"},
		{"sixteenth syncopation"},
	}
	least := 1
	for _, group := range groups {
		most := 0
		for _, name := range group {
			level := Default().Cell(name).Level
			if level < least && name != "two eighths" { // as repeated notes they come at once
				t.Errorf("%s: level %d, want %d or later", name, level, least)
			}
			most = max(most, level)
		}
		least = most
	}
}

// A state's easiest sight-reading class (Florida, class MD) has whole, half and
// quarter notes, and eighths only in pairs on one note: the cells of level 1.
func TestLevelOneCells(t *testing.T) {
	for _, c := range Default().Cells {
		for _, e := range c.Events {
			if c.Level == 1 && (e.Value.Base > 4 && c.Name != "two eighths" || e.Value.Dots > 0 || e.Tied || e.Grace > 0) {
				t.Errorf("%s is of level 1", c.Name)
			}
		}
	}
}

// The cells in 6/8 and the short-first cells that common practice names.
func TestNamedRhythms(t *testing.T) {
	for _, tt := range []struct{ text, meter string }{
		{"4.", "6/8"}, {"4 8", "6/8"}, {"8 8 8", "6/8"}, {"8 4", "6/8"}, {"8. 16 8", "6/8"}, {"8 r8 8", "6/8"},
		{"4.~ 8 8 8", "6/8"}, {"16 16 4", "6/8"}, {"gg16 16 4", "6/8"}, {"16 8.", "4/4"}, {"8t 8t 8t", "3/4"},
		{"4. 8", "cut"}, {"4. 4. 4.", "9/8"}, {"4.", "3/8"}, {"2. 2", "5/4"},
	} {
		m, err := rhythm.ParseMeter(tt.meter)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(Default().Cells, func(c rhythm.Cell) bool { return c.Text == tt.text && c.Fits(m) }) {
			t.Errorf("no cell %q in %s", tt.text, tt.meter)
		}
	}
}
