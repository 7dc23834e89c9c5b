// Package theory holds spelled pitch, interval, key, chord and instrument. It
// knows nothing of time. A pitch keeps its spelling through every operation; the
// MIDI number is derived from it.
package theory

import (
	"fmt"
	"strconv"
	"strings"
)

// A Letter is one of the seven note names, C = 0 to B = 6.
type Letter int

// The seven letters.
const (
	C Letter = iota
	D
	E
	F
	G
	A
	B
)

// semitonesAboveC is the distance of each natural letter above C in semitones.
var semitonesAboveC = [7]int{0, 2, 4, 5, 7, 9, 11}

// String reports the letter's name, "C" to "B".
func (l Letter) String() string { return string("CDEFGAB"[((l%7)+7)%7]) }

// A Class is a spelled pitch without octave: a letter and its alteration in
// semitones, sharp positive. C-sharp and D-flat are different classes.
type Class struct {
	Letter Letter
	Alter  int
}

// String reports the class as in "Bb", "F#", "C", "Ebb", "F##".
func (c Class) String() string { return c.Letter.String() + accidental(c.Alter) }

// Chroma reports the class as semitones above C, 0 to 11.
func (c Class) Chroma() int { return mod(semitonesAboveC[c.Letter]+c.Alter, 12) }

// In reports the pitch of this class in the octave given (4 holds middle C).
func (c Class) In(octave int) Pitch { return Pitch{c.Letter, c.Alter, octave} }

// Transpose moves the class by i.
func (c Class) Transpose(i Interval) Class { return c.In(4).Transpose(i).Class() }

// A Pitch is a spelled pitch: letter, alteration in semitones, octave. Octave 4
// holds middle C. B#3 and C4 sound alike and are different pitches.
type Pitch struct {
	Letter Letter
	Alter  int
	Octave int
}

// Class drops the octave.
func (p Pitch) Class() Class { return Class{p.Letter, p.Alter} }

// MIDI reports the MIDI note number; C4 is 60. It may fall outside 0 to 127.
func (p Pitch) MIDI() int { return 12*(p.Octave+1) + semitonesAboveC[p.Letter] + p.Alter }

// Step reports the staff position: diatonic steps above C0, alteration ignored.
func (p Pitch) Step() int { return 7*p.Octave + int(p.Letter) }

// Transpose moves the pitch by i, letter and semitones both.
func (p Pitch) Transpose(i Interval) Pitch {
	step := p.Step() + i.Steps
	q := Pitch{Letter: Letter(mod(step, 7)), Octave: floorDiv(step, 7)}
	q.Alter = p.MIDI() + i.Semitones - q.MIDI()
	return q
}

// String reports the pitch as in "Bb4", "F#3", "C4".
func (p Pitch) String() string { return p.Class().String() + strconv.Itoa(p.Octave) }

// ParseClass reads "Bb", "F#", "c", "Ebb" or "G##".
func ParseClass(s string) (Class, error) {
	c, rest, err := parseClass(s)
	if err != nil {
		return Class{}, fmt.Errorf("note %q: %w", s, err)
	}
	if rest != "" {
		return Class{}, fmt.Errorf("note %q: %q follows the note name", s, rest)
	}
	return c, nil
}

// ParsePitch reads "Bb4", "F#3" or "C4": letter, any sharps or flats, octave.
func ParsePitch(s string) (Pitch, error) {
	c, rest, err := parseClass(s)
	if err != nil {
		return Pitch{}, fmt.Errorf("pitch %q: %w", s, err)
	}
	octave, err := strconv.Atoi(rest)
	if err != nil || octave < -1 || octave > 9 || strconv.Itoa(octave) != rest {
		return Pitch{}, fmt.Errorf("pitch %q: octave %q is not -1 to 9", s, rest)
	}
	return c.In(octave), nil
}

// MustPitch is ParsePitch for pitches written in the program; it panics on a slip.
func MustPitch(s string) Pitch {
	p, err := ParsePitch(s)
	if err != nil {
		panic(err)
	}
	return p
}

func parseClass(s string) (Class, string, error) {
	if s == "" {
		return Class{}, "", fmt.Errorf("empty; write a letter A to G")
	}
	i := strings.IndexByte("CDEFGAB", s[0]&^0x20)
	if i < 0 {
		return Class{}, "", fmt.Errorf("letter %c is not A to G", []rune(s)[0])
	}
	after := strings.TrimLeft(s[1:], "#b")
	signs := s[1 : len(s)-len(after)]
	sharps, flats := strings.Count(signs, "#"), strings.Count(signs, "b")
	switch {
	case sharps > 0 && flats > 0:
		return Class{}, "", fmt.Errorf("both sharps and flats")
	case sharps > 2 || flats > 2:
		return Class{}, "", fmt.Errorf("more than two sharps or flats")
	}
	return Class{Letter(i), sharps - flats}, after, nil
}

func accidental(alter int) string {
	if alter < 0 {
		return strings.Repeat("b", -alter)
	}
	return strings.Repeat("#", alter)
}

// mod reports a modulo n, never negative.
func mod(a, n int) int {
	a %= n
	if a < 0 {
		a += n
	}
	return a
}

func floorDiv(a, n int) int { return (a - mod(a, n)) / n }
