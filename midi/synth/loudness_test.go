package synth

import (
	"math"
	"testing"
)

// lufs reports the integrated loudness of interleaved stereo frames by ITU-R BS.1770-4:
// weighted by two filters, in blocks of 0.4 s, without those under -70 LUFS and those
// 10 LU under the mean of the rest. (Filter parameters as in published
// implementations, from memory.)
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

// A kWeight is the two filters of BS.1770 one after the other.
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
