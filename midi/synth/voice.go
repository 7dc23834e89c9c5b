package synth

import "math"

// A voice plays one region for one note.
type voice struct {
	region       *region
	channel, key int32
	velocity     int32
	ending       bool // the note has ended; the pedal may still hold it
	released     bool
	cut          bool // it fades within the next block
	age          int  // frames
	skip         int  // frames of its first block before it begins

	at, step int64 // place in the wave and way a frame, of fractionBits
	looping  bool
	volume   rising
	mod      rising
	vibrato  oscillation
	lfo      oscillation
	gain     float64 // of velocity and region
	filter   lowPass
	cutoff   float64 // where the filter stands, on its way to where it should

	panned      float64 // what left and right stand for
	panL, panR  float64
	left, right float32 // gain at the end of the last block
}

// fractionBits is how many bits of a place in a wave are of its fraction.
const fractionBits = 24

// farthest is how many samples of a wave a frame may go on by, whatever a font says.
const farthest = 1 << 20

// An oscillation is a swing under way.
type oscillation struct {
	delay, hz, phase, value float64
}

func (o *oscillation) begin(s swing) { *o = oscillation{delay: s.delay, hz: s.hz} }

func (o *oscillation) step(seconds float64) {
	if o.delay -= seconds; o.delay > 0 {
		return
	}
	o.phase -= o.delay * o.hz // what of the block lay after the delay
	o.delay = 0
	o.phase -= math.Floor(o.phase)
	switch p := o.phase; {
	case p < 0.25:
		o.value = 4 * p
	case p < 0.75:
		o.value = 4 * (0.5 - p)
	default:
		o.value = 4 * (p - 1)
	}
}

// begin starts the voice skip frames into the next block.
func (v *voice) begin(r *region, channel, key, velocity int32, skip int, rate float64) {
	*v = voice{region: r, channel: channel, key: key, velocity: velocity, skip: skip, looping: r.loops, cutoff: r.cutoff,
		panned: math.Inf(1)}
	v.gain = amplitude(40*math.Log10(float64(velocity)/127) + r.dB)
	volume, mod, above := r.volume, r.mod, float64(60-key)
	volume.hold *= timecentsRatio(r.holdKey * above)
	volume.decay *= timecentsRatio(r.decayKey * above)
	mod.attack *= float64(145-velocity) / 144 // louder notes open sooner, as meltysynth does
	mod.hold *= timecentsRatio(r.modHoldKey * above)
	mod.decay *= timecentsRatio(r.modDecayKey * above)
	block := blockSize / rate
	v.volume.begin(volume, false, block)
	v.mod.begin(mod, true, block)
	v.vibrato.begin(r.vibrato)
	v.lfo.begin(r.lfo)
	v.filter.set(v.cutoff, r.resonance, rate)
	v.tune(rate)
}

// tune sets the way a frame for the pitch of this block.
func (v *voice) tune(rate float64) {
	r := v.region
	pitch := float64(v.key) + r.vibratoToPitch*v.vibrato.value + r.modToPitch*v.mod.value + r.lfoToPitch*v.lfo.value
	semitones := r.scale*(pitch-r.root) + r.tune
	step := r.rate / rate * math.Exp2(min(max(semitones, -240), 240)/12)
	v.step = int64(min(step, farthest) * (1 << fractionBits))
}

// end lets go of the note.
func (v *voice) end() { v.ending = true }

// priority is how much a voice is worth keeping when there are too many: those that
// begin most, of those that end the loudest.
func (v *voice) priority() float64 {
	return v.volume.value + float64(releasing-v.volume.stage)
}

// render adds the voice's next block to left and right, and reports false when it has
// ended.
func (v *voice) render(left, right *[blockSize]float32, ch *channel, rate float64) bool {
	if v.ending && !v.released && !ch.pedal && v.age >= int(rate/500) {
		v.released = true
		v.looping = v.looping && !v.region.loopsHeld
		v.volume.release()
		v.mod.release()
	}
	if v.gain < inaudible {
		return false
	}
	if v.cut {
		v.gain = 0
	}
	from := v.skip
	v.skip = 0
	n := blockSize - from
	// The first block counts as a whole one, so that a note's begin is the same
	// wherever in the block it lies.
	if !v.volume.step(blockSize / rate) {
		return false
	}
	v.modulate(blockSize/rate, rate)
	var block [blockSize]float32
	if !v.read(block[:n]) {
		return false
	}
	l, r := v.gains(ch)
	if v.age == 0 {
		v.left, v.right = l, r
	}
	v.filter.mix(block[:n], left[from:], right[from:], v.left, v.right, (l-v.left)/float32(n), (r-v.right)/float32(n))
	v.left, v.right = l, r
	v.age += n
	return true
}

// modulate moves what changes pitch and filter.
func (v *voice) modulate(seconds, rate float64) {
	r := v.region
	v.mod.step(seconds)
	if r.vibratoToPitch != 0 {
		v.vibrato.step(seconds)
	}
	if r.lfoToPitch != 0 || r.lfoToCutoff != 0 || r.lfoToVolume != 0 {
		v.lfo.step(seconds)
	}
	if r.vibratoToPitch != 0 || r.modToPitch != 0 || r.lfoToPitch != 0 {
		v.tune(rate)
	}
	if r.modToCutoff == 0 && r.lfoToCutoff == 0 {
		return
	}
	to := r.cutoff * math.Exp2((r.modToCutoff*v.mod.value+r.lfoToCutoff*v.lfo.value)/1200)
	to = min(max(to, 0.5*v.cutoff), 2*v.cutoff) // a wider jump would pop
	if math.Abs(to-v.cutoff) > 1e-4*v.cutoff {
		v.cutoff = to
		v.filter.set(to, r.resonance, rate)
	}
}

// fullScale brings a wave of 16 bits to half of full scale, which leaves room for many
// voices.
const fullScale = 0.5 / 32768

// gains reports the gain of both sides at the end of this block.
func (v *voice) gains(ch *channel) (left, right float32) {
	if pan := ch.pan + v.region.pan; pan != v.panned {
		v.panned = pan
		v.panR, v.panL = math.Sincos(math.Pi / 200 * min(max(pan+50, 0), 100))
	}
	gain := fullScale * v.gain * v.volume.value * ch.gain
	if v.region.lfoToVolume > 0.05 {
		gain *= amplitude(v.region.lfoToVolume * v.lfo.value)
	}
	return float32(gain * v.panL), float32(gain * v.panR)
}

// read fills block with the wave's next samples, between neighbours in a straight
// line, and reports false when there are none.
func (v *voice) read(block []float32) bool {
	r := v.region
	end := r.end
	if v.looping {
		end = r.loopEnd
	}
	const fraction = 1<<fractionBits - 1
	if last := v.at + int64(len(block))*v.step; last>>fractionBits < end-1 { // no end within the block
		at, step, data := v.at, v.step, r.data
		for i := range block {
			k := at >> fractionBits
			a, b := int32(data[k]), int32(data[k+1])
			block[i] = float32(a) + float32(b-a)*float32(at&fraction)*(1.0/(1<<fractionBits))
			at += step
		}
		v.at = at
		return true
	}
	for i := range block {
		if v.looping && v.at>>fractionBits >= end {
			v.at -= (r.loopEnd - r.loopStart) << fractionBits
			if v.at>>fractionBits >= end { // a way a frame beyond the whole loop
				v.at = r.loopStart << fractionBits
			}
		}
		k := v.at >> fractionBits
		if k >= end {
			clear(block[i:])
			return i > 0
		}
		next := k + 1
		if v.looping && next >= end {
			next = r.loopStart
		}
		a, b := int32(r.data[k]), int32(r.data[next])
		block[i] = float32(a) + float32(b-a)*float32(v.at&fraction)*(1.0/(1<<fractionBits))
		v.at += v.step
	}
	return true
}

// A lowPass is a resonant low-pass of second order (the usual audio cookbook form,
// from memory).
type lowPass struct {
	open           bool // lets all through
	b, a1, a2      float32
	x1, x2, y1, y2 float32
}

// set moves the corner to cutoff Hz; resonance is the peak there, as a ratio.
func (f *lowPass) set(cutoff, resonance, rate float64) {
	if f.open = cutoff >= 0.499*rate; f.open {
		return
	}
	// The Q that makes the peak wanted, within 3 % (meltysynth's).
	q := resonance - (1-1/math.Sqrt2)/(1+6*(resonance-1))
	sin, cos := math.Sincos(2 * math.Pi * cutoff / rate)
	alpha := sin / (2 * q)
	f.b = float32((1 - cos) / 2 / (1 + alpha))
	f.a1, f.a2 = float32(-2*cos/(1+alpha)), float32((1-alpha)/(1+alpha))
}

// mix filters block and adds it to both sides, whose gains go evenly from l and r by
// dl and dr a frame.
func (f *lowPass) mix(block, left, right []float32, l, r, dl, dr float32) {
	left, right = left[:len(block)], right[:len(block)]
	if f.open {
		for i, x := range block {
			left[i] += l * x
			right[i] += r * x
			l += dl
			r += dr
		}
		n := len(block)
		f.x1, f.y1 = block[n-1], block[n-1]
		if n > 1 {
			f.x2, f.y2 = block[n-2], block[n-2]
		}
		return
	}
	b, a1, a2 := f.b, f.a1, f.a2
	x1, x2, y1, y2 := f.x1, f.x2, f.y1, f.y2
	for i, x := range block {
		// The last output comes in last: all else is ready when it is.
		y := (b*(x+x1+x1+x2) - a2*y2) - a1*y1
		x2, x1, y2, y1 = x1, x, y1, y
		left[i] += l * y
		right[i] += r * y
		l += dl
		r += dr
	}
	f.x1, f.x2, f.y1, f.y2 = x1, x2, y1, y2
}
