package figure

import (
	"math"
	"math/bits"
	"slices"

	"onward/theory"
)

// The description length of an exercise is what it takes to write it down, in bits, for
// a reader who knows keys, meters and where the measures begin. It is measured in two
// ways.
//
// Note by note, each note is written by itself:
//   - the staff steps from the note before, by Elias's gamma code (Elias, "Universal
//     codeword sets and representations of the integers", IEEE Transactions on
//     Information Theory 21, 1975): a repeated note 1 bit, a step 3, a third or a fourth
//     5, up to the octave 7;
//   - whether it is off the key's scale, which one note in sixteen is taken to be, and
//     then whether raised or lowered;
//   - the time to the next note, as one of the values that a page shows.
//
// By figures, each figure costs what its frequency says (one that is every eighth costs
// 3 bits), the steps from the note before to its first note, the notes in it that are
// off the scale, and the chord that it moves along. The first time it costs its name
// besides: its cell, and its shape in the catalogue, or, if it is new, its moves spelled
// out. A note that no figure takes in is written as above behind a sign of its own, a
// beat in which nothing starts is a sign, too, and so is a rhythm cell whose notes are
// written one by one. This is the length of data with that of their model of Rissanen,
// "Modeling by shortest data description", Automatica 14 (1978), told sign by sign;
// Grünwald, "The Minimum Description Length Principle" (MIT Press, 2007). The best
// vocabulary is the one by which the whole is shortest.
//
// How long a note is held within its time, and grace notes, neither way writes down.

// A millibit is a thousandth of a bit; whole numbers add up alike on every machine.
const bit = 1000

const (
	// onScale and offScale: one note in 16 is off the scale, raised or lowered.
	onScale  = 93 // log2(16/15)
	offScale = 4*bit + bit
	// valueBits: the time to the next note is one of the 22 values of notes and rests
	// that the catalogue's cells are written with; what takes two of them counts as one.
	valueBits = 4459 // log2(22)
	// keyTriad names one of the three triads of the key that hold a note, keySeventh one
	// of the four sevenths, otherChord one of 31 others: about two thirds, a fifth and an
	// eighth of the whole.
	keyTriad   = 2200
	keySeventh = 4400
	otherChord = 8 * bit
)

const (
	// oldShapeBits says that a shape is of the catalogue, newShapeBits that it is new,
	// noShapeBits that the notes are written one by one: one in sixteen each.
	oldShapeBits = 193 // log2(16/14)
	newShapeBits = 4 * bit
	noShapeBits  = 4 * bit
)

// logBits reports the binary logarithm of n, at least 1, in thousandths of a bit.
func logBits(n float64) int { return int(math.Round(bit * math.Log2(max(n, 1)))) }

// gammaBits reports what a number of steps, up or down, costs in Elias's gamma code.
func gammaBits(steps int) int {
	n := uint(2*steps + 1) // 0 1, -1 2, 1 3, -2 4, 2 5 ...
	if steps < 0 {
		n = uint(-2 * steps)
	}
	return (2*bits.Len(n) - 1) * bit
}

// scaleBits reports what it costs to say whether the pitch is off the key's scale.
func scaleBits(key theory.Key, p theory.Pitch) int {
	if offKey(key, p) {
		return offScale
	}
	return onScale
}

// pitchBits reports what a note's pitch costs after the one before.
func pitchBits(key theory.Key, before, p theory.Pitch) int {
	return gammaBits(p.Step()-before.Step()) + scaleBits(key, p)
}

// bits reports what the notes after the first cost when the shape is known: the
// chord that it moves along, and which of its scale notes are off the scale.
func (s *Shape) bits(pitches []theory.Pitch, key theory.Key) int {
	cost := 0
	for i, m := range s.Moves {
		if m.Unit == Scale && m.By != 0 {
			cost += scaleBits(key, pitches[i+1])
		}
	}
	if !s.onChord() {
		return cost
	}
	return cost + s.chordBits(pitches, key)
}

// chordBits reports what it costs to name the likeliest chord along which the shape goes.
func (s *Shape) chordBits(pitches []theory.Pitch, key theory.Key) int {
	first := slices.IndexFunc(s.Moves, func(m Move) bool { return m.Unit == ChordTone })
	cost := otherChord
	for q, build := range builds {
		for _, b := range build {
			chord := theory.Chord{Root: pitches[first].Class().Transpose(b.Neg()), Quality: theory.Quality(q)}
			if !s.startsWell(pitches[0], chord) || !s.goesAlong(pitches, chord) || !inKey(chord, key) {
				continue
			}
			if len(build) == 3 {
				return keyTriad
			}
			cost = keySeventh
		}
	}
	return cost
}

// inKey reports whether all notes of the chord are on the key's scale.
func inKey(chord theory.Chord, key theory.Key) bool {
	for _, b := range builds[chord.Quality] {
		if offKey(key, chord.Root.Transpose(b).In(4)) {
			return false
		}
	}
	return true
}

// movesBits reports what it costs to spell out moves: how many there are, and of each
// its unit, one of four, and its size.
func movesBits(moves []Move) int {
	cost := gammaBits(len(moves))
	for _, m := range moves {
		cost += 2*bit + gammaBits(m.By)
	}
	return cost
}
