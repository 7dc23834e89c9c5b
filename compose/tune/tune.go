// Package tune holds a melody as it is learned from and judged: without its key, in scale
// steps from the tonic, and in the ticks of package idiom. It cuts real melodies into
// strains of a whole number of measures, and says what their measures are: which answers
// which, in what chord, where phrases end.
package tune

import (
	"crypto/sha1"
	"math/big"
	"slices"

	"onward/compose/idiom"
)

// A Note is one note of a tune.
type Note struct {
	Onset int // ticks after the first downbeat; negative in a pickup
	Ticks int // how long it lasts
	Step  int // scale steps above a tonic
	Alter int // semitones off the scale: major, or natural minor
}

// A Tune is a melody of a whole number of measures of one meter.
type Tune struct {
	Name     string // of the piece that it is from
	Kind     string // "march", "song", "vocalise", "dance"
	Beats    int    // the meter: 6/8 is 6 and 8
	Unit     int
	Measures int
	Start    int // of its first downbeat, in ticks from the start of the piece
	Minor    bool
	Notes    []Note
}

// Measured reports the ticks of a measure.
func (t *Tune) Measured() int { return 4 * idiom.Quarter * t.Beats / t.Unit }

// Beat reports the ticks of a felt beat: a dotted quarter in 6/8 and in 3/8.
func (t *Tune) Beat() int {
	if t.Unit == 8 && t.Beats%3 == 0 {
		return 3 * idiom.Quarter / 2
	}
	return 4 * idiom.Quarter / t.Unit
}

// Density reports the notes a measure has on average.
func (t *Tune) Density() float64 { return float64(len(t.Notes)) / float64(t.Measures) }

// ByMeasure reports the notes that begin in each measure, their onsets counted from its
// barline. The pickup is left out.
func (t *Tune) ByMeasure() [][]Note {
	length := t.Measured()
	all := make([][]Note, t.Measures)
	for _, n := range t.Notes {
		if i := n.Onset / length; n.Onset >= 0 && i < t.Measures {
			n.Onset %= length
			all[i] = append(all[i], n)
		}
	}
	return all
}

// Pickup reports where the notes ahead of the first downbeat stand.
func (t *Tune) Pickup() []idiom.Place {
	var all []idiom.Place
	for _, n := range t.Notes {
		if n.Onset < 0 {
			all = append(all, idiom.Place{Onset: n.Onset, Ticks: n.Ticks})
		}
	}
	return all
}

// RhythmOf reports the rhythm of the notes of a measure.
func RhythmOf(notes []Note) idiom.Rhythm {
	var r idiom.Rhythm
	for _, n := range notes {
		r = append(r, idiom.Place{Onset: n.Onset, Ticks: n.Ticks})
	}
	return r
}

// plainTicks are the lengths that a page for sight-reading holds without triplets.
var plainTicks = []int{6, 12, 18, 24, 30, 36, 42, 48, 60, 72, 84, 96, 120, 144}

// Readable reports whether a page for sight-reading could hold the tune: values of
// sixteenths and up, a compass of two octaves. How dense it is does not matter.
func (t *Tune) Readable() bool {
	low, high, _ := t.compass()
	return high-low <= 14 && !slices.ContainsFunc(t.Notes, func(n Note) bool {
		return !slices.Contains(plainTicks, n.Ticks) || mod(n.Onset, 6) != 0
	})
}

// Plain reports whether the tune is readable within a twelfth and has few altered notes.
func (t *Tune) Plain() bool {
	low, high, altered := t.compass()
	allowed := 0.08 * float64(len(t.Notes))
	if t.Minor {
		allowed += 9 // sixths and sevenths
	}
	return t.Readable() && high-low <= 11 && float64(altered) <= allowed
}

// compass reports the lowest and the highest step, and how many notes are altered.
func (t *Tune) compass() (low, high, altered int) {
	low, high = t.Notes[0].Step, t.Notes[0].Step
	for _, n := range t.Notes {
		low, high = min(low, n.Step), max(high, n.Step)
		if n.Alter != 0 {
			altered++
		}
	}
	return low, high, altered
}

// HeldBack reports whether the tune is of the third, chosen by a hash of its name, that
// nothing is ever learned from.
func (t *Tune) HeldBack() bool { return HeldBack(t.Name) }

// HeldBack reports the same of a tune's name.
func HeldBack(name string) bool {
	sum := sha1.Sum([]byte(name))
	var n, third big.Int
	n.SetBytes(sum[:])
	return third.Mod(&n, big.NewInt(3)).Sign() == 0
}

// mod is the remainder that is never negative.
func mod(a, b int) int { return ((a % b) + b) % b }

// floorDiv rounds down.
func floorDiv(a, b int) int { return (a - mod(a, b)) / b }
