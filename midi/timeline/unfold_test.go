package timeline

import (
	"fmt"
	"strings"
	"testing"

	"onward/compose/score"

	"pgregory.net/rapid"
)

// order says the order of play as the printed numbers, the second time with a prime.
func order(p *score.Part, passes []Pass) string {
	var words []string
	for _, o := range passes {
		w := fmt.Sprint(p.Measures[o.Index].Number)
		if o.Pass == 2 {
			w += "'"
		}
		words = append(words, w)
	}
	return strings.Join(words, " ")
}

// Repeats and endings are played as players play them (common practice).
func TestUnfold(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no repeat", "C4:1 | D4:1 | E4:1 |]", "1 2 3"},
		{"from the beginning", "C4:1 | D4:1 :| E4:1 |]", "1 2 1' 2' 3"},
		{"from a forward repeat", "C4:1 |: D4:1 | E4:1 :| F4:1 |]", "1 2 3 2' 3' 4"},
		{"from the repeat before", "C4:1 :| D4:1 :| E4:1 |]", "1 1' 2 2' 3"},
		{"two strains", "|: C4:1 :|: D4:1 :|", "1 1' 2 2'"},
		{"endings", "|: C4:1 | [1 D4:1 ] :| [2 E4:1 ] | F4:1 |]", "1 2 1' 3' 4"},
		{"endings of two measures", "|: C4:1 | [1 D4:1 | E4:1 ] :| [2 F4:1 | G4:1 ] | A4:1 |]", "1 2 3 1' 4' 5' 6"},
		{"two strains with endings", "|: C4:1 | [1 D4:1 ] :| [2 E4:1 ] |: F4:1 | [1 G4:1 ] :| [2 A4:1 ] |]", "1 2 1' 3' 4 5 4' 6'"},
		{"a strain after a second ending, without forward repeat", "C4:1 | [1 D4:1 ] :| [2 E4:1 ] | F4:1 :| G4:1", "1 2 1' 3' 4 4' 5"},
		{"a pickup that is repeated", "4/4 C4:4 | D4:1 | [1 short E4:2. ] :| [2 short F4:2. ] |]", "0 1 2 0' 1' 3'"},
		{"a first ending alone", "|: C4:1 | [1 D4:1 ] :| E4:1 | F4:1 :|", "1 2 1' 3 4 3' 4'"},
		{"a second ending that repeats goes on", "|: C4:1 | [1 D4:1 ] :| [2 E4:1 ] :| F4:1", "1 2 1' 3' 4"},
		{"a forward repeat inside a strain", "|: C4:1 |: D4:1 :| E4:1 :|", "1 2 2' 3 3'"},
	} {
		p := score.MustText(c.text)
		got, err := Unfold(&p)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		} else if order(&p, got) != c.want {
			t.Errorf("%s: %s\n got %s\nwant %s", c.name, c.text, order(&p, got), c.want)
		}
	}
}

// Endings that nobody could play are refused with the measure.
func TestUnfoldRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"C4:1 | [2 D4:1 ] |", `part "Horn": measure 2: no repeat leads to the second ending`},
		{"C4:1 | [1 D4:1 ] | [2 E4:1 ] |", "measure 3: no repeat leads to the second ending"},
		{"|: C4:1 | [1 D4:1 :| E4:1 ] | F4:1", "measure 2: a repeat in the midst of the first ending"},
	} {
		p := score.MustText("part Horn; " + c.text)
		if _, err := Unfold(&p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error with %q", c.text, err, c.want)
		}
	}
	p := score.Part{Measures: []score.Measure{{Number: 5, Ending: 3}}}
	if _, err := Unfold(&p); err == nil || !strings.Contains(err.Error(), "measure 5: ending 3") {
		t.Errorf("a third ending: %v", err)
	}
}

// Whatever the barlines, unfolding ends: every measure is played once or twice, the
// first time as pass 1 or under a second ending, or the part is refused.
func TestUnfoldAlwaysEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := score.Part{Measures: make([]score.Measure, rapid.IntRange(0, 12).Draw(t, "measures"))}
		for i := range p.Measures {
			p.Measures[i] = score.Measure{
				Number:      i + 1,
				RepeatStart: rapid.Bool().Draw(t, "start"),
				RepeatEnd:   rapid.Bool().Draw(t, "end"),
				EndingStop:  rapid.Bool().Draw(t, "stop"),
				Ending:      rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(t, "ending"),
			}
		}
		got, err := Unfold(&p)
		if err != nil {
			return
		}
		played := make([]int, len(p.Measures))
		for _, o := range got {
			played[o.Index]++
			if o.Pass < played[o.Index] || o.Pass > 2 {
				t.Fatalf("measure %d is played the %d. time as pass %d", o.Index+1, played[o.Index], o.Pass)
			}
		}
		for i, n := range played {
			if n < 1 || n > 2 {
				t.Fatalf("measure %d is played %d times in %s", i+1, n, order(&p, got))
			}
		}
	})
}
