package synth

import (
	"math"
	"testing"
)

// A sounding is one voice in the middle of its range.
type sounding struct {
	name         string
	program, key byte
}

var blown = []sounding{
	{"trumpet", 56, 67}, {"trombone", 57, 55}, {"tuba", 58, 41}, {"low tuba", 58, 34}, {"muted trumpet", 59, 70}, {"horns", 60, 60},
	{"alto sax", 65, 66}, {"tenor sax", 66, 60}, {"baritone sax", 67, 52}, {"oboe", 68, 72}, {"bassoon", 70, 50},
	{"low clarinets", 71, 58}, {"clarinets", 71, 74}, {"piccolo", 72, 90}, {"flute", 73, 76}, {"strings", 48, 60}, {"contrabass", 43, 40}, {"organ", 16, 60},
}

var hit = []sounding{
	{"piano", 0, 60}, {"low piano", 0, 40}, {"high piano", 0, 80}, {"guitar", 24, 55}, {"plucked bass", 32, 40}, {"harp", 46, 60}, {"timpani", 47, 45},
}

func TestVoicesAreEquallyLoud(t *testing.T) {
	f := builtin(t)
	var levels []float64
	all := append(append([]sounding{}, blown...), hit...)
	for _, v := range all {
		levels = append(levels, dB(rms(soundOf(t, f, 0, v.program, v.key, 80, 0.4, 0))))
	}
	var mean float64
	for _, l := range levels {
		mean += l / float64(len(levels))
	}
	for i, v := range all {
		if math.Abs(levels[i]-mean) > 3 {
			t.Errorf("%s is %+.1f dB from the mean of %.1f dBFS, want within 3", v.name, levels[i]-mean, mean)
		}
	}
}

func TestLouderIsLouderAndBrighter(t *testing.T) {
	f := builtin(t)
	for _, v := range blown {
		last := math.Inf(-1)
		for velocity := byte(30); velocity <= 120; velocity += 10 {
			l := dB(rms(soundOf(t, f, 0, v.program, v.key, velocity, 0.4, 0)))
			if l < last+0.5 || l > last+9 && velocity > 30 {
				t.Errorf("%s: velocity %d sounds at %.1f dBFS, 10 below it %.1f; want 0.5 to 9 dB more", v.name, velocity, l, last)
			}
			last = l
		}
	}
	for _, program := range []byte{56, 57, 71} {
		soft := brightness(soundOf(t, f, 0, program, 62, 40, 0.4, 0)[8000:])
		loud := brightness(soundOf(t, f, 0, program, 62, 115, 0.4, 0)[8000:])
		if loud < 1.15*soft {
			t.Errorf("program %d: centre of the spectrum %.0f Hz when soft, %.0f when loud; want a sixth more", program, soft, loud)
		}
	}
}

// ISO 16: A4 = 440 Hz, equal temperament. A voice a player tunes to must be in tune.
func TestVoicesAreInTune(t *testing.T) {
	f := builtin(t)
	for _, v := range append(append([]sounding{}, blown...), hit...) {
		for _, step := range []int{-4, 0, 5} {
			key := int(v.key) + step
			x := part(soundOf(t, f, 0, v.program, byte(key), 80, 0.5, 0), 0.06, 0.4)
			if cents := offPitch(x, keyHz(key)); math.Abs(cents) > 4 {
				t.Errorf("%s, key %d: off by %+.0f cents, want within 4", v.name, key, cents)
			}
		}
	}
}

func TestVoicesSpeakAndStop(t *testing.T) {
	f := builtin(t)
	for _, v := range blown {
		low, high := 12.0, 70.0 // ms: a wind speaks neither like a click nor like an organ pipe far away
		if v.program == 48 || v.program == 43 {
			high = 600 // the bow takes its time and the section wavers
		}
		x := soundOf(t, f, 0, v.program, v.key, 80, 0.5, 1.5)
		if ms := rise(part(x, 0, 0.5)); ms < low || ms > high {
			t.Errorf("%s rises in %.0f ms, want %.0f to %.0f", v.name, ms, low, high)
		}
		held := rms(part(x, 0.3, 0.5))
		if fall := dB(rms(part(x, 1.5, 1.6)) / held); fall > -40 {
			t.Errorf("%s: a second after its end %.0f dB, want under -40", v.name, fall)
		}
	}
	for _, v := range hit {
		x := soundOf(t, f, 0, v.program, v.key, 80, 2, 0)
		if ms := rise(part(x, 0, 0.3)); ms > 15 {
			t.Errorf("%s rises in %.0f ms, want at most 15", v.name, ms)
		}
		if fall := dB(rms(part(x, 1.5, 1.7)) / rms(part(x, 0.05, 0.2))); fall > -6 {
			t.Errorf("%s falls by %.1f dB in 1.5 s, want at least 6", v.name, -fall)
		}
	}
}

func TestTubaHasItsGround(t *testing.T) {
	x := part(soundOf(t, builtin(t), 0, 58, 41, 80, 0.6, 0), 0.1, 0.5)
	ground := strength(x, keyHz(41))
	for k := 4; k <= 8; k++ {
		if a := strength(x, float64(k)*keyHz(41)); a > ground {
			t.Errorf("partial %d is %.1f dB over the fundamental", k, dB(a/ground))
		}
	}
}

// A clarinet's low register is short of even partials (common knowledge of
// acoustics: a cylinder closed at one end).
func TestClarinetLacksEvenPartials(t *testing.T) {
	x := part(soundOf(t, builtin(t), 0, 71, 58, 80, 0.6, 0), 0.1, 0.5)
	if second, third := strength(x, 2*keyHz(58)), strength(x, 3*keyHz(58)); second > third/2 {
		t.Errorf("second partial %.1f dB under the third, want at least 6", dB(third/second))
	}
}

func TestDrumsSoundLikeDrums(t *testing.T) {
	f := builtin(t)
	for _, d := range []struct {
		name                string
		key                 byte
		lowest, highest     float64 // brightness, Hz
		ringsBy, silentFrom float64 // seconds: still within 30 dB, and 40 dB down
	}{
		{"bass drum", 35, 40, 130, 0.25, 0.8},
		{"bass drum", 36, 40, 150, 0.2, 0.8},
		{"side stick", 37, 500, 2500, 0.02, 0.4},
		{"snare", 38, 1000, 4500, 0.1, 0.7},
		{"closed cymbal", 42, 3500, 9000, 0.03, 0.5},
		{"pedal cymbal", 44, 3500, 9000, 0.03, 0.5},
		{"clash cymbals", 49, 2000, 6000, 0.7, 2.8},
		{"high wood block", 76, 700, 2000, 0.02, 0.5},
		{"low wood block", 77, 500, 1500, 0.02, 0.5},
		{"triangle", 81, 3000, 7000, 0.5, 2.4},
	} {
		x := soundOf(t, f, 9, 0, d.key, 90, 0.1, 3)
		if b := brightness(x[100:]); b < d.lowest || b > d.highest {
			t.Errorf("%s: centre of the spectrum %.0f Hz, want %.0f to %.0f", d.name, b, d.lowest, d.highest)
		}
		begin := rms(part(x, 0, 0.03))
		if l := dB(rms(part(x, d.ringsBy, d.ringsBy+0.02)) / begin); l < -30 {
			t.Errorf("%s: %.0f dB after %.2f s, want over -30", d.name, l, d.ringsBy)
		}
		if l := dB(rms(part(x, d.silentFrom, d.silentFrom+0.1)) / begin); l > -40 {
			t.Errorf("%s: %.0f dB after %.2f s, want under -40", d.name, l, d.silentFrom)
		}
	}
}
