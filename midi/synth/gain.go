package synth

import "math"

// trial is what a foreign font is asked to play to learn how loud it is: tuba,
// horns, trombone, clarinet and piano, in the middle of their ranges.
var trial = []struct{ program, key byte }{{58, 41}, {60, 58}, {57, 53}, {71, 70}, {0, 60}}

// trialLoudness is the loudness of the built-in font over the trial.
const trialLoudness = 0.0118

// measureGain reports the gain that makes a font as loud as the built-in one over
// the trial, within a factor of 10 either way.
func measureGain(f *Font) float32 {
	rms := trialRMS(f)
	if rms == 0 {
		return 1
	}
	return float32(min(max(trialLoudness/rms, 0.1), 10))
}

// trialRMS reports the mean over the trial of the root mean square of half a second
// of a note at velocity 80, played dry.
func trialRMS(f *Font) float64 {
	const rate = 22050
	var programs []Program
	for _, t := range trial {
		programs = append(programs, Program{Number: t.program})
	}
	e, err := bareEngine(f, rate, programs...)
	if err != nil {
		return 0 // the font cannot be read; whoever plays it is told so
	}
	out := make([]float32, rate) // half a second of frames
	var sum float64
	for _, t := range trial {
		e.choir.silence(true)
		e.apply(message{0xB0, 91, 0})
		e.apply(message{0xC0, t.program})
		e.apply(message{0x90, t.key, 80})
		e.fill(out, nothing{})
		var power float64
		for _, v := range out {
			power += float64(v) * float64(v)
		}
		sum += math.Sqrt(power / float64(len(out)))
	}
	return sum / float64(len(trial))
}

// nothing is a source without messages.
type nothing struct{}

func (nothing) take(int64) (message, int64, bool) { return message{}, 0, false }
