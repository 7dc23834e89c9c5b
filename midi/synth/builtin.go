package synth

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"sync"
)

// builtinName is what the built-in sound font is called.
const builtinName = "built-in"

// A recording is one instrument of the built-in font, whose zones count its own waves.
type recording struct {
	waves []wave
	patch patch
}

// recordings is how many instruments there are: tones, what is struck, and the kit.
func recordings() int { return len(tones) + len(struck) + 1 }

// record synthesizes instrument i. Each has a random stream of its own, so the bytes do
// not depend on which others are made.
func record(i int) recording {
	var r recording
	switch {
	case i < len(tones):
		r.waves, r.patch = tones[i].record(0)
	case i < len(tones)+len(struck):
		r.waves, r.patch = struck[i-len(tones)].record(0)
	default:
		r.waves, r.patch = recordKit(0)
	}
	return r
}

// newBuiltin synthesizes the built-in sound font, its instruments side by side.
func newBuiltin() *bank {
	all := make([]recording, recordings())
	var wg sync.WaitGroup
	for i := range all {
		wg.Go(func() { all[i] = record(i) })
	}
	wg.Wait()
	b := &bank{name: bankName}
	for _, r := range all {
		for i := range r.patch.zones {
			r.patch.zones[i].wave += len(b.waves)
		}
		b.waves = append(b.waves, r.waves...)
		b.patches = append(b.patches, r.patch)
	}
	return b
}

// bankName is what the font is called in its file.
const bankName = "Onward Band"

// openBuiltin is the built-in font, one for all, whose instruments are synthesized when
// they are first needed.
var openBuiltin = sync.OnceValue(func() *Font {
	f := newFont(builtinName, nil, waves{})
	for i := range recordings() {
		f.parts = append(f.parts, sync.OnceValues(func() (*Font, error) {
			r := record(i)
			return openBank(&bank{name: bankName, waves: r.waves, patches: []patch{r.patch}})
		}))
	}
	return f
})

// openBank reads a bank as if from its file.
func openBank(b *bank) (*Font, error) {
	var data bytes.Buffer
	if err := b.write(&data); err != nil {
		return nil, err
	}
	f, w, err := parse(bytes.NewReader(data.Bytes()), int64(data.Len()))
	if err != nil {
		return nil, fmt.Errorf("%s sound font: %w", builtinName, err)
	}
	w.open = func() (io.ReaderAt, error) { return bytes.NewReader(data.Bytes()), nil }
	return newFont(builtinName, f, w), nil
}

// partOf reports which instrument of the built-in font plays a program: the piano where
// there is none.
func partOf(p Program) int {
	if p.Percussion {
		return recordings() - 1
	}
	piano := 0
	for i := range recordings() - 1 {
		programs := tones[min(i, len(tones)-1)].programs
		if i >= len(tones) {
			programs = struck[i-len(tones)].programs
		}
		if slices.Contains(programs, int(p.Number)) {
			return i
		}
		if slices.Contains(programs, 0) {
			piano = i
		}
	}
	return piano
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
