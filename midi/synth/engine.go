package synth

import (
	"math"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

// blockSize is how many frames are made at once, and the grid on which events are
// placed: 1.5 ms at 44.1 kHz, so an event is at most 0.73 ms from its time. An onset
// displaced by less than 10 ms is hard to hear (from memory).
const blockSize = 64

// polyphony is how many voices sound at most: a band of eight with the ringing of
// cymbals and piano stays well under it.
const polyphony = 64

// usualGain brings a band at ordinary velocities to about -18 dBFS.
const usualGain = 5.6

// A message is one MIDI channel message, at most three bytes.
type message [3]byte

// A source gives an engine its messages. take reports the next one due before the
// given frame, false when there is none.
type source interface {
	take(before int64) (message, bool)
}

// An engine turns messages into sound, block by block. It allocates nothing after
// it is made.
type engine struct {
	synth       *meltysynth.Synthesizer
	room        *room
	gain        float32
	frame       int64 // the first frame of the next block
	left, right [blockSize]float32
	used        int // frames of the block already handed out
}

// newEngine makes an engine at a sample rate of 16000 to 192000 Hz.
func newEngine(f *Font, rate int) (*engine, error) {
	settings := meltysynth.NewSynthesizerSettings(int32(rate))
	settings.BlockSize = blockSize
	settings.MaximumPolyphony = polyphony
	settings.EnableReverbAndChorus = false
	s, err := meltysynth.NewSynthesizer(f.file, settings)
	if err != nil {
		return nil, err
	}
	return &engine{synth: s, room: newRoom(rate), gain: usualGain * f.gain(), used: blockSize}, nil
}

// fill writes the next len(out)/2 frames, left and right in turn, limited to within
// full scale, taking the messages due from src.
func (e *engine) fill(out []float32, src source) {
	for len(out) > 0 {
		if e.used == blockSize {
			e.nextBlock(src)
		}
		n := min(blockSize-e.used, len(out)/2)
		for i := range n {
			out[2*i] = limit(e.gain * e.left[e.used+i])
			out[2*i+1] = limit(e.gain * e.right[e.used+i])
		}
		e.used += n
		out = out[2*n:]
	}
}

// nextBlock applies the messages nearer to this block's start than to the next
// one's and renders the block.
func (e *engine) nextBlock(src source) {
	for {
		m, ok := src.take(e.frame + blockSize/2)
		if !ok {
			break
		}
		e.apply(m)
	}
	e.synth.Render(e.left[:], e.right[:])
	e.room.add(&e.left, &e.right)
	e.frame += blockSize
	e.used = 0
}

// apply hands one message to the synthesizer.
func (e *engine) apply(m message) {
	e.synth.ProcessMidiMessage(int32(m[0]&0x0f), int32(m[0]&0xf0), int32(m[1]), int32(m[2]))
}

// silence ends every note, at once or by its release.
func (e *engine) silence(atOnce bool) { e.synth.NoteOffAll(atOnce) }

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
