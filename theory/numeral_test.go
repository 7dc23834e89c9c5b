package theory

import (
	"strings"
	"testing"
)

// Numerals must say what Triad, DominantSeventh and Applied say in every key.
func TestNumeralAgreesWithDegrees(t *testing.T) {
	texts := map[Mode][]string{
		Major: {"I", "ii", "iii", "IV", "V", "vi", "viio"},
		Minor: {"i", "iio", "III", "iv", "V", "VI", "viio"},
	}
	for _, k := range allKeys() {
		want := map[string]Chord{"V7": k.DominantSeventh()}
		for i, text := range texts[k.Mode] {
			want[text] = k.Triad(i + 1)
		}
		want["V7/"+texts[k.Mode][3]] = k.Applied(4)
		want["V7/V"] = k.Applied(5)
		for text, chord := range want {
			if got, err := k.Numeral(text); err != nil || got != chord {
				t.Errorf("%s: %s is %s, %v; want %s", k, text, got, err, chord)
			}
		}
	}
	for _, text := range []string{"", "VIII", "H", "v7b9", "Io", "V7/", "/V"} {
		if got, err := (Key{}).Numeral(text); err == nil {
			t.Errorf("%q was taken for %s", text, got)
		}
	}
}

// What chords are made of is common practice.
func TestTonesOfChords(t *testing.T) {
	for q, want := range map[Quality]string{
		MajorTriad: "C E G", MinorTriad: "C Eb G", DiminishedTriad: "C Eb Gb", AugmentedTriad: "C E G#", DominantSeventh: "C E G Bb",
		MinorSeventhChord: "C Eb G Bb", HalfDiminished: "C Eb Gb Bb", DiminishedSeventh: "C Eb Gb Bbb", MajorSeventhChord: "C E G B",
	} {
		var got []string
		for _, tone := range (Chord{Class{C, 0}, q}).Tones() {
			got = append(got, tone.String())
		}
		if strings.Join(got, " ") != want {
			t.Errorf("C%s: got %v, want %s", q, got, want)
		}
	}
}

// Chord symbols of numerals are common practice.
func TestNumeralsAsSymbols(t *testing.T) {
	for _, c := range []struct{ key, numeral, want string }{
		{"C", "IVmaj7", "Fmaj7"}, {"C", "ii7", "Dm7"}, {"C", "iim7b5", "Dm7b5"}, {"C", "viio7", "Bdim7"}, {"C", "I+", "Caug"},
		{"C", "bVI", "Ab"}, {"C", "V7/vi", "E7"}, {"C", "VI/ii", "Bb"}, {"C", "viio/V", "F#dim"}, {"Eb", "IV", "Ab"},
		{"A minor", "VII", "G"}, {"A minor", "viio", "G#dim"}, {"A minor", "VI/iv", "Bb"}, {"C# minor", "V7/V", "D#7"},
	} {
		k, err := ParseKey(c.key)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := k.Numeral(c.numeral); err != nil || got.String() != c.want {
			t.Errorf("%s in %s: got %s, %v; want %s", c.numeral, k, got, err, c.want)
		}
	}
}
