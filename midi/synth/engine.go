package synth

import (
	"errors"
	"math"
)

// blockSize is how many frames are made at once, 1.5 ms at 44.1 kHz. A note begins on
// its very frame; all else happens at the start of the block.
const blockSize = 64

// polyphony is how many voices sound at most: a band of eight with the ringing of
// cymbals and piano stays well under it.
const polyphony = 64

// usualGain brings a band at ordinary velocities to about -18 dBFS.
const usualGain = 5.6

// A message is one MIDI channel message, at most three bytes.
type message [3]byte

// A source gives an engine its messages. take reports the next one due before the
// given frame, and the frame for which it is due; false when there is none.
type source interface {
	take(before int64) (m message, at int64, ok bool)
}

// An engine turns messages into sound, block by block. It allocates nothing after
// it is made.
type engine struct {
	choir       *choir
	room        *room
	gain        float32
	frame       int64 // the first frame of the next block
	left, right [blockSize]float32
	used        int // frames of the block already handed out
}

// newEngine makes an engine at a sample rate of 16000 to 192000 Hz that can play the
// given programs, or all when none are given, at the usual loudness.
func newEngine(f *Font, rate int, programs ...Program) (*engine, error) {
	e, err := bareEngine(f, rate, programs...)
	if err == nil {
		e.gain = usualGain * f.gain()
	}
	return e, err
}

// bareEngine is newEngine without a gain.
func bareEngine(f *Font, rate int, programs ...Program) (*engine, error) {
	if rate < 16000 || rate > 192000 {
		return nil, errors.New("a sample rate is 16000 to 192000 Hz")
	}
	sounds, err := f.repertoire(programs)
	if err != nil {
		return nil, err
	}
	return &engine{choir: newChoir(sounds, rate), room: newRoom(rate), gain: 1, used: blockSize}, nil
}

// fill writes the next len(out)/2 frames, left and right in turn, limited to within
// full scale, taking the messages due from src.
func (e *engine) fill(out []float32, src source) {
	for len(out) > 0 {
		if e.used == blockSize {
			e.nextBlock(src)
		}
		n := min(blockSize-e.used, len(out)/2)
		left, right, both, gain := e.left[e.used:][:n], e.right[e.used:][:n], out[:2*n], e.gain
		for i, v := range left {
			both[2*i] = limit(gain * v)
			both[2*i+1] = limit(gain * right[i])
		}
		e.used += n
		out = out[2*n:]
	}
}

// nextBlock applies the messages that are due in this block and renders it.
func (e *engine) nextBlock(src source) {
	for {
		m, at, ok := src.take(e.frame + blockSize)
		if !ok {
			break
		}
		e.choir.apply(m, int(max(0, at-e.frame)))
	}
	e.choir.render(&e.left, &e.right)
	e.room.add(&e.left, &e.right)
	e.frame += blockSize
	e.used = 0
}

// apply plays one message at the start of the next block.
func (e *engine) apply(m message) { e.choir.apply(m, 0) }

// knee is the level from which the limiter bends; below it the sound is untouched.
const knee = 0.6

// limit keeps x within full scale without looking ahead: straight to the knee, then
// a curve that nears but never reaches 1.
func limit(x float32) float32 {
	a := x
	if a < 0 {
		a = -a
	}
	if a <= knee {
		return x
	}
	if a != a {
		return 0
	}
	over := (a - knee) / (1 - knee)
	y := knee + (1-knee)*over/(1+over)
	return float32(math.Copysign(float64(min(y, 0.999)), float64(x)))
}
