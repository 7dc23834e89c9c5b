package synth

import "math"

// trial is what a foreign font is asked to play to learn how loud it is: what most of
// the bands of both styles are made of, in the middle of their ranges.
var trial = []struct{ channel, program, key byte }{
	{0, 58, 41}, {0, 60, 58}, {0, 57, 53}, {0, 48, 60}, {percussionChannel, 0, 36}, {percussionChannel, 0, 38},
}

// trialLoudness is the loudness of the built-in font over the trial.
const trialLoudness = 0.0093

// measureGain reports the gain that makes a font as loud as the built-in one over
// the trial, within a factor of 10 either way.
func measureGain(f *Font) float32 {
	heard := trialRMS(f)
	if heard == 0 {
		return 1
	}
	return float32(min(max(trialLoudness/heard, 0.1), 10))
}

// trialRMS reports the mean over the trial of the root mean square of half a second
// of a note at velocity 80, weighted as the ear does (ITU-R BS.1770).
func trialRMS(f *Font) float64 {
	const rate = 22050
	var programs []Program
	for _, t := range trial {
		programs = append(programs, Program{t.channel == percussionChannel, t.program})
	}
	e, err := bareEngine(f, rate, programs...)
	if err != nil {
		return 0 // the font cannot be read; whoever plays it is told so
	}
	out := make([]float32, rate) // half a second of frames
	var sum float64
	for _, t := range trial {
		e.choir.silence(true)
		e.apply(message{0xC0 | t.channel, t.program})
		e.apply(message{0x90 | t.channel, t.key, 80})
		e.fill(out, nothing{})
		left, right := newKWeight(rate), newKWeight(rate)
		var power float64
		for i := 0; i < len(out); i += 2 {
			l, r := left.step(float64(out[i])), right.step(float64(out[i+1]))
			power += l*l + r*r
		}
		sum += math.Sqrt(power / float64(len(out)))
	}
	return sum / float64(len(trial))
}

// nothing is a source without messages.
type nothing struct{}

func (nothing) take(int64) (message, int64, bool) { return message{}, 0, false }

// A kWeight is how loud the ear finds what lies high and low: the two filters of ITU-R
// BS.1770-4, a shelf for the head and a high-pass, one after the other. (Parameters as
// in published implementations, from memory.)
type kWeight struct{ shelf, high biquad }

func newKWeight(rate float64) *kWeight {
	k := math.Tan(math.Pi * 1681.974450955533 / rate)
	const q, vh = 0.7071752369554196, 1.5848647011308556 // the shelf's height is 4 dB
	vb := math.Pow(vh, 0.4996667741545416)
	a0 := 1 + k/q + k*k
	w := new(kWeight)
	w.shelf = biquad{b0: (vh + vb*k/q + k*k) / a0, b1: 2 * (k*k - vh) / a0, b2: (vh - vb*k/q + k*k) / a0,
		a1: 2 * (k*k - 1) / a0, a2: (1 - k/q + k*k) / a0}
	k = math.Tan(math.Pi * 38.13547087602444 / rate)
	const q2 = 0.5003270373238773
	a0 = 1 + k/q2 + k*k
	w.high = biquad{b0: 1, b1: -2, b2: 1, a1: 2 * (k*k - 1) / a0, a2: (1 - k/q2 + k*k) / a0}
	return w
}

func (w *kWeight) step(x float64) float64 { return w.high.step(w.shelf.step(x)) }
