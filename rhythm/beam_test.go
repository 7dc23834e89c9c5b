package rhythm

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// timed lays a text of values out from a measure offset.
func timed(t testing.TB, at Offset, text string) []TimedValue {
	t.Helper()
	events, err := ParseCell(text)
	if err != nil {
		t.Fatal(err)
	}
	var notes []TimedValue
	for _, e := range events {
		notes = append(notes, TimedValue{at, e.Value, e.Rest})
		at = at.Add(e.Value.Duration())
	}
	return notes
}

// beamText writes shares as [ begin, - continue, ] end, > and < hooks, a dot for none.
func beamText(shares [][]BeamShare) string {
	words := make([]string, len(shares))
	for i, note := range shares {
		for _, share := range note {
			words[i] += string("[-]><"[share])
		}
		if words[i] == "" {
			words[i] = "."
		}
	}
	return strings.Join(words, " ")
}

// Common practice of engravers (from memory).
func TestBeams(t *testing.T) {
	for _, c := range []struct{ meter, notes, want string }{
		{"2/4", "8 8 8 8", "[ - - ]"},
		{"2/4", "8 8 4", "[ ] ."},
		{"2/4", "4. 8", ". ."},
		{"2/4", "8 4 8", ". . ."},
		{"2/4", "8 r8 8 8", ". . [ ]"},
		{"2/4", "r8 8 8 8", ". [ - ]"},
		{"2/4", "8 8 8 r8", "[ - ] ."},
		{"2/4", "r8 8 16 16 8", ". . [[ -] ]"},
		{"2/4", "16 16 16t 16t 16t 4", "[[ -] -[ -- ]] ."},
		{"2/4", "16t 16t 16t 8 4", "[[ -- -] ] ."},
		{"2/4", "8 16 16 8 8", "[ -[ ]] [ ]"},
		{"2/4", "16 16 8 16 16 16 16", "[[ -] ] [[ -- -- ]]"},
		{"2/4", "8. 16 16 8.", "[ ]< [> ]"},
		{"2/4", "16 8 16 8t 8t 8t", "[> - ]< [ - ]"},
		{"2/4", "8 8 8 16 16", "[ ] [ -[ ]]"},
		{"2/4", "8. 32 32 4", "[ -[[ ]]] ."},
		{"2/4", "32 32 32 32 8 4", "[[[ --- --- -]] ] ."}, // one eighth of 32nds, then an eighth
		{"2/4", "32 32 16 32 32 16 4", "[[[ --] -- --[ --] ]] ."},
		{"4/4", "8 8 8 8 8 8 8 8", "[ - - ] [ - - ]"},
		{"4/4", "4 8 8 8 8 4", ". [ ] [ ] ."},
		{"4/4", "8 8 8 16 16 8 8 8 8", "[ ] [ -[ ]] [ - - ]"},
		{"4/4", "8 8 r8 8 2", "[ ] . . ."},
		{"3/4", "8 8 8 8 8 8", "[ - - - - ]"},
		{"3/4", "r8 8 8 8 8 8", ". [ - - - ]"},
		{"3/4", "4 8 8 8 8", ". [ ] [ ]"},
		{"3/4", "8. 16 8 8 8 8", "[ ]< [ ] [ ]"},
		{"cut", "8 8 8 8 8 8 8 8", "[ - - ] [ - - ]"},
		{"cut", "4 8 8 2", ". [ ] ."},
		{"cut", "8 8 4 2", "[ ] . ."},
		{"cut", "8 16 16 16 16 8 2", "[ -[ -] -[ -] ] ."},
		{"cut", "8. 16 16 8. 2", "[ -< -> ] ."},
		{"cut", "8t 8t 8t 8 8 2", "[ - ] [ ] ."},
		{"6/8", "8 8 8 8 8 8", "[ - ] [ - ]"},
		{"6/8", "4 8 8 4", ". . . ."},
		{"6/8", "8. 16 8 8 8. 16", "[ -< ] [ - ]<"},
		{"6/8", "8 16 8. 4.", "[ -> ] ."},
		{"6/8", "16 16 16 16 16 16 4.", "[[ -- -- -- -- ]] ."},
		{"6/8", "16 16 4 8 r8 8", "[[ ]] . . . ."},
		{"6/8", "8 16 16 8 16 16 8 8", "[ -[ -] ] [[ -] - ]"},
		{"3/8", "8 8 8", "[ - ]"},
		{"3/8", "16 16 8 8", "[[ -] - ]"},
		{"9/8", "8 8 8 4. 8 8 8", "[ - ] . [ - ]"},
		{"5/4", "8 8 8 8 8 8 8 8 8 8", "[ - - - - ] [ - - ]"},
		{"5/8", "8 8 8 8 8", "[ - ] [ ]"},
		{"5/8", "16 16 16 16 16 16 8 8", "[[ -- -- -- -- ]] [ ]"},
		{"7/8", "8 8 8 8 8 8 8", "[ ] [ ] [ - ]"},
	} {
		got := beamText(Beams(meter(t, c.meter), timed(t, 0, c.notes)))
		if got != c.want {
			t.Errorf("%s: %s\ngot  %s\nwant %s", c.meter, c.notes, got, c.want)
		}
	}
}

func TestBeamsOfAPickup(t *testing.T) {
	m := meter(t, "2/4")
	notes := timed(t, Offset(3*Eighth/2), "16 8 8") // the last five sixteenths
	if got, want := beamText(Beams(m, notes)), ". [ ]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestBeamGroups(t *testing.T) {
	for name, want := range map[string]string{
		"2/4": "2", "3/4": "2.", "4/4": "2 2", "5/4": "2. 2", "cut": "2 2", "3/2": "2 2 2", "3/8": "4.", "6/8": "4. 4.",
		"9/8": "4. 4. 4.", "12/8": "4. 4. 4. 4.", "5/8": "4. 4", "7/8": "4 4 4.", "4/8": "4 4", "6/4": "2. 2.",
	} {
		m := meter(t, name)
		var got []Duration
		for _, word := range strings.Fields(want) {
			got = append(got, length(t, word))
		}
		if g := BeamGroups(m); fmt.Sprint(g) != fmt.Sprint(got) {
			t.Errorf("%s: groups %v, want %s", name, g, want)
		}
	}
	for _, name := range allMeters {
		m, sum := meter(t, name), Duration(0)
		for _, g := range BeamGroups(m) {
			sum += g
		}
		if sum != m.Measure() {
			t.Errorf("%s: groups sum to %d, want %d", name, sum, m.Measure())
		}
	}
}

// Every beam that begins ends before it begins again or the run stops; a hook never
// points at nothing; a note has all of its flags or, without a neighbour, none.
func TestBeamsAreWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := ParseMeter(rapid.SampledFrom(allMeters).Draw(t, "meter"))
		notes := drawMeasure(t, m)
		shares := Beams(m, notes)
		open := [6]bool{}
		for i, n := range notes {
			if k := len(shares[i]); k != 0 && (k != n.Value.Flags() || n.Rest) {
				t.Fatalf("note %d, %v, has %d beams", i, n, k)
			}
			for level := range open {
				share := BeamShare(-1)
				if level < len(shares[i]) {
					share = shares[i][level]
				}
				if inside := share == BeamContinue || share == BeamEnd; open[level] != inside {
					t.Fatalf("%s: %v: beam %d at note %d: %s", m, notes, level+1, i, beamText(shares))
				}
				open[level] = share == BeamBegin || share == BeamContinue
				if share == BeamForwardHook && (i+1 == len(notes) || len(shares[i+1]) == 0 || shares[i][0] == BeamEnd) ||
					share == BeamBackwardHook && shares[i][0] == BeamBegin {
					t.Fatalf("%s: %v: hook at note %d points at nothing: %s", m, notes, i, beamText(shares))
				}
			}
		}
		if open != [6]bool{} {
			t.Fatalf("%s: %v: a beam is left open: %s", m, notes, beamText(shares))
		}
	})
}

// drawMeasure fills a measure with notes and rests as Spell writes them.
func drawMeasure(t *rapid.T, m Meter) []TimedValue {
	var notes []TimedValue
	for at := Offset(0); at < Offset(m.Measure()); {
		left := int((Offset(m.Measure()) - at) / Offset(Sixteenth/2))
		d := Duration(rapid.IntRange(1, min(left, 12)).Draw(t, "lasts")) * Sixteenth / 2
		rest := rapid.IntRange(0, 5).Draw(t, "rest") == 0
		values := Spell(at, d, m)
		if rest {
			values = SpellRest(at, d, m)
		}
		for _, v := range values {
			notes = append(notes, TimedValue{at, v, rest})
			at = at.Add(v.Duration())
		}
	}
	return notes
}
