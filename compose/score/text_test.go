package score

import (
	"strings"
	"testing"
)

// Text of a part that ParseText read is the same music in its plainest words, and
// reads as the same part again.
func TestTextAndBack(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"key Bb; 6/8 Bb4:4 C5:8 D5:4. | r:4. C5:4.", "key Bb major; 6/8 Bb4:4 C5:8 D5:4. | r:4. C5:4. |"},
		{"4/4 C5:1~ | C5:1 |]", "4/4 C5:1~ | C5:1 |]"},
		{"part Horn; sounds -4 -7; key Gm; treble 2/4 G4:4(' A4:4)_> |: p < Bb4:8t C5:8t D5:8t ! f Eb5:4 :|",
			"part Horn; sounds -4 -7; key G minor; 2/4 treble G4:4(' A4:4)_> |: p < Bb4:8t C5:8t D5:8t ! f Eb5:4 :|"},
		{"3/4 C4:4 | {B3,D4(}C4:2. | [1 C4:4 D4:2, ] :| [2 R ] |]", "3/4 C4:4 | {B3,D4(}C4:2. | [1 C4:4 D4:2, ] :| [2 R ] |]"},
		{"letter A; words dolce; tempo 4=96 Andante; line 4/4 C4:16(5:4) C4:16(5:4) C4:16(5:4) C4:16(5:4) C4:16(5:4) r:2.@ || cut C4:1 | 2/2 C4:1",
			"line 4/4 tempo 4=96 Andante; letter A; words dolce; C4:16(5:4) C4:16(5:4) C4:16(5:4) C4:16(5:4) C4:16(5:4) r:2.@ || cut C4:1 | 2/2 C4:1 |"},
		{"|: 2/4 short C4:4 :|: pickup D4:4 | E4:2 || |: F4:2 :|", "|: 2/4 short C4:4 :|: pickup D4:4 | E4:2 || |: F4:2 :|"},
		{"3/4 C4:8 | R | R:2+8 |]", "3/4 C4:8 | R | short R:2+8 |]"},
	} {
		p, err := ParseText(c.in)
		if err != nil {
			t.Errorf("ParseText(%q): %v", c.in, err)
			continue
		}
		if got := Text(p); got != c.want {
			t.Errorf("Text(ParseText(%q))\n got %s\nwant %s", c.in, got, c.want)
		}
		if again := Text(MustText(Text(p))); again != c.want {
			t.Errorf("a second time\n got %s\nwant %s", again, c.want)
		}
	}
}

// A slip in the text is refused with the measure, the word and what is wrong.
func TestParseTextRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"4/4 C4:1 | H4:1", `measure 2, word 4 "H4:1": pitch "H4": letter H is not A to G`},
		{"4/4 C4:1 | C4:2 C4:2 C4:4 |", "measure 2, word 7 \"|\": it holds 5 quarters in 4/4"},
		{"6/8 C4:2. | C4:4. | C4:2. |", "the measure before is not full"},
		{"4/4 C4:1 | C4:2", "completes no pickup"},
		{"4/4 C4:1~ | r:1", "tied to a rest"},
		{"4/4 C4:1~", "tied to nothing"},
		{"4/4 C4:3", `note value "3"`},
		{"4/4 R:3", `note value "3"`},
		{"4/4 C4:1x", `mark 'x'`},
		{"4/4 r:1'", "a rest has no mark"},
		{"4/4 | |", "the measure is empty"},
		{"4/4 key X; C4:1", "letter X"},
		{"4/4 key C C4:1", `ends with ";"`},
		{"", "no music"},
	} {
		if _, err := ParseText(c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("ParseText(%q) = %v, want an error with %q", c.text, err, c.want)
		}
	}
}
