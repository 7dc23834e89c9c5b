package transcribe

import (
	"math"

	"onward/rhythm"
	"onward/theory"
)

// How well each note of the chromatic scale fits a key, from the tonic up: the probe-tone
// ratings of Krumhansl & Kessler, "Tracing the dynamic changes in perceived tonal
// organization in a spatial representation of musical keys", Psychological Review 89
// (1982), from memory.
var profiles = [2][12]float64{
	theory.Major: {6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88},
	theory.Minor: {6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17},
}

// keyOf finds the key whose profile correlates best with how long each note of the
// chromatic scale sounds (Krumhansl, "Cognitive Foundations of Musical Pitch", 1990);
// plainer keys first.
func keyOf(all []note) theory.Key {
	var sounds [12]float64
	for _, n := range all {
		sounds[n.key%12] += float64(n.end-n.at) / float64(rhythm.Quarter)
	}
	best, most := theory.Key{}, math.Inf(-1)
	for _, fifths := range []int{0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5, -6} {
		for _, mode := range []theory.Mode{theory.Major, theory.Minor} {
			k := theory.Key{Fifths: fifths, Mode: mode}
			if r := correlation(sounds, profiles[mode], k.Tonic().Chroma()); r > most+1e-9 {
				best, most = k, r
			}
		}
	}
	return best
}

// correlation is Pearson's, of the sounds with the profile from the tonic up.
func correlation(sounds, profile [12]float64, tonic int) float64 {
	var meanX, meanY float64
	for i := range 12 {
		meanX += sounds[i] / 12
		meanY += profile[i] / 12
	}
	var xy, xx, yy float64
	for i := range 12 {
		x, y := sounds[(tonic+i)%12]-meanX, profile[i]-meanY
		xy, xx, yy = xy+x*y, xx+x*x, yy+y*y
	}
	if xx == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

// raised says which notes off a key's scale, in semitones above its tonic, are written as
// raised ones where nothing that follows says otherwise (common practice): in major the
// first and fourth, in minor also the third, sixth and seventh.
var raised = [2][12]bool{
	theory.Major: {1: true, 6: true},
	theory.Minor: {4: true, 6: true, 9: true, 11: true},
}

// spell writes a note in the key: of its scale, else a natural, else as it goes on: sharpened where the
// next note lies a half step up, flattened where it lies a half step down. In major the raised
// fourth that rises and the lowered seventh that falls are named so even where a natural sounds
// the same: they are of the dominants that lead to the dominant and to the subdominant (common
// practice). next is 0 for none.
func spell(key theory.Key, midi, next int) theory.Pitch {
	var up, down theory.Pitch // of the note below, sharpened, and of the one above, flattened
	for step := (midi/12-1)*7 - 2; step <= (midi/12-1)*7+9; step++ {
		p := key.At(step)
		switch midi - p.MIDI() {
		case 0:
			return p
		case 1:
			up = p
			up.Alter++
		case -1:
			if down == (theory.Pitch{}) {
				down = p
				down.Alter--
			}
		}
	}
	degree := (midi - key.Tonic().Chroma() + 1200) % 12
	sharp := raised[key.Mode][degree]
	switch {
	case key.Mode == theory.Minor && (degree == 9 || degree == 11): // the raised sixth and seventh
	case next == midi+1:
		sharp = true
	case next == midi-1:
		sharp = false
	}
	leads := key.Mode == theory.Major && (degree == 6 && next == midi+1 || degree == 10 && next == midi-1)
	switch {
	case !leads && up.Alter == 0 && down.Alter != 0: // a natural before a C flat or an E sharp
		return up
	case !leads && down.Alter == 0 && up.Alter != 0:
		return down
	case sharp && up.Alter < 2 || down.Alter < -1:
		return up
	}
	return down
}
