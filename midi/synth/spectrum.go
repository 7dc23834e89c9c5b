package synth

import (
	"math"
	"math/bits"
	"sync"
)

// wave turns a half spectrum into one period of a real wave: out[t] = sum over
// bins k of re[k] cos(2πkt/n) - im[k] sin(2πkt/n), with n = 2 len(re). It is a
// radix-2 inverse transform in place of a sum over sines, so the wave repeats
// without a seam whatever the spectrum.
func (f *fourier) wave(re, im []float64) []float64 {
	n := f.n
	x, y := make([]float64, n, n+2*lead), make([]float64, n) // room for what follows a loop
	for k := 1; k < n/2; k++ {
		r, i := f.reversed[k], f.reversed[n-k]
		x[r], y[r] = re[k]/2, im[k]/2
		x[i], y[i] = re[k]/2, -im[k]/2
	}
	for size := 2; size <= n; size *= 2 {
		half, step := size/2, n/size
		for start := 0; start < n; start += size {
			for j := 0; j < half; j++ {
				a, b := start+j, start+j+half
				c, s := f.cos[j*step], f.sin[j*step]
				tr, ti := x[b]*c-y[b]*s, x[b]*s+y[b]*c
				x[b], y[b] = x[a]-tr, y[a]-ti
				x[a], y[a] = x[a]+tr, y[a]+ti
			}
		}
	}
	return x
}

// A fourier holds the tables of a transform of n points, a power of two.
type fourier struct {
	n        int
	cos, sin []float64
	reversed []int
}

// fourierOf reports the transform of n points, made once for the loops' two sizes.
func fourierOf(n int) *fourier {
	switch n {
	case usualLoop:
		return usualFourier()
	case longLoop:
		return longFourier()
	}
	return newFourier(n)
}

var (
	usualFourier = sync.OnceValue(func() *fourier { return newFourier(usualLoop) })
	longFourier  = sync.OnceValue(func() *fourier { return newFourier(longLoop) })
)

func newFourier(n int) *fourier {
	f := &fourier{n: n, cos: make([]float64, n/2), sin: make([]float64, n/2), reversed: make([]int, n)}
	for i := range f.cos {
		f.sin[i], f.cos[i] = math.Sincos(2 * math.Pi * float64(i) / float64(n))
	}
	shift := 64 - bits.TrailingZeros(uint(n))
	for i := range f.reversed {
		f.reversed[i] = int(bits.Reverse64(uint64(i)) >> shift)
	}
	return f
}

// cosAt reports the cosine of i parts of a full turn of n.
func (f *fourier) cosAt(i int) float64 {
	if i >= f.n/2 {
		return -f.cos[i-f.n/2]
	}
	return f.cos[i]
}

// angle reports a random phase as its cosine and sine.
func (f *fourier) angle(rng *noise) (cos, sin float64) {
	i := int(rng.next() >> 32 % uint64(f.n))
	if i >= f.n/2 {
		return -f.cos[i-f.n/2], -f.sin[i-f.n/2]
	}
	return f.cos[i], f.sin[i]
}

// A formant is a broad hump of a voice's spectrum.
type formant struct {
	hz     float64 // centre
	dB     float64 // height over the rest
	octave float64 // half width in octaves
}

// An envelope is the shape of a voice's spectrum over frequency: a slope up to the
// knee, a steeper one above it, and humps.
type envelope struct {
	below, above float64 // dB an octave, below and above the knee
	knee         float64 // Hz
	even         float64 // dB added to even harmonics; clarinets are short of them
	formants     []formant
}

// dB reports the level of harmonic number k, which lies at hz.
func (e envelope) dB(k int, hz float64) float64 {
	octaves := math.Log2(hz / e.knee)
	level := e.above * octaves
	if octaves < 0 {
		level = e.below * octaves
	}
	for _, f := range e.formants {
		d := math.Log2(hz/f.hz) / f.octave
		level += f.dB * math.Exp(-d*d)
	}
	if k%2 == 0 {
		// A conical or open bore fills the even harmonics in towards the top.
		level += e.even / (1 + math.Pow(float64(k)/6, 2))
	}
	return level
}

// amplitude reports the ratio that dB decibels stand for.
func amplitude(dB float64) float64 { return math.Pow(10, dB/20) }

// keyHz reports the frequency of a MIDI key: key 69 is 440 Hz (ISO 16), equal
// temperament.
func keyHz(key int) float64 { return 440 * math.Pow(2, float64(key-69)/12) }

// loudness brings x to the given root mean square over its part [from, to), unless a
// peak would pass 0.95 of full scale, and rounds it to 16 bits.
func loudness(x []float64, rms float64, from, to int) []int16 {
	var sum, peak float64
	for i, v := range x {
		if from <= i && i < to {
			sum += v * v
		}
		peak = max(peak, math.Abs(v))
	}
	gain := rms / math.Sqrt(sum/float64(to-from))
	gain = min(gain, 0.95/peak)
	out := make([]int16, len(x))
	for i, v := range x {
		out[i] = int16(math.Round(32767 * gain * v))
	}
	return out
}
