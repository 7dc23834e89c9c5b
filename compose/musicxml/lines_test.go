package musicxml

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// linesOf reads a document as ReadLinesFile does.
func linesOf(t *testing.T, text string) *Lines {
	t.Helper()
	l, err := ReadLinesFile("page.xml", strings.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Percussion and keyboards are told by notes, staves and names, not by programs.
func TestWhoseLineItIs(t *testing.T) {
	plain := four + note("C4", 8)
	for _, c := range []struct{ head, measure, want string }{
		{"<part-name>Trombone</part-name>", plain, "line"},
		{"<part-name>Piano</part-name>", plain, "keyboard"},
		{"<part-name>Solo</part-name>", `<attributes><staves>2</staves></attributes>` + plain, "keyboard"},
		{`<part-name>Solo</part-name><midi-instrument id="I"><midi-program>1</midi-program></midi-instrument>`, plain, "line"},
		{`<part-name>P1</part-name><score-instrument id="I"><instrument-name>Orgel</instrument-name></score-instrument>`, plain, "keyboard"},
		{"<part-name>Harp</part-name>", plain, "keyboard"},
		{"<part-name>Xylophone</part-name>", plain, "percussion"},
		{"<part-name>Pauken</part-name>", plain, "percussion"},
		{"<part-name>Bass Drum</part-name>", four + `<note><unpitched/><duration>8</duration></note>`, "percussion"},
		{`<part-name>Kit</part-name><score-instrument id="I"/><midi-instrument id="I"><midi-channel>10</midi-channel></midi-instrument>`, plain, "percussion"},
		{"<part-name>Double Bass</part-name>", plain, "line"},
		{"", plain, "line"},
	} {
		text := `<score-partwise version="4.0"><part-list><score-part id="P1">` + c.head + `</score-part><score-part id="P2"><part-name>Flute</part-name></score-part></part-list>` +
			`<part id="P1"><measure number="1">` + c.measure + `</measure></part><part id="P2"><measure number="1">` + plain + `</measure></part></score-partwise>`
		l, got := linesOf(t, text), "line"
		switch p := &l.Parts[0]; {
		case p.Percussion():
			got = "percussion"
		case p.Keyboard():
			got = "keyboard"
		}
		if got != c.want || len(l.Parts) != 2 || l.Parts[1].Part == nil || l.Parts[1].Percussion() || l.Parts[1].Keyboard() {
			t.Errorf("%s: %s, want %s; %+v", c.head, got, c.want, l.Parts)
		}
	}
}

// The lines are those of Read, with those that could not be read among them; a part is
// found by number, name, id, or what of its name no other has.
func TestLines(t *testing.T) {
	text := pieceText([]string{four + note("C4", 8)}, []string{four + `<note><pitch><step>H</step><octave>4</octave></pitch><duration>8</duration></note>`}, []string{four + note("E4", 8)})
	text = strings.Replace(text, "Part 3", "Part 2 b", 1)
	l := linesOf(t, text)
	s, warnings, err := ReadFile("page.xml", strings.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(l.Warnings) != fmt.Sprint(warnings) || len(warnings) == 0 || len(s.Parts) != 2 || len(l.Parts) != 3 || l.Parts[1].Part != nil {
		t.Errorf("%+v beside %+v, %v", l, s, warnings)
	}
	for i, k := range []int{0, 2} {
		if !bytes.Equal([]byte(fmt.Sprint(l.Parts[k].Part.Measures[0].Notes)), []byte(fmt.Sprint(s.Parts[i].Measures[0].Notes))) {
			t.Errorf("part %d is another line", k+1)
		}
	}
	for which, want := range map[string]int{"1": 0, "3": 2, "part 2": 1, "P3": 2, "2 b": 2, "part": -1, "4": -1, "": -1, "Horn": -1} {
		i, found := l.Choose(which)
		if !found {
			i = -1
		}
		if i != want {
			t.Errorf("part %q: %d, want %d", which, i, want)
		}
	}
	if !slices.ContainsFunc(l.Warnings, func(w Warning) bool { return w.File == "page.xml" }) {
		t.Errorf("warnings name no file: %v", l.Warnings)
	}
}
