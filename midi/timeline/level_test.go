package timeline

import (
	"fmt"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/rhythm"

	"pgregory.net/rapid"
)

// levelsOf says the level at each quarter of the take.
func levelsOf(l *Layout) string {
	var words []string
	for at := l.Start; at < l.End; at += quarter {
		words = append(words, fmt.Sprint(l.Level(at)))
	}
	return strings.Join(words, " ")
}

// Marks hold until the next; hairpins move evenly to the mark they lead to, else by a
// step of 16 (the table of marks is common practice of notation programs).
func TestLevel(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"unmarked", "4/4 C4:1 | D4:1", "80 80 80 80 80 80 80 80"},
		{"every mark", "2/4 pp C4:2 | p C4:2 | mp C4:2 | mf C4:2 | f C4:2 | ff C4:2", "33 33 49 49 64 64 80 80 96 96 112 112"},
		{"in mid measure", "4/4 p C4:2 f C4:2 | C4:1", "49 49 96 96 96 96 96 96"},
		{"a crescendo to a mark", "4/4 p < C4:4 C4:4 C4:4 C4:4 | ! f C4:1", "49 60 72 84 96 96 96 96"},
		{"the mark a half note after the hairpin's end", "4/4 p < C4:4 C4:4 ! C4:4 C4:4 | f C4:1", "49 72 96 96 96 96 96 96"},
		{"the mark too late for it", "4/4 p < C4:4 ! C4:4 C4:4 C4:4 | C4:1 | f C4:4 C4:2.", "49 65 65 65 65 65 65 65 96 96 96 96"},
		{"a crescendo to nothing", "4/4 mf < C4:4 C4:4 ! C4:2 | C4:1", "80 88 96 96 96 96 96 96"},
		{"a mark on the wrong side", "4/4 f < C4:4 C4:4 ! p C4:2 | C4:1", "96 104 49 49 49 49 49 49"},
		{"swell", "4/4 p < C4:4 C4:4 ! > C4:4 C4:4 ! | p C4:1", "49 57 65 57 49 49 49 49"},
		{"a hairpin never closed", "4/4 p < C4:4 C4:4 C4:4 C4:4 | f C4:1", "49 60 72 84 96 96 96 96"},
		{"never closed, no mark", "4/4 p < C4:4 C4:4 C4:4 C4:4", "49 53 57 61"},
		{"a stop alone", "4/4 p C4:4 ! C4:4 C4:2", "49 49 49 49"},
		{"at the top", "4/4 ff < C4:4 C4:4 ! C4:2", "112 119 127 127"},
		{"fp goes on softly", "4/4 f C4:4 fp C4:4 C4:2", "96 49 49 49"},
		{"sfz leaves the level", "4/4 p C4:4 sfz C4:4 C4:2", "49 49 49 49"},
		{"sfz under a hairpin", "4/4 p < C4:4 sfz C4:4 C4:4 C4:4 | ! f C4:1", "49 60 72 84 96 96 96 96"},
		{"a repeat goes back to its mark", "2/4 p C4:2 | f C4:2 :| C4:2", "49 49 96 96 49 49 96 96 96 96"},
		{"a repeat to an unmarked place", "2/4 C4:2 | f C4:2 :| C4:2", "80 80 96 96 80 80 96 96 96 96"},
		{"a repeat to the level that came in", "2/4 pp C4:2 |: C4:2 | f C4:2 :|", "33 33 33 33 96 96 33 33 96 96"},
		{"a diminuendo into the repeat", "2/4 p C4:2 | f C4:2 | > C4:4 C4:4 ! :|", "49 49 96 96 96 73 49 49 96 96 96 88"},
		{"a first ending's mark does not reach the second", "2/4 |: p C4:2 | [1 f C4:2 ] :| [2 C4:2 ] |]", "49 49 96 96 49 49 49 49"},
	} {
		if got := levelsOf(layOut(t, CountIn{}, c.text)); got != c.want {
			t.Errorf("%s: %s\n got %s\nwant %s", c.name, c.text, got, c.want)
		}
	}
}

// In the count-in the level is that of the first measure, after the end that of the end.
func TestLevelOutside(t *testing.T) {
	l := layOut(t, FullCountIn(), "2/4 p C4:2 | f C4:2 |]")
	if got := l.Level(0); got != 49 {
		t.Errorf("in the count-in %d, want 49", got)
	}
	if got := l.Level(l.End.Add(rhythm.Whole)); got != 96 {
		t.Errorf("after the end %d, want 96", got)
	}
}

// Struck marks act on what begins with them alone.
func TestStrike(t *testing.T) {
	l := layOut(t, CountIn{}, "4/4 p C4:4 sfz C4:4 fp C4:4 C4:4")
	for i, want := range []uint8{49, 73, 96, 49} {
		if got := l.Strike(quarter * rhythm.Offset(i)); got != want {
			t.Errorf("beat %d: %d, want %d", i+1, got, want)
		}
	}
}

// Whatever the marks, a level is a velocity from 1 to 127.
func TestLevelIsAVelocity(t *testing.T) {
	words := []string{"pp", "p", "mp", "mf", "f", "ff", "fp", "sfz", "<", ">", "!", "C4:4", "C4:4", "C4:4", "| C4:4", ":| C4:4", "|: C4:4"}
	rapid.Check(t, func(t *rapid.T) {
		text := "1/4 C4:4"
		for _, w := range rapid.SliceOfN(rapid.SampledFrom(words), 0, 30).Draw(t, "words") {
			if w == "C4:4" {
				w = "| C4:4"
			}
			text += " " + w
		}
		p, err := score.ParseText(text + " | C4:4")
		if err != nil {
			t.Skip(err)
		}
		l, err := LayOut(&p, CountIn{})
		if err != nil {
			t.Skip(err)
		}
		for at := l.Start; at <= l.End; at += quarter / 4 {
			if v := l.levels.at(at); v < 1 || v > 127 {
				t.Fatalf("%s: level %d at %s", text, v, quarters(at))
			}
		}
	})
}
