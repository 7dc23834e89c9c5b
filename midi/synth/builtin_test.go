package synth

import (
	"bytes"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

func TestSoundFontHoldsTheBand(t *testing.T) {
	var b bytes.Buffer
	if err := WriteSoundFont(&b); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes", b.Len())
	if b.Len() > 5<<20 {
		t.Errorf("the sound font is %d bytes, want at most 5 MiB", b.Len())
	}
	f, err := meltysynth.NewSoundFont(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if v := f.Info.Version; v.Major != 2 || v.Minor != 1 {
		t.Errorf("version %d.%d, want 2.1", v.Major, v.Minor)
	}
	// General MIDI level 1: trumpet 57, trombone 58, tuba 59 ... counted from 1.
	want := map[int32]string{56: "Trumpet", 57: "Trombone", 58: "Tuba", 59: "Muted Trumpet", 60: "Horns",
		65: "Alto Sax", 66: "Tenor Sax", 67: "Baritone Sax", 71: "Clarinets", 72: "Piccolo", 73: "Flute",
		9: "Glockenspiel", 0: "Piano", 48: "Strings", 43: "Contrabass", 32: "Plucked Bass", 46: "Harp", 47: "Timpani"}
	for _, p := range f.Presets {
		if p.BankNumber == 0 {
			if name, ok := want[p.PatchNumber]; ok && name != p.Name {
				t.Errorf("program %d is %q, want %q", p.PatchNumber, p.Name, name)
			}
			delete(want, p.PatchNumber)
		}
	}
	if len(want) != 0 {
		t.Errorf("programs missing: %v", want)
	}
}

func TestSoundFontIsTheSameEachTime(t *testing.T) {
	var a, b bytes.Buffer
	if err := newBuiltin().write(&a); err != nil {
		t.Fatal(err)
	}
	if err := newBuiltin().write(&b); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two makings differ")
	}
}

// An instrument made alone is the one in the font's file, and each program is played by
// the instrument that lists it there.
func TestInstrumentsAreThoseOfTheFile(t *testing.T) {
	made := newBuiltin()
	whole, err := openBank(made)
	if err != nil {
		t.Fatal(err)
	}
	for i, patch := range made.patches {
		for _, n := range patch.programs {
			if got := partOf(Program{patch.bank == 128, uint8(n)}); got != i {
				t.Errorf("program %d of %s is played by instrument %d, want %d", n, patch.name, got, i)
			}
		}
		p := Program{patch.bank == 128, uint8(patch.programs[0])}
		want, err := whole.repertoire([]Program{p})
		if err != nil {
			t.Fatal(err)
		}
		got, err := builtin(t).repertoire([]Program{p})
		if err != nil {
			t.Fatal(err)
		}
		if len((*want.at(p)).regions) == 0 || !reflect.DeepEqual(*got.at(p), *want.at(p)) {
			t.Errorf("%s: %d regions alone, %d in the file, or they differ", patch.name, len((*got.at(p)).regions), len((*want.at(p)).regions))
		}
	}
	for _, p := range []Program{{false, 125}, {true, 40}} { // that nobody lists
		if got, want := made.patches[partOf(p)].name, map[bool]string{false: "Piano", true: "Band Percussion"}[p.Percussion]; got != want {
			t.Errorf("%+v is played by %s, want %s", p, got, want)
		}
	}
}

func TestEveryPlaceOfTheKeyboardSounds(t *testing.T) {
	for _, p := range newBuiltin().patches {
		if p.bank == 128 {
			continue
		}
		var zones [128][128]int
		for _, z := range p.zones {
			for key := z.lowKey; key <= z.highKey; key++ {
				for velocity := z.lowVelocity; velocity <= z.topVelocity; velocity++ {
					zones[key][velocity]++
				}
			}
		}
		for key := range zones {
			for velocity := 1; velocity <= 127; velocity++ {
				if n := zones[key][velocity]; n != 1 {
					t.Fatalf("%s: key %d, velocity %d: %d zones, want 1", p.name, key, velocity, n)
				}
			}
		}
	}
}

// A loop without a seam: what follows its end is what follows its start.
func TestLoopsHaveNoSeam(t *testing.T) {
	looped := 0
	for _, w := range newBuiltin().waves {
		if w.loopEnd == 0 {
			continue
		}
		looped++
		var worst, loudest float64
		for i := range 8 {
			worst = max(worst, math.Abs(float64(w.data[w.loopStart+i])-float64(w.data[w.loopEnd+i])))
		}
		for _, v := range w.data[w.loopStart:w.loopEnd] {
			loudest = max(loudest, math.Abs(float64(v)))
		}
		if worst > 0.002*loudest+2 {
			t.Errorf("%s: the loop jumps by %g at its end, loudest %g", w.name, worst, loudest)
		}
	}
	if looped < 60 {
		t.Errorf("%d loops looked at, want at least 60", looped)
	}
}

func TestWriteRefusesWhatTheFormatCannotHold(t *testing.T) {
	good := wave{name: "W", data: make([]int16, 100), rate: 44100, root: 60, loopStart: 10, loopEnd: 80}
	for _, c := range []struct {
		want string
		bank bank
	}{
		{"name longer", bank{waves: []wave{{name: strings.Repeat("x", 20), data: good.data}}}},
		{"8 samples on either side", bank{waves: []wave{{name: "W", data: good.data, loopStart: 2, loopEnd: 80}}}},
		{"has no zone", bank{waves: []wave{good}, patches: []patch{{name: "P", programs: []int{0}}}}},
	} {
		if err := c.bank.write(io.Discard); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want an error with %q", err, c.want)
		}
	}
}

func TestKitHasTheKeysOfABand(t *testing.T) {
	var keys []int
	for _, d := range kit {
		for _, k := range d.keys {
			if slices.Contains(keys, k) {
				t.Errorf("key %d is in two drums", k)
			}
			keys = append(keys, k)
		}
		if d.steps != nil && len(d.steps) != len(d.keys) {
			t.Errorf("%s: %d keys and %d steps", d.name, len(d.keys), len(d.steps))
		}
	}
	// General MIDI level 1, percussion key map.
	for _, k := range []int{35, 36, 37, 38, 42, 44, 49, 76, 77, 81} {
		if !slices.Contains(keys, k) {
			t.Errorf("key %d has no drum", k)
		}
	}
}

// The wave of one line is a sine of that frequency and amplitude, whatever its size.
func TestFourierEqualsTheSum(t *testing.T) {
	const n = 64
	re, im := make([]float64, n/2), make([]float64, n/2)
	rng := noise(1)
	for k := 1; k < n/2; k++ {
		re[k], im[k] = rng.white(), rng.white()
	}
	got := newFourier(n).wave(re, im)
	for i, v := range got {
		var want float64
		for k := 1; k < n/2; k++ {
			s, c := math.Sincos(2 * math.Pi * float64(k*i) / n)
			want += re[k]*c - im[k]*s
		}
		if math.Abs(v-want) > 1e-9 {
			t.Fatalf("sample %d: got %g, want %g", i, v, want)
		}
	}
}
