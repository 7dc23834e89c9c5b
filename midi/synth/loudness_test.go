package synth

import (
	"math"
	"testing"
)

// lufs reports the integrated loudness of interleaved stereo frames by ITU-R BS.1770-4:
// weighted by two filters, in blocks of 0.4 s, without those under -70 LUFS and those
// 10 LU under the mean of the rest.
func lufs(frames []float32, rate float64) float64 {
	const hop = 0.1 // seconds; a block is four
	n := int(hop * rate)
	var hops []float64
	left, right := newKWeight(rate), newKWeight(rate)
	var sum float64
	for i := 0; i+1 < len(frames); i += 2 {
		l, r := left.step(float64(frames[i])), right.step(float64(frames[i+1]))
		sum += l*l + r*r
		if (i/2+1)%n == 0 {
			hops = append(hops, sum/float64(n))
			sum = 0
		}
	}
	var blocks []float64
	for i := 0; i+4 <= len(hops); i++ {
		blocks = append(blocks, (hops[i]+hops[i+1]+hops[i+2]+hops[i+3])/4)
	}
	level := func(power float64) float64 { return -0.691 + 10*math.Log10(power) }
	mean := func(over float64) float64 {
		var sum, n float64
		for _, b := range blocks {
			if level(b) > over {
				sum += b
				n++
			}
		}
		return sum / n
	}
	return level(mean(level(mean(-70)) - 10))
}

// EBU Tech 3341, case 1 (from memory): a stereo sine of 1 kHz at -23 dBFS is -23 LUFS, within 0.1.
func TestLoudnessOfASine(t *testing.T) {
	for _, rate := range []float64{44100, 48000} {
		frames := make([]float32, 2*int(rate)*5)
		for i := range frames {
			frames[i] = float32(amplitude(-23) * math.Sin(2*math.Pi*1000*float64(i/2)/rate))
		}
		if l := lufs(frames, rate); math.Abs(l+23) > 0.1 {
			t.Errorf("at %g Hz it is %.2f LUFS, want -23", rate, l)
		}
	}
}
