package synth

import (
	"fmt"
	"math"
)

// A tone is an instrument that sounds as long as it is blown or bowed.
type tone struct {
	name     string
	programs []int    // General MIDI, from 0
	roots    []int    // the keys at which it is recorded, rising
	shape    envelope // spectrum when played loud
	section  float64  // share of the sound that comes from a section's spread, 0 to 1
	spread   float64  // cents, how far the players lie apart
	breath   breath
	onset    onset
	open     float64 // Hz, the filter's cutoff when played loud in the middle of the range
	darkens  float64 // how much softer playing darkens it, 0 to 1: brass most, bows least
	vibrato  vibrato
	level    float64 // dB, to match the other voices by ear
	pan      float64 // where it sits, -50 left to 50 right
	long     bool    // a loop of longLoop samples, for a large section
}

// breath is the noise of air or bow that goes with a tone.
type breath struct {
	dB   float64 // under the tone; 0 is none
	hz   float64 // centre
	wide float64 // octaves to either side
}

// An onset is how a note speaks, stays and stops.
type onset struct {
	attack  float64 // seconds to full loudness
	bloom   float64 // cents by which the filter opens during the attack
	settle  float64 // seconds in which the note falls to its steady loudness
	fall    float64 // dB by which it falls
	release float64 // seconds until it is gone
}

// A vibrato is a regular wavering of pitch. The zero vibrato is none.
type vibrato struct{ cents, hz, delay float64 }

// layers are the velocity bands of every voice and how far the filter is open in
// each at most: softer playing is darker. Their number keeps each step small.
var layers = []struct {
	low, top int
	open     float64
}{{1, 31, 0.12}, {32, 47, 0.18}, {48, 63, 0.27}, {64, 79, 0.4}, {80, 95, 0.56}, {96, 111, 0.76}, {112, 127, 1}}

// toneRMS is the root mean square of a recorded tone, full scale 1, before its level.
const toneRMS = 0.16

// record synthesizes the tone's waves and zones; the zones count waves from first.
func (t tone) record(first int) ([]wave, patch) {
	p := patch{name: t.name, programs: t.programs}
	var waves []wave
	for i, root := range t.roots {
		waves = append(waves, t.wave(i, root))
		low, high := zoneKeys(t.roots, i)
		for _, l := range layers {
			p.zones = append(p.zones, zone{wave: first + i, lowKey: low, highKey: high,
				lowVelocity: l.low, topVelocity: l.top, settings: t.settings(root, high, l.open)})
		}
	}
	return waves, p
}

// zoneKeys reports the keys that root number i of roots serves: halfway to its
// neighbours, the outer ones to the ends of the keyboard.
func zoneKeys(roots []int, i int) (low, high int) {
	low, high = 0, 127
	if i > 0 {
		low = (roots[i-1]+roots[i])/2 + 1
	}
	if i < len(roots)-1 {
		high = (roots[i] + roots[i+1]) / 2
	}
	return low, high
}

// settings reports the generators of one zone, open telling how far the velocity
// opens the filter.
func (t tone) settings(root, high int, open float64) []setting {
	middle := keyHz(t.roots[len(t.roots)/2])
	cutoff := t.open * math.Pow(open, t.darkens) * math.Sqrt(keyHz(root)/middle)
	cutoff = max(cutoff, 1.5*keyHz(min(high, root+6)))
	s := []setting{
		{genFilterCutoff, absoluteCents(cutoff) - int16(t.onset.bloom)},
		{genVolumeAttack, timecents(t.onset.attack)},
		{genVolumeDecay, timecents(t.onset.settle * 100 / max(t.onset.fall, 0.1))},
		{genVolumeSustain, centibels(t.onset.fall)},
		{genVolumeRelease, timecents(t.onset.release)},
		{genPan, int16(10 * t.pan)},
	}
	if t.onset.bloom != 0 {
		s = append(s, setting{genModEnvToCutoff, int16(t.onset.bloom)},
			setting{genModEnvAttack, timecents(1.3 * t.onset.attack)},
			setting{genModEnvDecay, timecents(2 * t.onset.settle)},
			setting{genModEnvSustain, 200},
			setting{genModEnvRelease, timecents(2 * t.onset.release)})
	}
	if t.vibrato.cents != 0 {
		s = append(s, setting{genVibratoToPitch, int16(t.vibrato.cents)},
			setting{genVibratoRate, absoluteCents(t.vibrato.hz)},
			setting{genVibratoDelay, timecents(t.vibrato.delay)})
	}
	return s
}

// usualLoop and longLoop are the lengths of a tone's loop in samples, powers of two:
// about half a second and a second.
const (
	usualLoop = 16384
	longLoop  = 32768
)

// lead is how many samples of the loop stand before its start and after its end, so
// that a player may read past either.
const lead = 16

// wave records the tone at one root: a loop that holds a whole number of periods.
func (t tone) wave(zone, root int) wave {
	size := usualLoop
	if t.long {
		size = longLoop
	}
	hz := keyHz(root)
	period := 32
	for hz*float64(period) < 26000 {
		period *= 2
	}
	rate := hz * float64(period)
	re, im := t.spectrum(seedOf(t.name, zone), size, size/period, rate)
	x := fourierOf(size).wave(re, im)
	x = append(x, x[:2*lead]...)
	return wave{name: fmt.Sprintf("%s %d", t.name, root), data: loudness(x, toneRMS*amplitude(t.level), 0, size),
		rate: int(math.Round(rate)), root: root, loopStart: lead, loopEnd: lead + size}
}

// spectrum fills the bins of a loop of size samples that holds periods periods.
// Each harmonic is a line with, around it, the spread of a section; below all lies
// the breath.
func (t tone) spectrum(rng noise, size, periods int, rate float64) (re, im []float64) {
	re, im = make([]float64, size/2), make([]float64, size/2)
	binHz := rate / float64(size)
	top := min(0.45*rate, 15000)
	var power float64
	for k := 1; float64(k*periods)*binHz < top; k++ {
		a := amplitude(t.shape.dB(k, float64(k*periods)*binHz))
		power += a * a
		share := t.shareOf(k * periods)
		im[k*periods] -= a * math.Sqrt(1-share)
		t.addSpread(&rng, re, im, k*periods, a*math.Sqrt(share))
	}
	t.addBreath(&rng, re, im, binHz, top, power)
	return re, im
}

// addSpread adds pairs of lines around the one at bin centre, in a bell as wide as
// the section's spread, though no narrower than a bin; together they have amplitude a. A pair is a wavering of loudness at a
// random phase, so the pitch stays where it is.
func (t tone) addSpread(rng *noise, re, im []float64, centre int, a float64) {
	if a == 0 {
		return
	}
	sigma := max(float64(centre)*(math.Exp2(t.spread/1200)-1), 0.6)
	a /= math.Sqrt(sigma * math.Sqrt(math.Pi)) // the bell's own power
	f := fourierOf(2 * len(re))
	for d := 1; d <= int(math.Ceil(2.5*sigma)); d++ {
		cos, sin := f.angle(rng)
		v := a * math.Exp(-float64(d*d)/(2*sigma*sigma))
		if low, high := centre-d, centre+d; low > 0 && high < len(re) {
			re[high] += v * sin
			im[high] -= v * cos
			re[low] -= v * sin
			im[low] -= v * cos
		}
	}
}

// shareOf reports the section's share at a bin: where one bin is wide against the
// spread, as under low notes, lines beside the tone would only blur it.
func (t tone) shareOf(bin int) float64 {
	const cents = 1731.2 // of a ratio a little over 1: 1200/ln 2
	return t.section * min(1, 2*t.spread*float64(bin)/cents)
}

// addBreath adds noise in a band around the breath's centre, at its level under a
// tone of the given power.
func (t tone) addBreath(rng *noise, re, im []float64, binHz, top, power float64) {
	if t.breath.dB == 0 {
		return
	}
	first := max(1, int(t.breath.hz/math.Exp2(t.breath.wide)/binHz))
	last := min(int(top/binHz), int(t.breath.hz*math.Exp2(t.breath.wide)/binHz))
	f := fourierOf(2 * len(re))
	// A raised-cosine bell over the band has mean power 3/8.
	scale := math.Sqrt(power/(0.375*float64(last-first))) * amplitude(-t.breath.dB)
	for k := first; k < last; k++ {
		turn := (k - first) * f.n / (last - first)
		bell := 0.5 - 0.5*f.cosAt(turn)
		cos, sin := f.angle(rng)
		re[k] += scale * bell * cos
		im[k] += scale * bell * sin
	}
}
