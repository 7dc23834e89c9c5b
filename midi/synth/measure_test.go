package synth

import (
	"math"
	"math/cmplx"
	"testing"
)

const testRate = 44100

// builtin opens the built-in font.
func builtin(t testing.TB) *Font {
	t.Helper()
	f, err := Open("builtin", nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// soundOf plays one note for hold seconds, listens on for after seconds, and reports
// the middle of the two sides.
func soundOf(t testing.TB, f *Font, channel, program, key, velocity byte, hold, after float64) []float64 {
	t.Helper()
	e, err := newEngine(f, testRate)
	if err != nil {
		t.Fatal(err)
	}
	e.apply(message{0xC0 | channel, program})
	e.apply(message{0x90 | channel, key, velocity})
	out := make([]float32, 2*int(testRate*(hold+after)))
	n := 2 * int(testRate*hold)
	e.fill(out[:n], nothing{})
	e.apply(message{0x80 | channel, key, 0})
	e.fill(out[n:], nothing{})
	return middle(out)
}

// middle reports the mean of the two sides of interleaved frames.
func middle(frames []float32) []float64 {
	x := make([]float64, len(frames)/2)
	for i := range x {
		x[i] = float64(frames[2*i]+frames[2*i+1]) / 2
	}
	return x
}

func rms(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(len(x)))
}

// dB reports a ratio of amplitudes in decibels.
func dB(x float64) float64 { return 20 * math.Log10(x) }

// part cuts seconds from to to out of x.
func part(x []float64, from, to float64) []float64 {
	return x[int(from*testRate):int(to*testRate)]
}

// strength reports the amplitude of the part of x at hz.
func strength(x []float64, hz float64) float64 {
	turn := cmplx.Rect(1, 2*math.Pi*hz/testRate)
	window := cmplx.Rect(1, 2*math.Pi/float64(len(x)))
	var sum complex128
	at, w := complex(1, 0), complex(1, 0)
	for _, v := range x {
		sum += at * complex(v*(0.5-0.5*real(w)), 0)
		at *= turn
		w *= window
	}
	return 4 * cmplx.Abs(sum) / float64(len(x))
}

// offPitch reports by how many cents the partial of x next to hz lies above it,
// looked for within 30 cents.
func offPitch(x []float64, hz float64) float64 {
	best, at := 0.0, 0.0
	for cents := -30.0; cents <= 30; cents += 2 {
		if a := strength(x, hz*math.Pow(2, cents/1200)); a > best {
			best, at = a, cents
		}
	}
	return at
}

// rise reports the milliseconds from 10 to 80 % of the greatest loudness, over
// windows of 5 ms.
func rise(x []float64) float64 {
	const window, hop = testRate / 200, testRate / 800
	var loud []float64
	top := 0.0
	for i := 0; i+window <= len(x); i += hop {
		loud = append(loud, rms(x[i:i+window]))
		top = max(top, loud[len(loud)-1])
	}
	from, to := -1, -1
	for i, v := range loud {
		if from < 0 && v > 0.1*top {
			from = i
		}
		if to < 0 && v > 0.8*top {
			to = i
		}
	}
	return 1000 * float64((to-from)*hop) / testRate
}

// brightness reports the centroid of the power spectrum of the first 8192 samples, in
// Hz, over bands a fiftieth apart.
func brightness(x []float64) float64 {
	var moment, power float64
	for hz := 20.0; hz < 16000; hz *= 1.02 {
		p := math.Pow(strength(x[:8192], hz), 2) * hz // bands widen with hz
		moment += p * hz
		power += p
	}
	return moment / power
}

// onsets reports the samples at which a sound begins: louder than floor after at
// least gap samples that were not.
func onsets(x []float64, floor float64, gap int) []int {
	var found []int
	last := -gap - 1
	for i, v := range x {
		if math.Abs(v) < floor {
			continue
		}
		if i-last > gap {
			found = append(found, i)
		}
		last = i
	}
	return found
}
