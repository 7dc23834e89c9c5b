package synth

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

// melty is another synthesizer with the built-in font in it, which our voices must
// equal where both are exact: notes that begin on a block.
func melty(t *testing.T) *meltysynth.Synthesizer {
	t.Helper()
	data, err := builtinFile()
	if err != nil {
		t.Fatal(err)
	}
	f, err := meltysynth.NewSoundFont(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	settings := meltysynth.NewSynthesizerSettings(testRate)
	settings.BlockSize, settings.MaximumPolyphony, settings.EnableReverbAndChorus = blockSize, polyphony, false
	s, err := meltysynth.NewSynthesizer(f, settings)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// literal is the built-in font in which the shortest delay is what it says, a
// millisecond, as the other synthesizer takes it.
func literal(t *testing.T) *Font {
	t.Helper()
	f, err := openBank(newBuiltin())
	if err != nil {
		t.Fatal(err)
	}
	all, err := f.repertoire(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range all {
		for _, s := range kind {
			for i := range s.regions {
				s.regions[i].volume.delay = 1.0 / 1024
			}
		}
	}
	return f
}

// Each program at soft and loud, with pedal, pans and volumes, held and let go, sounds
// as the other synthesizer plays it, to 45 dB under the sound and its own roughness.
func TestVoicesEqualAnotherSynthesizer(t *testing.T) {
	other := melty(t)
	f := literal(t)
	for _, p := range newBuiltin().patches {
		for i, velocity := range []byte{35, 70, 110} {
			channel, keys := byte(0), []byte{48, 67}
			if p.bank == 128 {
				channel, keys = 9, []byte{36, 38, 49, 76}
			}
			e, err := newEngine(f, testRate)
			if err != nil {
				t.Fatal(err)
			}
			other.Reset()
			say := func(m message) {
				e.apply(m)
				other.ProcessMidiMessage(int32(m[0]&15), int32(m[0]&0xf0), int32(m[1]), int32(m[2]))
			}
			var ours, theirs []float64
			hear := func(blocks int) {
				for range blocks {
					var l, r [blockSize]float32
					e.choir.render(&l, &r)
					ours = appendBlock(ours, l[:], r[:])
					other.Render(l[:], r[:])
					theirs = appendBlock(theirs, l[:], r[:])
				}
			}
			say(message{0xC0 | channel, byte(p.programs[0])})
			say(message{0xB0 | channel, ctlPan, byte(30 * (i + 1))})
			say(message{0xB0 | channel, ctlVolume, byte(120 - 20*i)})
			for _, key := range keys {
				say(message{0x90 | channel, key, velocity})
				hear(60)
			}
			say(message{0xB0 | channel, ctlPedal, 127})
			say(message{0x80 | channel, keys[0], 0})
			hear(120)
			say(message{0xB0 | channel, ctlPedal, 0})
			say(message{0xB0 | channel, ctlExpression, 100})
			hear(300)
			say(message{0x80 | channel, keys[1], 0})
			hear(300)
			what := fmt.Sprintf("%s, velocity %d", p.name, velocity)
			if l := rms(theirs); l < 1e-4 {
				t.Errorf("%s: the other plays nothing", what)
			}
			// The other leaves steps of gain under a thousandth as they are; we go evenly.
			const steps = 0.001 * toneRMS / 2
			if off := apart(ours, theirs); off > amplitude(-45)*rms(theirs)+steps {
				t.Errorf("%s: what differs is %.1f dB under the sound, want 45", what, -dB(off/rms(theirs)))
			}
		}
	}
}

func appendBlock(x []float64, left, right []float32) []float64 {
	for i := range left {
		x = append(x, float64(left[i]), float64(right[i]))
	}
	return x
}

// apart reports the root mean square of the difference.
func apart(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += (a[i] - b[i]) * (a[i] - b[i])
	}
	return math.Sqrt(sum / float64(len(a)))
}
