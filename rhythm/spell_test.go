package rhythm

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// length sums the values of a text: "4 8" is a quarter and an eighth.
func length(t testing.TB, text string) Duration {
	t.Helper()
	var d Duration
	for _, word := range strings.Fields(text) {
		v, err := ParseValue(word)
		if err != nil {
			t.Fatal(err)
		}
		d += v.Duration()
	}
	return d
}

func meter(t testing.TB, text string) Meter {
	t.Helper()
	m, err := ParseMeter(text)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func text(values []Value) string {
	var words []string
	for _, v := range values {
		words = append(words, v.String())
	}
	return strings.Join(words, " ")
}

// Common practice of engravers (from memory): what may cross a beat and what not.
func TestSpell(t *testing.T) {
	for _, c := range []struct{ meter, before, lasts, want string }{
		// 4/4: the middle shows, but for whole, dotted half and half on 2.
		{"4/4", "", "1", "1"},
		{"4/4", "", "2.", "2."},
		{"4/4", "4", "2.", "2."},
		{"4/4", "4", "2", "2"},
		{"4/4", "", "2 4.", "2.."},
		{"4/4", "", "4.", "4."},
		{"4/4", "2", "4.", "4."},
		{"4/4", "4", "4.", "4 8"},
		{"4/4", "4.", "4", "8 8"},
		{"4/4", "4.", "2", "8 4."},
		{"4/4", "4.", "2 8", "8 2"},
		{"4/4", "4", "2 8", "4 4."},
		{"4/4", "8", "4", "4"},
		{"4/4", "8", "4.", "4."},
		{"4/4", "8", "2", "4. 8"},
		{"4/4", "8", "2..", "4. 2"},
		{"4/4", "2 8", "4", "4"},
		{"4/4", "4 16", "4", "8. 16"},
		{"4/4", "", "4 16", "4 16"},
		{"4/4", "", "4..", "4.."},
		{"4/4", "16", "8", "8"},
		{"4/4", "16", "8.", "8."},
		{"4/4", "8.", "8", "16 16"},
		{"4/4", "8.", "4", "16 8."},
		{"4/4", "", "2 16", "2 16"},
		// 2/4 is like half of 4/4.
		{"2/4", "", "2", "2"},
		{"2/4", "8", "4", "4"},
		{"2/4", "8", "4.", "4."},
		{"2/4", "16", "4", "8. 16"},
		// 3/4: no two dotted quarters, which would look like 6/8.
		{"3/4", "", "2.", "2."},
		{"3/4", "4", "2", "2"},
		{"3/4", "4", "4.", "4."},
		{"3/4", "4.", "4.", "8 4"},
		{"3/4", "8", "2 8", "8 2"},
		{"3/4", "4 8", "4", "4"},
		{"3/4", "", "2 8", "2 8"},
		// Cut time is written as 4/4 is.
		{"cut", "4", "2", "2"},
		{"cut", "4.", "4", "8 8"},
		{"cut", "", "2..", "2.."},
		// 5/4 is three and two.
		{"5/4", "", "1 4", "2. 2"},
		{"5/4", "", "1", "2. 4"},
		{"5/4", "2", "2", "4 4"},
		{"5/4", "2.", "2", "2"},
		{"5/4", "4", "2", "2"},
		// Compound meters: by dotted quarter.
		{"6/8", "", "2.", "2."},
		{"6/8", "", "4.", "4."},
		{"6/8", "", "4", "4"},
		{"6/8", "8", "4", "4"},
		{"6/8", "4", "4", "8 8"},
		{"6/8", "", "2", "4. 8"},
		{"6/8", "8", "2 8", "4 4."},
		{"6/8", "4", "2", "8 4."},
		{"6/8", "", "8.", "8."},
		{"6/8", "8", "8.", "8."},
		{"6/8", "16", "8", "8"},
		{"6/8", "16", "8.", "16 8"},
		{"6/8", "8.", "8.", "16 8"},
		{"6/8", "8 32", "16", "16"},
		{"6/8", "8 16.", "16", "32 32"},
		{"3/8", "", "4.", "4."},
		{"3/8", "8", "4", "4"},
		{"9/8", "", "2. 4.", "2. 4."},
		{"9/8", "4.", "2.", "2."},
		{"9/8", "", "2. 8", "2. 8"},
		{"12/8", "", "1.", "1."},
		{"12/8", "4.", "2.", "2."},
		{"7/8", "", "4.", "4 8"},
		{"7/8", "2", "4.", "4."},
		// Triplets, where nothing else will do.
		{"4/4", "", "8t", "8t"},
		{"4/4", "", "4t", "4t"},
		{"4/4", "8t", "4t", "4t"},
		{"2/4", "8t 8t", "8t 4", "8t 4"},
		{"3/4", "2", "4t", "4t"},
		{"2/4", "", "4 8t", "4 8t"},
		{"2/4", "4t", "4t", "4t"},
		{"2/4", "4 8t", "8t", "8t"},
		{"2/4", "8", "16t", "16t"},
		{"cut", "2t", "2t", "2t"},
		{"6/8", "8 16t", "16t", "16t"},
		// What cannot be.
		{"2/4", "4", "4.", ""},
		{"4/4", "", "16(5:4)", ""},
		{"4/4", "4", "", ""},
	} {
		got := text(Spell(Offset(length(t, c.before)), length(t, c.lasts), meter(t, c.meter)))
		if got != c.want {
			t.Errorf("%s: after %q a note of %q is spelled %q, want %q", c.meter, c.before, c.lasts, got, c.want)
		}
	}
}

// Common practice of engravers (from memory): rests show every beat.
func TestSpellRest(t *testing.T) {
	for _, c := range []struct{ meter, before, lasts, want string }{
		{"4/4", "", "1", "1"},
		{"4/4", "", "2", "2"},
		{"4/4", "2", "2", "2"},
		{"4/4", "4", "2", "4 4"},
		{"4/4", "4", "2.", "4 2"},
		{"4/4", "", "2.", "2 4"},
		{"4/4", "", "4.", "4 8"},
		{"4/4", "8", "4", "8 8"},
		{"4/4", "8", "4.", "8 4"},
		{"4/4", "", "8.", "8 16"},
		{"4/4", "16", "8.", "16 8"},
		{"2/4", "", "2", "2"},
		{"3/4", "", "2", "4 4"},
		{"3/4", "4", "2", "4 4"},
		{"cut", "2", "2", "2"},
		{"cut", "", "2.", "2 4"},
		{"5/4", "", "2.", "4 4 4"},
		{"5/4", "2.", "2", "2"},
		{"6/8", "", "4.", "4."},
		{"6/8", "", "4", "4"},
		{"6/8", "8", "4", "8 8"},
		{"6/8", "8", "4 4.", "8 8 4."},
		{"6/8", "", "2", "4. 8"},
		{"6/8", "4.", "8.", "8 16"},
		{"9/8", "4.", "2.", "4. 4."},
		{"12/8", "2.", "2.", "2."},
		{"3/8", "", "4.", "4."},
		{"2/4", "8t", "4t", "8t 8t"},
		{"2/4", "", "4t", "4t"},
	} {
		got := text(SpellRest(Offset(length(t, c.before)), length(t, c.lasts), meter(t, c.meter)))
		if got != c.want {
			t.Errorf("%s: after %q a rest of %q is spelled %q, want %q", c.meter, c.before, c.lasts, got, c.want)
		}
	}
}

var allMeters = []string{"2/4", "3/4", "4/4", "5/4", "6/4", "7/4", "cut", "3/2", "4/2", "3/8", "4/8", "5/8", "6/8", "7/8", "9/8", "12/8", "15/8", "1/4"}

// Any span on the grid of 64ths, or of triplet 32nds inside one beat, is filled, by
// legal values, inside its measure.
func TestSpellFillsEverySpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := ParseMeter(rapid.SampledFrom(allMeters).Draw(t, "meter"))
		grid := rapid.SampledFrom([]Duration{Sixteenth / 4, Sixteenth, Eighth / 6, Eighth}).Draw(t, "grid")
		steps := int(m.Measure() / grid)
		from := rapid.IntRange(0, steps-1).Draw(t, "from")
		to := rapid.IntRange(from+1, steps).Draw(t, "to")
		at, d := Offset(from)*Offset(grid), Duration(to-from)*grid
		checkSpelling(t, m, at, d, Spell(at, d, m), m.Shows)
		checkSpelling(t, m, at, d, SpellRest(at, d, m), m.ShowsRest)
	})
}

func checkSpelling(t *rapid.T, m Meter, at Offset, d Duration, values []Value, shows func(Offset, Value) bool) {
	to := at
	for _, v := range values {
		if !shows(to, v) {
			t.Errorf("%s: %v may not stand at %d in %q", m, v, to, text(values))
		}
		to = to.Add(v.Duration())
	}
	if to != at.Add(d) {
		t.Errorf("%s: %q from %d ends at %d, want %d", m, text(values), at, to, at.Add(d))
	}
}

// Every beat of the measure that a note of Spell hides must be hidden by one of the
// known patterns: here told by their lengths alone, apart from the rules in Spell.
func TestNothingElseHidesABeat(t *testing.T) {
	known := map[string]string{ // lengths that may cross a beat
		"2/4": "2 4 4. 4..",
		"3/4": "2. 2 4 4. 4..",
		"4/4": "1 2. 2.. 2 4 4. 4..",
		"cut": "1 2. 2.. 2",
		"6/8": "2.",
		"9/8": "2.",
		"3/8": "",
	}
	for name, list := range known {
		m, seen := meter(t, name), 0
		for at := Offset(0); at < Offset(m.Measure()); at += Offset(Sixteenth / 2) {
			for _, v := range spellable {
				beat := Offset(m.Beat())
				if v.Tuplet.Actual != 0 || !m.Shows(at, v) || at/beat == (at.Add(v.Duration())-1)/beat {
					continue
				}
				seen++
				if !strings.Contains(" "+list+" ", " "+v.String()+" ") {
					t.Errorf("%s: %s may cross a beat at %d", name, v, at)
				}
			}
		}
		if seen == 0 && list != "" {
			t.Errorf("%s: no value was seen to cross a beat", name)
		}
	}
}

func FuzzParseMeter(f *testing.F) {
	for _, s := range append(allMeters, "0/4", "4/0", "+2/4", "2/2", "x") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMeter(s)
		if err != nil {
			return
		}
		again, err := ParseMeter(m.String())
		if err != nil || again != m {
			t.Errorf("%q is %v, which reads back as %v, %v", s, m, again, err)
		}
	})
}

func BenchmarkSpell(b *testing.B) {
	b.ReportAllocs()
	m := Meter{Beats: 4, Unit: 4}
	for range b.N {
		Spell(Offset(Sixteenth), 9*Sixteenth, m)
	}
}

func ExampleSpell() {
	m, _ := ParseMeter("4/4")
	fmt.Println(Spell(Offset(3*Eighth), Half, m)) // from the second half of beat 2
	// Output: [8 4.]
}
