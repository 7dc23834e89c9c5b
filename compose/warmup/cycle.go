package warmup

import "onward/theory"

// A circle is a way through all twelve keys: how far each tonic lies above the one before.
type circle struct {
	words     string
	semitones int
	fifths    [2]int // the two ways to move the signature by it
	level     int
}

// circles are the ways, each of which comes back after twelve. The next key's dominant
// seventh in the last measure leads on in all of them; in fourths it grows out of the tonic.
var circles = []circle{
	{"by fourths", 5, [2]int{-1, 11}, 7},
	{"by fifths", 7, [2]int{1, -11}, 8},
	{"by half steps up", 1, [2]int{-5, 7}, 9},
	{"by half steps down", 11, [2]int{5, -7}, 9},
}

// fewest reports the signature of six accidentals or fewer: C-sharp as D-flat.
func fewest(k theory.Key) theory.Key {
	switch {
	case k.Fifths > 6:
		k.Fifths -= 12
	case k.Fifths < -6:
		k.Fifths += 12
	}
	return k
}

// next reports the key that follows, in the spelling with the fewer accidentals. Six flats
// and six sharps are the same to it: on the way to the flats it is G-flat.
func (c *circle) next(k theory.Key) theory.Key {
	near, far := k, k
	near.Fifths += c.fifths[0]
	far.Fifths += c.fifths[1]
	if abs(far.Fifths) < abs(near.Fifths) {
		return far
	}
	return near
}

func abs(n int) int { return max(n, -n) }

// cycle is thirteen lines: in each the tonic arpeggio, the dominant seventh and the tonic
// to breathe on, and in its last measure the dominant seventh of the next line's key. The
// thirteenth is in the first key again and ends there.
func cycle(c *circle, g *ground, slots int) (drawn, bool) {
	if slots != 4 && slots != 6 && slots != 8 {
		return drawn{}, false
	}
	d := drawn{title: "Arpeggio and dominant seventh through twelve keys, " + c.words}
	key, near := fewest(g.key), middle(g.within)
	for range 12 { // F-sharp, come round from the other side, is G-flat
		key = c.next(key)
	}
	for i := range 13 {
		tonic, ok := place([]theory.Class{key.Degree(1), key.Degree(3), key.Degree(5), key.Degree(1)}, near, g.within)
		if !ok {
			return drawn{}, false
		}
		seventh, ok := place(key.DominantSeventh().Tones(), tonic[0].Step(), g.within)
		if !ok {
			return drawn{}, false
		}
		near = (tonic[0].Step() + 2*middle(g.within)) / 3
		notes := append(around(tonic, slots), around(seventh, slots)...)
		l := pattern{key: key, segments: []segment{{pitches: append(notes, tonic[0]), fill: func(int) []theory.Pitch { return nil }}}}
		if i < 12 {
			next := c.next(key)
			leading, ok := place(next.DominantSeventh().Tones(), tonic[0].Step(), g.within)
			if !ok {
				return drawn{}, false
			}
			l.segments = append(l.segments, segment{pitches: around(leading, slots), open: true})
			key = next
		}
		d.lines = append(d.lines, l)
	}
	return d, true
}

// middle is the staff position in the middle of a range.
func middle(r theory.Range) int { return (r.Low.Step() + r.High.Step()) / 2 }

// around goes up and down the four tones of a chord for a measure.
func around(tones []theory.Pitch, slots int) []theory.Pitch {
	way := map[int][]int{4: {0, 1, 2, 3}, 6: {0, 1, 2, 3, 2, 1}, 8: {0, 1, 2, 3, 2, 3, 2, 1}}[slots]
	notes := make([]theory.Pitch, slots)
	for i, w := range way {
		notes[i] = tones[w]
	}
	return notes
}

// place puts classes one above the other within the range, the lowest as near as can be to
// a staff position. It is false where they do not fit.
func place(classes []theory.Class, near int, within theory.Range) (best []theory.Pitch, ok bool) {
	for octave := within.Low.Octave - 1; octave <= within.High.Octave; octave++ {
		pitches := []theory.Pitch{classes[0].In(octave)}
		for _, c := range classes[1:] {
			last := pitches[len(pitches)-1]
			p := c.In(last.Octave)
			if p.Step() <= last.Step() {
				p.Octave++
			}
			pitches = append(pitches, p)
		}
		if !within.Has(pitches[0]) || !within.Has(pitches[len(pitches)-1]) {
			continue
		}
		if !ok || abs(pitches[0].Step()-near) < abs(best[0].Step()-near) {
			best, ok = pitches, true
		}
	}
	return best, ok
}
