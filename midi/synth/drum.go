package synth

import "math"

// A drum is one untuned instrument of the kit: modes that ring and bursts of noise.
type drum struct {
	name      string
	keys      []int // General MIDI percussion keys that it plays
	steps     []int // semitones by which each key is shifted; nil is none
	seconds   float64
	rate      float64 // samples a second
	modes     []mode
	bursts    []burst
	pan       float64 // -50 left to 50 right
	exclusive int16   // drums of one class above 0 choke each other
	dull      float64 // Hz, the filter's cutoff at the softest; 0 leaves it open
	release   float64 // seconds once the note ends; 0 lets it ring
	level     float64 // dB, to match the other voices by ear
}

// A mode is one way in which a drum swings.
type mode struct {
	hz   float64
	dB   float64
	fall float64 // seconds to fall by 60 dB
	bend float64 // semitones by which it starts sharp; the head slackens in 30 ms
}

// A burst is noise between two frequencies that rises and falls.
type burst struct {
	low, high float64 // Hz; a low of 0 cuts nothing below
	dB        float64
	attack    float64 // seconds
	fall      float64 // seconds to fall by 60 dB
}

// record synthesizes the drum's wave and its zones.
func (d drum) record(index int) (wave, []zone) {
	x := make([]float64, int(d.seconds*d.rate))
	rng := seedOf(d.name, 0)
	for _, m := range d.modes {
		addMode(x, m, rng.phase(), d.rate)
	}
	for _, b := range d.bursts {
		addBurst(&rng, x, b, 1, d.rate)
	}
	fade := min(len(x), int(0.1*d.seconds*d.rate))
	for i := range fade {
		x[len(x)-1-i] *= float64(i) / float64(fade)
	}
	data := loudness(x, toneRMS*amplitude(d.level), 0, min(len(x), int(0.08*d.rate)))
	w := wave{name: d.name, data: data, rate: int(d.rate), root: 60}
	var zones []zone
	for i, key := range d.keys {
		zones = append(zones, d.zonesAt(index, i, key)...)
	}
	return w, zones
}

// zonesAt reports the zones of one key, one for each velocity layer.
func (d drum) zonesAt(index, i, key int) []zone {
	release := d.release
	if release == 0 {
		release = 30
	}
	var zones []zone
	for _, l := range layers {
		s := []setting{
			{genVolumeRelease, timecents(release)}, {genPan, int16(10 * d.pan)},
			{genOverridingRoot, int16(key)}, {genExclusiveClass, d.exclusive},
		}
		if d.steps != nil {
			s[2].amount -= int16(d.steps[i])
		}
		if d.dull != 0 && l.open < 1 {
			s = append(s, setting{genFilterCutoff, absoluteCents(d.dull * math.Pow(12000/d.dull, (l.open-layers[0].open)/(1-layers[0].open)))})
		}
		zones = append(zones, zone{wave: index, lowKey: key, highKey: key, lowVelocity: l.low, topVelocity: l.top, settings: s})
	}
	return zones
}

// addMode adds a falling sine whose pitch settles.
func addMode(x []float64, m mode, phase, rate float64) {
	a := amplitude(m.dB)
	if m.bend == 0 {
		addPartial(x, fading{amp: a, turn: 2 * math.Pi * m.hz / rate, phase: phase,
			fall: 3 * math.Ln10 / (m.fall * rate), freeze: len(x)})
		return
	}
	fall := math.Exp(-math.Ln10 * 3 / (m.fall * rate))
	bend := math.Pow(2, m.bend/12) - 1
	settle := math.Exp(-1 / (0.03 * rate))
	for i := range x {
		x[i] += a * math.Sin(phase)
		phase += 2 * math.Pi * m.hz * (1 + bend) / rate
		bend *= settle
		if a *= fall; a < 1e-5 {
			return
		}
	}
}

// addBurst adds the noise b to x, scaled so that full noise is as loud as unit.
func addBurst(rng *noise, x []float64, b burst, unit, rate float64) {
	low, high := newBiquad(true, b.low, rate), newBiquad(false, b.high, rate)
	a := unit * amplitude(b.dB)
	fall := math.Exp(-math.Ln10 * 3 / (b.fall * rate))
	rise, level := 1/max(1, b.attack*rate), 0.0
	// Cutting a band out of white noise takes power away; give it back.
	a *= math.Sqrt(0.5 * rate / max(min(b.high, 0.5*rate)-b.low, 100))
	for i := range x {
		v := rng.white()
		if b.low > 0 {
			v = low.step(v)
		}
		v = high.step(v)
		if level < 1 {
			level = min(1, level+rise)
		} else if a *= fall; a < 1e-5*unit {
			return
		}
		x[i] += a * level * v
	}
}

// A biquad is a second-order Butterworth filter in transposed direct form.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

// newBiquad makes a high-pass or low-pass with its corner at hz (bilinear transform,
// the usual audio cookbook form, from memory).
func newBiquad(highPass bool, hz, rate float64) *biquad {
	hz = min(max(hz, 1), 0.49*rate)
	sin, cos := math.Sincos(2 * math.Pi * hz / rate)
	alpha := sin / math.Sqrt2
	a0 := 1 + alpha
	f := &biquad{a1: -2 * cos / a0, a2: (1 - alpha) / a0}
	if highPass {
		f.b0, f.b1 = (1+cos)/2/a0, -(1+cos)/a0
	} else {
		f.b0, f.b1 = (1-cos)/2/a0, (1-cos)/a0
	}
	f.b2 = f.b0
	return f
}

func (f *biquad) step(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}
