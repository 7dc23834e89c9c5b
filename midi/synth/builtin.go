package synth

import (
	"bytes"
	"io"
	"sync"
)

// builtinName is what the built-in sound font is called.
const builtinName = "built-in"

// newBuiltin synthesizes the built-in sound font. The voices are made side by side;
// each has a random stream of its own, so the bytes do not depend on the order.
func newBuiltin() *bank {
	type recording struct {
		waves []wave
		patch patch
	}
	voices := make([]recording, len(tones)+len(struck)+1)
	var wg sync.WaitGroup
	for i := range voices {
		wg.Go(func() {
			r := &voices[i]
			switch {
			case i < len(tones):
				r.waves, r.patch = tones[i].record(0)
			case i < len(tones)+len(struck):
				r.waves, r.patch = struck[i-len(tones)].record(0)
			default:
				r.waves, r.patch = recordKit(0)
			}
		})
	}
	wg.Wait()
	b := &bank{name: "Onward Band"}
	for _, v := range voices {
		for i := range v.patch.zones {
			v.patch.zones[i].wave += len(b.waves)
		}
		b.waves = append(b.waves, v.waves...)
		b.patches = append(b.patches, v.patch)
	}
	return b
}

// recordKit synthesizes the percussion as one patch of bank 128.
func recordKit(first int) ([]wave, patch) {
	p := patch{name: "Band Percussion", bank: 128, programs: []int{0}}
	var waves []wave
	for i, d := range kit {
		w, zones := d.record(first + i)
		waves = append(waves, w)
		p.zones = append(p.zones, zones...)
	}
	return waves, p
}

// builtinFile is the built-in sound font as a file, made once when first wanted.
var builtinFile = sync.OnceValues(func() ([]byte, error) {
	made := newBuiltin()
	var b bytes.Buffer
	b.Grow(made.sampleListSize() + 1<<17)
	if err := made.write(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
})

// WriteSoundFont writes the built-in sound font as a SoundFont 2.01 file, the same
// bytes each time, for use in other programs.
func WriteSoundFont(w io.Writer) error {
	file, err := builtinFile()
	if err != nil {
		return err
	}
	_, err = w.Write(file)
	return err
}
