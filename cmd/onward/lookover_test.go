package main

import (
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// looked is the look-over of a part for a B-flat trumpet.
func looked(t *testing.T, text string) map[string]string {
	t.Helper()
	p := score.MustText(text)
	in, err := theory.InstrumentByID("trumpet")
	if err != nil {
		t.Fatal(err)
	}
	r := &compose.Read{Score: &score.Score{Parts: []score.Part{p}}, Request: compose.Request{Instrument: in},
		Key: theory.Key{Fifths: -2}, Meter: rhythm.Meter{Beats: 6, Unit: 8}, Tempo: 112,
		Sections: []compose.Section{{Name: "Strain", Measures: len(p.Measures), Repeat: true, Endings: true}}}
	seen := map[string]string{}
	for _, o := range lookOver(&made{Read: r}, &takeOptions{}) {
		seen[o.word] = o.text
	}
	return seen
}

func TestLookOver(t *testing.T) {
	page := "tempo 4.=112 March tempo; 6/8 mf C4:4. C#4:8 D4:8 C#4:8 | < {B3}C4:8 E4:8 G4:8 ! ff C5:4. | key F; r:4. Eb5:8 E5:8 F5:8 | D4:2. |]"
	seen := looked(t, page)
	for word, want := range map[string]string{
		"clef, key":  "treble clef; C major, no sharps or flats; it sounds in Bb major",
		"meter":      "6/8: 2 beats in a measure, each a dotted quarter",
		"tempo":      "dotted quarter = 112, March tempo",
		"form":       "strain 1 to 4, repeated with two endings",
		"keys":       "measure 3 goes to F major, 1 flat (B)",
		"dynamics":   "starts mf, from mf (measure 1) to ff (measure 2), 1 hairpin",
		"outside":    "C-sharp in 1; E-flat in 3; E-natural in 3",
		"grace":      "grace notes in measure 2",
		"starts":     "C",
		"most notes": "measure 2, 5 notes",
		"leap":       "tenth down, F5 to D4, measure 3 to 4",
	} {
		if seen[word] != want {
			t.Errorf("%s: got %q, want %q", word, seen[word], want)
		}
		delete(seen, word)
	}
	for word, text := range seen {
		t.Errorf("also %s: %s", word, text)
	}
}

// What is not on the page is not spoken of.
func TestLookOverOfAPlainPage(t *testing.T) {
	seen := looked(t, "6/8 r:4. C4:4. | D4:2.~ | D4:2. |]")
	for _, word := range []string{"keys", "dynamics", "outside", "grace", "leap"} {
		if text, there := seen[word]; there {
			t.Errorf("%s: %s", word, text)
		}
	}
	if seen["starts"] != "C, after a rest" || seen["tempo"] != "dotted quarter = 112, no tempo word" {
		t.Errorf("got %q", seen)
	}
}

// Signatures in the order of the page (common practice).
func TestSignature(t *testing.T) {
	for key, want := range map[string]string{
		"C": "no sharps or flats", "A": "3 sharps (F C G)", "Eb": "3 flats (B E A)", "Cb": "7 flats (B E A D G C F)", "E minor": "1 sharp (F)",
	} {
		k, err := theory.ParseKey(key)
		if err != nil {
			t.Fatal(err)
		}
		if got := signature(k); got != want {
			t.Errorf("%s: got %q, want %q", key, got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	for want, list := range map[string][]int{
		"": nil, "3": {3}, "3 and 5": {3, 5}, "1, 2, 3, 4, 5 and 6": {1, 2, 3, 4, 5, 6}, "1, 2, 3, 4, 5 and 3 more": {1, 2, 3, 4, 5, 6, 7, 8},
	} {
		if got := numbers(list); got != want {
			t.Errorf("numbers(%v) = %q, want %q", list, got, want)
		}
	}
}

// The look-over of reads of all rungs fits its lines and gives no trap away.
func TestLookOverOfReads(t *testing.T) {
	s := newStage(t)
	traps := 0
	for _, args := range []string{"--rung 1", "--rung 6 --style lyrical", "--rung 9 --form march", "--rung 12 --form march", "--rung 12 --style lyrical --form song"} {
		out := fine(t, s, "read "+args+" --seed 11")
		before, after, _ := strings.Cut(out, "The end.")
		traps += strings.Count(after, "\ntrap ")
		if strings.Contains(before, "leaves it") {
			t.Errorf("%s: a trap is given away:\n%s", args, before)
		}
	}
	if traps == 0 {
		t.Error("no read had a trap")
	}
}
