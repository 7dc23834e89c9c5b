package theory

import (
	"fmt"
	"strings"
	"testing"
)

// MIDI 1.0: note 60 is middle C; ISO 16 tunes note 69, the A above it.
func TestMIDINumbers(t *testing.T) {
	for text, want := range map[string]int{
		"C4": 60, "A4": 69, "C-1": 0, "G9": 127, "B#3": 60, "Cb4": 59, "Bb4": 70, "F#3": 54, "Dbb4": 60, "B##3": 61,
	} {
		if got := MustPitch(text).MIDI(); got != want {
			t.Errorf("%s is MIDI %d, want %d", text, got, want)
		}
	}
}

func TestParsePitchRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":      `pitch "": empty; write a letter A to G`,
		"H4":    `pitch "H4": letter H is not A to G`,
		"♭4":    `pitch "♭4": letter ♭ is not A to G`,
		"C":     `pitch "C": octave "" is not -1 to 9`,
		"C+4":   `pitch "C+4": octave "+4" is not -1 to 9`,
		"C04":   `pitch "C04": octave "04" is not -1 to 9`,
		"C10":   `pitch "C10": octave "10" is not -1 to 9`,
		"C#b4":  `pitch "C#b4": both sharps and flats`,
		"C###4": `pitch "C###4": more than two sharps or flats`,
	} {
		if _, err := ParsePitch(text); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
	if _, err := ParseClass("Bb4"); err == nil || err.Error() != `note "Bb4": "4" follows the note name` {
		t.Errorf("Bb4 as a class: %v", err)
	}
}

func TestParseKey(t *testing.T) {
	for text, want := range map[string]string{
		"Bb": "Bb major", "bb major": "Bb major", "F#": "F# major", "g minor": "G minor", "Gm": "G minor",
		"G min": "G minor", "Ebm": "Eb minor", "C maj": "C major", "CM": "C major", "Cm": "C minor", "B-minor": "B minor",
		"b": "B major", "A Minor": "A minor",
	} {
		k, err := ParseKey(text)
		if err != nil || k.String() != want {
			t.Errorf("%q is %s, %v; want %s", text, k, err, want)
		}
	}
	for text, want := range map[string]string{
		"Fb":       `key Fb major has 8 flats, more than seven; write E major`,
		"G#":       `key G# major has 8 sharps, more than seven; write Ab major`,
		"Fb minor": `key Fb minor has 11 flats, more than seven; write E minor`,
		"B dorian": `key "B dorian": mode "dorian" is not major or minor`,
		"H":        `key "H": write a tonic and a mode, such as "Bb" or "G minor": note "H": letter H is not A to G`,
	} {
		if _, err := ParseKey(text); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
}

// A march's trio goes to the subdominant, one flat more (textbooks on march form);
// twelve fifths lead back to the first key (common practice).
func TestKeysAround(t *testing.T) {
	for _, k := range allKeys() {
		trio := k.Subdominant()
		if want := k.Fifths - 1; trio.Fifths != want && trio.Fifths != want+12 {
			t.Errorf("%s: the subdominant is %s", k, trio)
		}
		around := k
		for range 12 {
			around = around.Dominant()
		}
		if Between(around.Tonic().In(4), k.Tonic().In(4)).Semitones%12 != 0 || around.Mode != k.Mode {
			t.Errorf("%s: twelve fifths lead to %s", k, around)
		}
		if back := k.Relative().Relative(); back != k {
			t.Errorf("%s: relative twice is %s", k, back)
		}
		if got, err := KeyOf(k.Tonic(), k.Mode); err != nil || got != k {
			t.Errorf("%s: KeyOf its tonic is %s, %v", k, got, err)
		}
	}
}

// Concert B-flat is written C for the treble-clef B-flat player, concert E is F-sharp
// (common practice); every key comes back from written to sounding.
func TestConcertAndWritten(t *testing.T) {
	up := instrument(t, "euphonium-tc").Sounds.Neg()
	for concert, want := range map[string]string{"Bb": "C major", "E": "F# major", "Eb": "F major", "G minor": "A minor"} {
		k, err := ParseKey(concert)
		if err != nil {
			t.Fatal(err)
		}
		if got := k.Transpose(up).String(); got != want {
			t.Errorf("concert %s is written %s, want %s", concert, got, want)
		}
	}
	for _, k := range allKeys() {
		back := k.Transpose(up).Transpose(up.Neg())
		if k.Tonic().Chroma() != back.Tonic().Chroma() || back.Mode != k.Mode {
			t.Errorf("%s comes back as %s", k, back)
		}
	}
}

// Tonic triad B-flat D F concert is C E G written, its dominant seventh F A C E-flat
// is G B D F (common practice).
func TestTonicAndDominant(t *testing.T) {
	for text, want := range map[string][2]string{
		"Bb": {"Bb D F", "F A C Eb"}, "C": {"C E G", "G B D F"}, "G minor": {"G Bb D", "D F# A C"}, "F#": {"F# A# C#", "C# E# G# B"},
	} {
		k, err := ParseKey(text)
		if err != nil {
			t.Fatal(err)
		}
		got := [2]string{classText(k.Triad(1).Tones()), classText(k.DominantSeventh().Tones())}
		if got != want {
			t.Errorf("%s: tonic and dominant seventh %v, want %v", text, got, want)
		}
	}
	a := Key{0, Minor}
	var triads []string
	for n := 1; n <= 8; n++ {
		triads = append(triads, a.Triad(n).String())
	}
	if got, want := strings.Join(triads, " "), "Am Bdim C Dm E F G#dim Am"; got != want {
		t.Errorf("triads of A minor %s, want %s", got, want)
	}
	bFlat := Key{-2, Major}
	for degree, want := range map[int]string{2: "G7", 4: "Bb7", 5: "C7", 6: "D7"} {
		if got := bFlat.Applied(degree).String(); got != want {
			t.Errorf("B-flat major: applied to degree %d is %s, want %s", degree, got, want)
		}
	}
}

// Index must say of every class what Tones says.
func TestIndexAgreesWithTones(t *testing.T) {
	for q := MajorTriad; q <= MajorSeventhChord; q++ {
		for _, root := range classes(1) {
			c := Chord{root, q}
			tones := c.Tones()
			for _, x := range classes(3) {
				want := -1
				for i, tone := range tones {
					if tone == x {
						want = i
					}
				}
				if got := c.Index(x); got != want || c.Has(x) != (want >= 0) {
					t.Errorf("%s: index of %s is %d, want %d", c, x, got, want)
				}
			}
		}
	}
}

// classes lists every letter with up to most sharps or flats.
func classes(most int) []Class {
	var list []Class
	for l := C; l <= B; l++ {
		for alter := -most; alter <= most; alter++ {
			list = append(list, Class{l, alter})
		}
	}
	return list
}

// Degrees and staff positions of a key must agree with its signature.
func TestDegrees(t *testing.T) {
	for _, k := range allKeys() {
		for n := -7; n <= 14; n++ {
			c := k.Degree(n)
			degree, altered := k.DegreeOf(c)
			if altered != 0 || (degree-n)%7 != 0 || degree < 1 || degree > 7 {
				t.Errorf("%s: degree %d is %s, which is degree %d altered %d", k, n, c, degree, altered)
			}
		}
		for step := 0; step < 70; step++ {
			p := k.At(step)
			if p.Step() != step || p.Alter != k.Alter(p.Letter) {
				t.Errorf("%s: at step %d stands %s", k, step, p)
			}
		}
	}
	for _, c := range []struct {
		key, note       string
		degree, altered int
	}{{"Bb", "A", 7, 0}, {"Bb", "F#", 5, 1}, {"G minor", "F#", 7, 1}, {"E", "D", 7, -1}} {
		k, err := ParseKey(c.key)
		if err != nil {
			t.Fatal(err)
		}
		x, err := ParseClass(c.note)
		if err != nil {
			t.Fatal(err)
		}
		if degree, altered := k.DegreeOf(x); degree != c.degree || altered != c.altered {
			t.Errorf("%s in %s is degree %d altered %d, want %d and %d", x, k, degree, altered, c.degree, c.altered)
		}
	}
}

// Up and down again is where one began, spelled the same.
func TestTransposeBack(t *testing.T) {
	for _, c := range classes(2) {
		p := c.In(4)
		for _, i := range []Interval{Unison, MinorSecond, MajorSecond, MinorThird, MajorThird, Fourth, Fifth, MajorSixth, MinorSeventh, Octave} {
			q := p.Transpose(i)
			if q.Transpose(i.Neg()) != p || Between(p, q) != i || Between(q, p) != i.Neg() {
				t.Errorf("%s by %v is %s, and back %s", p, i, q, q.Transpose(i.Neg()))
			}
		}
	}
}

func TestBrackets(t *testing.T) {
	for b := SixNotes; b <= Beyond; b++ {
		if got, err := ParseBracket(b.String()); err != nil || got != b {
			t.Errorf("%s reads back as %v, %v", b, got, err)
		}
	}
	if b, err := ParseBracket("six-notes"); err != nil || b != SixNotes {
		t.Errorf("six-notes: %v, %v", b, err)
	}
	if _, err := ParseBracket("hard"); err == nil {
		t.Error("hard was taken for a bracket")
	}
}

func FuzzParsePitch(f *testing.F) {
	for _, s := range []string{"C4", "Bb-1", "F##9", "ebb3", "B#3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePitch(s)
		if err != nil {
			return
		}
		if again, err := ParsePitch(p.String()); err != nil || again != p {
			t.Errorf("%q is %s, which reads back as %s, %v", s, p, again, err)
		}
		if !strings.EqualFold(p.String(), s) {
			t.Errorf("%q is written %s", s, p)
		}
	})
}

func FuzzParseKey(f *testing.F) {
	for _, s := range []string{"Bb", "F# major", "g minor", "Gm", "CM", "Cb", "a#m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		k, err := ParseKey(s)
		if err != nil {
			return
		}
		if again, err := ParseKey(k.String()); err != nil || again != k {
			t.Errorf("%q is %s, which reads back as %s, %v", s, k, again, err)
		}
	})
}

func ExampleKey_Transpose() {
	concert, _ := ParseKey("Bb")
	trumpet, _ := InstrumentByID("trumpet")
	fmt.Println(concert.Transpose(trumpet.Sounds.Neg()))
	// Output: C major
}

func ExampleKey_DominantSeventh() {
	k, _ := ParseKey("G minor")
	fmt.Println(k.DominantSeventh(), k.DominantSeventh().Tones())
	// Output: D7 [D F# A C]
}

// The scales of minor are common practice; in major all are one.
func TestScalesOfAKey(t *testing.T) {
	for _, c := range []struct{ key, natural, harmonic, melodic string }{
		{"A minor", "A B C D E F G A", "A B C D E F G# A", "A B C D E F# G# A"},
		{"G minor", "G A Bb C D Eb F G", "G A Bb C D Eb F# G", "G A Bb C D E F# G"},
		{"Eb", "Eb F G Ab Bb C D Eb", "Eb F G Ab Bb C D Eb", "Eb F G Ab Bb C D Eb"},
	} {
		k, err := ParseKey(c.key)
		if err != nil {
			t.Fatal(err)
		}
		for i, degree := range []func(int) Class{k.Degree, k.Harmonic, k.Melodic} {
			var scale []string
			for n := 1; n <= 8; n++ {
				scale = append(scale, degree(n).String())
			}
			if got, want := strings.Join(scale, " "), []string{c.natural, c.harmonic, c.melodic}[i]; got != want {
				t.Errorf("%s: got %s, want %s", k, got, want)
			}
		}
	}
}

func TestSignatureInWords(t *testing.T) {
	for key, want := range map[string]string{"C": "no sharps or flats", "E minor": "1 sharp", "F": "1 flat", "C minor": "3 flats", "E": "4 sharps"} {
		k, err := ParseKey(key)
		if err != nil {
			t.Fatal(err)
		}
		if got := k.Signature(); got != want {
			t.Errorf("%s: got %q, want %q", k, got, want)
		}
	}
}
