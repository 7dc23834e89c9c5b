package warmup

import (
	"math/rand/v2"
	"slices"

	"onward/theory"
)

// A chord tone is counted from the tonic, which is 0: 1 the third, 2 the fifth, 3 the octave;
// -1 the fifth below.

// chordDegree reports the degree of a tone of the tonic triad.
func chordDegree(tone int) int {
	octave := (tone+300)/3 - 100
	return 1 + 7*octave + 2*(tone-3*octave)
}

// tones reports the lowest and the highest tone of the tonic triad in the range.
func (g *ground) tones() (low, high int) {
	for g.low <= chordDegree(low-1) {
		low--
	}
	for g.high >= chordDegree(high+1) {
		high++
	}
	return low, high
}

// chordLine is a line of tones of the tonic triad that ends on its last.
func (g *ground) chordLine(words string, tones []int) pattern {
	pitch := func(tone int) theory.Pitch { return g.at(chordDegree(tone), false) }
	s := segment{}
	for _, t := range tones {
		s.pitches = append(s.pitches, pitch(t))
	}
	home := tones[len(tones)-1]
	low, _ := g.tones()
	s.fill = func(n int) []theory.Pitch {
		var notes []theory.Pitch
		for _, away := range turned(zigzag(n), home, slices.Max(tones)) {
			if home+away < low {
				return nil
			}
			notes = append(notes, pitch(home+away))
		}
		return notes
	}
	return pattern{key: g.key, words: words, segments: []segment{s}}
}

// toTheFifth are ways through the three tones of a triad, for a range that holds no more.
var toTheFifth = []struct {
	words string
	tones []int
}{
	{"up and down", []int{0, 1, 2, 1, 0}},
	{"fifth first", []int{0, 2, 1, 2, 0}},
	{"from the lowest each time", []int{0, 1, 0, 2, 0}},
	{"up twice", []int{0, 1, 2, 0, 1, 2, 0}},
	{"down to the lowest", []int{0, 2, 1, 0}},
}

// arpeggio is the tonic triad to the octave up and down, then from its top down and up;
// where the range holds no more than the fifth, two ways through its three tones.
func arpeggio(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	low, high := g.tones()
	top := min(high, 3)
	if top < 2 {
		if low == 0 {
			return drawn{}, false
		}
		tones := append(append(run(0, top), run(top-1, -1)...), 0)
		return drawn{"Arpeggio to the third above, the fourth below, and home", []pattern{g.chordLine("", tones)}}, true
	}
	d := drawn{title: "Arpeggio to the " + ordinal(chordDegree(top)) + " and back"}
	if top < 3 {
		for _, i := range rng.Perm(len(toTheFifth))[:2] {
			d.lines = append(d.lines, g.chordLine(toTheFifth[i].words, toTheFifth[i].tones))
		}
		return d, true
	}
	d.lines = append(d.lines, g.chordLine("up and down", append(run(0, top), run(top-1, 0)...)))
	d.lines = append(d.lines, g.chordLine("down and up", append(run(3, 0), run(1, 3)...)))
	return d, true
}

// extendedArpeggio is arpeggios each one tone longer than the one before.
func extendedArpeggio(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	_, high := g.tones()
	high = min(high, 6)
	first := max(high-inARow+1, 1)
	if first > 2 {
		first = 2 + rng.IntN(first-1)
	}
	var d drawn
	var tops []string
	for top := first; top <= min(high, first+inARow-1); top++ {
		name := ordinal(chordDegree(top))
		d.lines = append(d.lines, g.chordLine("to the "+name, append(run(0, top), run(top-1, 0)...)))
		tops = append(tops, name)
	}
	d.title = "Arpeggio to the " + list(tops) + ", and back"
	return d, len(d.lines) > 1
}

// growingArpeggio goes from a tone of the triad upward, down below it and back, each line a
// tone further both ways.
func growingArpeggio(g *ground, _ int, rng *rand.Rand) (drawn, bool) {
	low, high := g.tones()
	home, top, lines := ends(low, high, []int{0, 1, 2}, 3, rng)
	d := drawn{title: "Arpeggio growing at both ends"}
	if home > 0 {
		d.title += ", from the " + ordinal(chordDegree(home))
	}
	for i := range lines {
		tones := append(run(home, top+i), run(top+i-1, home-1-i)...)
		tones = append(tones, run(home-i, home)...)
		d.lines = append(d.lines, g.chordLine("", tones))
	}
	return d, lines > 1
}

// neighbours surrounds the tones of the triad with the step above and the half step below,
// or, where three notes go to a beat, touches the half step below each note of the scale.
func neighbours(g *ground, slots int, _ *rand.Rand) (drawn, bool) {
	switch {
	case slots%4 == 0:
		return g.surrounded()
	case slots%3 == 0:
		return g.touched()
	}
	return drawn{}, false
}

// halfStepBelow reports the half step below on the letter below.
func halfStepBelow(p theory.Pitch) theory.Pitch { return p.Transpose(theory.MinorSecond.Neg()) }

func (g *ground) surrounded() (drawn, bool) {
	_, high := g.tones()
	top := min(high, 3)
	if chordDegree(top)+1 > g.high {
		top--
	}
	around := append(run(0, top), run(top-1, 1)...)
	if top < 1 {
		return drawn{}, false
	}
	d := drawn{title: "Arpeggio with the note above and the half step below each"}
	for _, above := range []bool{true, false} {
		words := "above, then below"
		l := g.chordLine(words, []int{top, 0})
		var notes []theory.Pitch
		for _, t := range around {
			degree := chordDegree(t)
			p := g.at(degree, false)
			up, down := g.at(degree+1, false), halfStepBelow(p)
			if !above {
				up, down = down, up
				l.words = "below, then above"
			}
			notes = append(notes, p, up, down, p)
		}
		l.segments[0].pitches = append(notes, g.tonic)
		d.lines = append(d.lines, l)
	}
	return d, g.holds(d)
}

func (g *ground) touched() (drawn, bool) {
	top := min(g.high, 5)
	l := g.scaleLine("", line(top, 1))
	var notes []theory.Pitch
	for _, degree := range append(run(1, top), run(top-1, 2)...) {
		p := g.at(degree, false)
		notes = append(notes, p, halfStepBelow(p), p)
	}
	l.segments[0].pitches = append(notes, g.tonic)
	d := drawn{"Scale to the " + ordinal(top) + " with the half step below each note", []pattern{l}}
	return d, g.holds(d)
}

// holds says whether the range holds all that was drawn, and no note is altered more than
// twice.
func (g *ground) holds(d drawn) bool {
	for _, l := range d.lines {
		for _, s := range l.segments {
			for _, p := range s.pitches {
				if !g.within.Has(p) || p.Alter < -2 || p.Alter > 2 {
					return false
				}
			}
		}
	}
	return true
}
