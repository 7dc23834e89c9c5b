package synth

import (
	"fmt"
	"math"
)

// A strike is an instrument that is struck or plucked and then dies away.
type strike struct {
	name     string
	programs []int // General MIDI, from 0
	roots    []int // the keys at which it is recorded, rising
	shape    envelope
	ratios   []float64 // partials over the fundamental; nil is a string's
	stiff    float64   // a string's inharmonicity B: partial k lies at k·sqrt(1+B·k²)
	place    float64   // where along the string it is struck, 0 to 1; 0 is nowhere in particular
	ring     float64   // seconds to fall by 60 dB at the middle root
	ringTilt float64   // how much shorter an octave up: 1 halves it
	damp     float64   // extra fall of the partials, in 1/s for each kHz above the fundamental
	prompt   float64   // share of the sound that falls at once, as struck strings do
	knock    knock
	open     float64 // Hz, the filter's cutoff when played loud
	release  float64 // seconds until it is gone once damped
	attack   float64 // seconds
	level    float64 // dB, to match the other voices by ear
}

// A knock is the burst of noise of hammer or finger.
type knock struct {
	dB      float64 // over the tone; 0 is none
	hz      float64 // low-pass
	seconds float64 // to fall by 60 dB
}

// strikeDarkens is how much softer playing darkens what is struck, as a tone's darkens.
const strikeDarkens = 0.7

// ringOut is how long the changing part of a struck wave is, in seconds; then it
// loops, and the volume envelope alone carries it on.
const ringOut = 0.6

// record synthesizes the waves and zones; the zones count waves from first.
func (s strike) record(first int) ([]wave, patch) {
	p := patch{name: s.name, programs: s.programs}
	var waves []wave
	for i, root := range s.roots {
		waves = append(waves, s.wave(i, root))
		low, high := zoneKeys(s.roots, i)
		for _, l := range layers {
			cutoff := max(s.open*math.Pow(l.open, strikeDarkens)*math.Sqrt(keyHz(root)/keyHz(60)), 2*keyHz(root))
			p.zones = append(p.zones, zone{wave: first + i, lowKey: low, highKey: high,
				lowVelocity: l.low, topVelocity: l.top, settings: []setting{
					{genFilterCutoff, absoluteCents(cutoff)},
					{genVolumeAttack, timecents(s.attack)},
					{genVolumeDecay, timecents(s.ringAt(root) * 100 / 60)},
					{genVolumeSustain, 1000},
					{genVolumeRelease, timecents(s.release)},
				}})
		}
	}
	return waves, p
}

// ringAt reports the seconds in which a note at key falls by 60 dB.
func (s strike) ringAt(key int) float64 {
	middle := s.roots[len(s.roots)/2]
	return s.ring * math.Pow(2, -s.ringTilt*float64(key-middle)/12)
}

// wave records the instrument at one root. All partials lie on multiples of the
// loop's own frequency, so that the loop has no seam.
func (s strike) wave(zone, root int) wave {
	hz := keyHz(root)
	period := 16
	for hz*float64(period) < max(2*s.top(root), 20000) {
		period *= 2
	}
	rate := hz * float64(period)
	periods := max(4, 4096/period)
	loop := periods * period
	start := int(ringOut*rate) &^ 3
	x := make([]float64, (start+loop+lead)&^3)
	rng := seedOf(s.name, zone)
	first := 0.0 // the strongest partial yet
	for k := 1; s.partial(k) > 0; k++ {
		bin := int(math.Round(s.partial(k) * float64(periods)))
		at := float64(bin) / float64(periods) * hz
		if at > min(0.45*rate, s.top(root)) {
			break
		}
		a := amplitude(s.shape.dB(k, at))
		if s.place > 0 {
			a *= math.Abs(math.Sin(math.Pi * float64(k) * s.place))
		}
		fall := s.damp * (at - hz) / 1000
		if first = max(first, a); a < 0.001*first {
			continue
		}
		addPartial(x[:], fading{amp: a, turn: 2 * math.Pi * float64(bin) / float64(loop), phase: rng.phase(),
			fall: fall / rate, prompt: s.prompt, promptFall: 8 / rate, freeze: start})
	}
	s.addKnock(&rng, x[:start], rate)
	return wave{name: fmt.Sprintf("%s %d", s.name, root),
		data: loudness(x, toneRMS*amplitude(s.level), 0, min(len(x), int(0.4*rate))),
		rate: int(math.Round(rate)), root: root, loopStart: start, loopEnd: start + loop}
}

// top reports the highest frequency worth recording at a root, in Hz.
func (s strike) top(root int) float64 {
	return min(max(6500, 12*keyHz(root)), 15000)
}

// partial reports the ratio of partial k to the fundamental, 0 when there is none.
func (s strike) partial(k int) float64 {
	if s.ratios == nil {
		return float64(k) * math.Sqrt(1+s.stiff*float64(k*k)) / math.Sqrt(1+s.stiff)
	}
	if k > len(s.ratios) {
		return 0
	}
	return s.ratios[k-1]
}

// A fading is one partial: a sine that falls, at first faster, until it freezes.
type fading struct {
	amp, turn, phase float64 // turn in radians a sample
	fall             float64 // 1/sample
	prompt           float64 // share of amp that falls by promptFall on top
	promptFall       float64 // 1/sample
	freeze           int     // the sample from which its level stays
}

// addPartial adds p to x, by the recurrence of a rotating pointer; four pointers,
// a sample apart, keep the processor busy. The level moves every fourth sample.
func addPartial(x []float64, p fading) {
	var re, im [4]float64
	for j := range re {
		im[j], re[j] = math.Sincos(p.phase + float64(j)*p.turn)
	}
	sin, cos := math.Sincos(4 * p.turn)
	slow, quick, gone := p.amp*(1-p.prompt), p.amp*p.prompt, 1e-4*p.amp
	slowFall, quickFall := math.Exp(-4*p.fall), math.Exp(-4*(p.fall+p.promptFall))
	for ; len(x) >= 4 && slow > gone; x = x[4:] {
		level := slow + quick
		for j, v := range im {
			x[j] += level * v
		}
		re[0], im[0] = re[0]*cos-im[0]*sin, re[0]*sin+im[0]*cos
		re[1], im[1] = re[1]*cos-im[1]*sin, re[1]*sin+im[1]*cos
		re[2], im[2] = re[2]*cos-im[2]*sin, re[2]*sin+im[2]*cos
		re[3], im[3] = re[3]*cos-im[3]*sin, re[3]*sin+im[3]*cos
		if p.freeze -= 4; p.freeze > 0 {
			slow *= slowFall
			quick *= quickFall
		}
	}
}

// addKnock adds the burst of noise, its level told against the tone's first peak.
func (s strike) addKnock(rng *noise, x []float64, rate float64) {
	if s.knock.dB == 0 {
		return
	}
	var peak float64
	for _, v := range x[:len(x)/4] {
		peak = max(peak, math.Abs(v))
	}
	burst := burst{high: s.knock.hz, dB: s.knock.dB, attack: 0.0005, fall: s.knock.seconds}
	addBurst(rng, x, burst, peak, rate)
}
