package theory

import (
	"fmt"
	"strings"
)

// A Mode is major or minor.
type Mode int

// The modes.
const (
	Major Mode = iota
	Minor
)

// String reports "major" or "minor".
func (m Mode) String() string { return [...]string{"major", "minor"}[m] }

// A Key is a signature and a mode. Fifths counts sharps, flats negative, -7 to 7;
// B-flat major is {-2, Major}, G minor {-2, Minor}.
type Key struct {
	Fifths int
	Mode   Mode
}

// classAtFifths reports the class n fifths above C: 1 is G, -2 is B-flat, 6 is F-sharp.
func classAtFifths(n int) Class {
	i := n + 1 // the line of fifths from F
	return Class{Letter(mod(4*i+3, 7)), floorDiv(i, 7)}
}

// fifthsOf is the inverse of classAtFifths.
func fifthsOf(c Class) int { return mod(2*(int(c.Letter)-3), 7) + 7*c.Alter - 1 }

// KeyOf reports the key with the tonic and mode given; an error if it needs more
// than seven sharps or flats.
func KeyOf(tonic Class, m Mode) (Key, error) {
	k := Key{fifthsOf(tonic), m}
	if m == Minor {
		k.Fifths -= 3
	}
	if k.Fifths < -7 || k.Fifths > 7 {
		return Key{}, fmt.Errorf("key %s %s has %s, more than seven; write %s", tonic, m, signs(k.Fifths), k.Transpose(Unison))
	}
	return k, nil
}

// signs reports a signature in words: "3 flats", "1 sharp", "no sharps or flats".
func signs(fifths int) string {
	switch {
	case fifths == 0:
		return "no sharps or flats"
	case fifths == 1:
		return "1 sharp"
	case fifths == -1:
		return "1 flat"
	case fifths < 0:
		return fmt.Sprintf("%d flats", -fifths)
	}
	return fmt.Sprintf("%d sharps", fifths)
}

// Signature reports the key signature in words, as in "3 flats" or "1 sharp".
func (k Key) Signature() string { return signs(k.Fifths) }

// said turns spoken accidentals into written ones.
var said = strings.NewReplacer("-flat", "b", " flat", "b", "-sharp", "#", " sharp", "#", "-Flat", "b", "-Sharp", "#")

// ParseKey reads "Bb", "B-flat", "F# major", "g minor", "Gm": a tonic, then nothing, M, maj or
// major, or m, min or minor.
func ParseKey(s string) (Key, error) {
	name, rest := said.Replace(strings.TrimSpace(s)), ""
	for i := 1; i < len(name); i++ {
		if name[i] != '#' && name[i] != 'b' {
			name, rest = name[:i], strings.Trim(name[i:], " -")
			break
		}
	}
	c, err := ParseClass(name)
	if err != nil {
		return Key{}, fmt.Errorf("key %q: write a tonic and a mode, such as \"Bb\" or \"G minor\": %w", s, err)
	}
	if rest != "M" {
		rest = strings.ToLower(rest)
	}
	switch rest {
	case "", "M", "major", "maj":
		return KeyOf(c, Major)
	case "m", "min", "minor":
		return KeyOf(c, Minor)
	}
	return Key{}, fmt.Errorf("key %q: mode %q is not major or minor", s, rest)
}

// Tonic reports the first degree.
func (k Key) Tonic() Class {
	if k.Mode == Minor {
		return classAtFifths(k.Fifths + 3)
	}
	return classAtFifths(k.Fifths)
}

// String reports the key as in "Bb major".
func (k Key) String() string { return k.Tonic().String() + " " + k.Mode.String() }

// Alter reports the alteration that the signature gives to the letter.
func (k Key) Alter(l Letter) int {
	// The letter's natural stands at fifthsOf on the line of fifths; the
	// signature shifts the window F..B by Fifths.
	return floorDiv(k.Fifths-fifthsOf(Class{l, 0})+5, 7)
}

// Degree reports the n-th degree of the key's natural scale: 1 is the tonic, 8 the
// tonic again, 0 the seventh below.
func (k Key) Degree(n int) Class {
	l := Letter(mod(int(k.Tonic().Letter)+n-1, 7))
	return Class{l, k.Alter(l)}
}

// DegreeOf reports which degree, 1 to 7, the letter of c is in this key, and how
// far c stands from the natural scale's in semitones.
func (k Key) DegreeOf(c Class) (degree, altered int) {
	return mod(int(c.Letter-k.Tonic().Letter), 7) + 1, c.Alter - k.Alter(c.Letter)
}

// At reports the pitch of the natural scale at a staff position (see Pitch.Step).
func (k Key) At(step int) Pitch {
	l := Letter(mod(step, 7))
	return Pitch{l, k.Alter(l), floorDiv(step, 7)}
}

// Transpose moves the key by i, respelling enharmonically where the signature
// would pass seven accidentals (F-sharp major up a fifth ... is D-flat major).
func (k Key) Transpose(i Interval) Key {
	f := k.Fifths + fifthsOf(Class{C, 0}.Transpose(i))
	for f > 7 {
		f -= 12
	}
	for f < -7 {
		f += 12
	}
	return Key{f, k.Mode}
}

// Subdominant reports the key a fourth above, the trio's: one flat more.
func (k Key) Subdominant() Key { return k.Transpose(Fourth) }

// Dominant reports the key a fifth above.
func (k Key) Dominant() Key { return k.Transpose(Fifth) }

// Relative reports the other mode with the same signature.
func (k Key) Relative() Key { return Key{k.Fifths, 1 - k.Mode} }
