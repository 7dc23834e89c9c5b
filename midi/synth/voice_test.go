package synth

import (
	"math"
	"testing"
)

// held plays a note for 0.3 s, does what then does, and reports the sound from there on.
func held(t *testing.T, key message, then ...message) (before, after []float64) {
	t.Helper()
	e, err := newEngine(builtin(t), testRate)
	if err != nil {
		t.Fatal(err)
	}
	e.apply(message{0xC0, 58})
	e.apply(key)
	out := make([]float32, 2*testRate*3/10)
	e.fill(out, nothing{})
	before = middle(out)
	for _, m := range then {
		e.apply(m)
	}
	e.fill(out, nothing{})
	return before, middle(out)
}

// All sound off (MIDI 1.0, controller 120) ends a note at once, and yet without a jump:
// only the room is still heard.
func TestSoundOffFadesAtOnce(t *testing.T) {
	steepest := func(x []float64) (most float64) {
		for i := range x[1:] {
			most = max(most, math.Abs(x[i+1]-x[i]))
		}
		return most
	}
	var before, after []float64
	for key := byte(26); key < 40; key++ { // so that some are cut far from zero
		before, after = held(t, message{0x90, key, 100}, message{0xB0, ctlSoundOff, 0})
		usual := steepest(part(before, 0.1, 0.3))
		if jump := steepest(append(before[len(before)-1:], after[:3*blockSize]...)); jump > 1.15*usual {
			t.Errorf("key %d jumps by %.3f, in the note %.3f is the most", key, jump, usual)
		}
	}
	if fall := dB(rms(part(after, 0.01, 0.04)) / rms(part(before, 0.2, 0.3))); fall > -8 {
		t.Errorf("10 ms later it is %.1f dB down, want at least 8", -fall)
	}
}

// The closed cymbal ends the open one (General MIDI 1, from memory).
func TestCymbalsChoke(t *testing.T) {
	_, rings := held(t, message{0x99, 46, 100})
	_, choked := held(t, message{0x99, 46, 100}, message{0x99, 42, 20})
	open, closed := rms(part(rings, 0.1, 0.2)), rms(part(choked, 0.1, 0.2))
	if fall := dB(closed / open); fall > -12 {
		t.Errorf("after the closed cymbal the open one is %.1f dB down, want at least 12", -fall)
	}
}

// The pedal holds a note that was let go until it comes up.
func TestPedalHolds(t *testing.T) {
	pedal, off := message{0xB0, ctlPedal, 127}, message{0x80, 36, 0}
	_, let := held(t, message{0x90, 36, 100}, off)
	_, held1 := held(t, message{0x90, 36, 100}, pedal, off)
	_, up := held(t, message{0x90, 36, 100}, pedal, off, message{0xB0, ctlPedal, 0})
	if d := dB(rms(part(let, 0.15, 0.25)) / rms(part(held1, 0.15, 0.25))); d > -15 {
		t.Errorf("a note let go is %.1f dB under one held by the pedal, want at least 15", -d)
	}
	if d := dB(rms(part(up, 0.15, 0.25)) / rms(part(let, 0.15, 0.25))); math.Abs(d) > 1 {
		t.Errorf("once the pedal is up it is %+.1f dB from a note let go", d)
	}
}
