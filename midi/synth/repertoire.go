package synth

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"sync"

	"github.com/sinshu/go-meltysynth/meltysynth"
)

// A Program is a General MIDI program, 0 to 127, or a set of percussion.
type Program struct {
	Percussion bool
	Number     uint8
}

// ProgramsOf lists the programs that the notes among channel messages are played by,
// each once, in order of appearance. Channel 10 is percussion (General MIDI 1).
func ProgramsOf(messages [][3]byte) []Program {
	var set [16]uint8
	var list []Program
	had := map[Program]bool{}
	for _, m := range messages {
		channel := m[0] & 0x0f
		switch m[0] & 0xf0 {
		case 0xC0:
			set[channel] = m[1] & 127
		case 0x90:
			p := Program{channel == percussionChannel, set[channel]}
			if !had[p] {
				had[p] = true
				list = append(list, p)
			}
		}
	}
	return list
}

// A repertoire is the sounds of all programs, tones and percussion; nil for those
// that were not asked for.
type repertoire [2][128]*sound

// repertoire reads the sounds of the programs from the font, of all when none are
// given. What was read before is not read again.
func (f *Font) repertoire(programs []Program) (*repertoire, error) {
	if len(programs) == 0 {
		for n := range uint8(128) {
			programs = append(programs, Program{false, n}, Program{true, n})
		}
	}
	f.rehearse(programs)
	f.mutex.Lock()
	defer f.mutex.Unlock()
	r := new(repertoire)
	reader := &waveReader{font: f}
	defer reader.close()
	for _, p := range programs {
		s, err := f.sound(p, reader)
		if err != nil {
			return nil, fmt.Errorf("sound font %q, program %d: %w", f.name, p.Number, err)
		}
		*r.at(p) = s
	}
	return r, nil
}

// at reports where the sound of a program stands.
func (r *repertoire) at(p Program) **sound {
	if p.Percussion {
		return &r[1][p.Number&127]
	}
	return &r[0][p.Number&127]
}

// rehearse has the built-in font's instruments for the programs made side by side.
func (f *Font) rehearse(programs []Program) {
	var wg sync.WaitGroup
	begun := map[int]bool{}
	for _, p := range programs {
		if i := partOf(p); f.parts != nil && !begun[i] {
			begun[i] = true
			wg.Go(func() { f.parts[i]() })
		}
	}
	wg.Wait()
}

// sound makes the sound of a program, once.
func (f *Font) sound(p Program, reader *waveReader) (*sound, error) {
	if f.parts != nil {
		part, err := f.parts[partOf(p)]()
		if err != nil {
			return nil, err
		}
		r, err := part.repertoire([]Program{p})
		if err != nil {
			return nil, err
		}
		return *r.at(p), nil
	}
	preset := f.preset(p)
	if s := f.sounds[preset]; s != nil {
		return s, nil
	}
	s := new(sound)
	for _, over := range preset.Regions {
		for _, under := range over.Instrument.Regions {
			r := regionOf(over, under)
			if r.lowKey > r.highKey || r.lowVelocity > r.highVelocity {
				continue
			}
			ok, err := reader.fill(&r, under)
			if err != nil {
				return nil, err
			}
			if ok {
				s.regions = append(s.regions, r)
			}
		}
	}
	f.sounds[preset] = s
	return s, nil
}

// preset finds the preset of a program: of percussion the standard set where there is
// no other, and where there is nothing at all the font's first.
func (f *Font) preset(p Program) *meltysynth.Preset {
	bank := int32(0)
	if p.Percussion {
		bank = 128
	}
	id := func(q *meltysynth.Preset) int32 { return q.BankNumber<<16 | q.PatchNumber }
	var standard, first *meltysynth.Preset
	for _, q := range f.file.Presets {
		switch {
		case id(q) == bank<<16|int32(p.Number):
			return q
		case id(q) == 128<<16 && p.Percussion:
			standard = q
		}
		if first == nil || id(q) < id(first) {
			first = q
		}
	}
	if standard != nil {
		return standard
	}
	return first
}

// A waveReader reads waves out of a font's file, which it opens when first needed.
type waveReader struct {
	font *Font
	from io.ReaderAt
}

// fill gives a region its wave and the loop within. It reports false for a region
// whose wave is empty or lies outside of the font.
func (w *waveReader) fill(r *region, i *meltysynth.InstrumentRegion) (bool, error) {
	start, end := int64(i.GetSampleStart()), int64(i.GetSampleEnd())
	loopStart, loopEnd := int64(i.GetSampleStartLoop()), int64(i.GetSampleEndLoop())
	last := end
	if r.loops {
		last = max(end, loopEnd)
	}
	last = min(last, w.font.waves.samples)
	if start < 0 || start >= last || r.rate <= 0 {
		return false, nil
	}
	data, err := w.read(start, last)
	if err != nil {
		return false, err
	}
	r.data, r.end = data, last-start
	r.loopStart, r.loopEnd = loopStart-start, min(loopEnd, last)-start
	if r.loopStart < 0 || r.loopEnd <= r.loopStart {
		r.loops, r.loopsHeld = false, false
	}
	return true, nil
}

// read reports the samples from first up to last and one more, for what lies between
// the last two.
func (w *waveReader) read(first, last int64) ([]int16, error) {
	f, span := w.font, [2]int64{first, last}
	if data := f.read[span]; data != nil {
		return data, nil
	}
	if w.from == nil {
		var err error
		if w.from, err = f.waves.open(); err != nil {
			return nil, err
		}
	}
	bytes := make([]byte, 2*(last-first))
	if _, err := w.from.ReadAt(bytes, f.waves.at+2*first); err != nil {
		if errors.Is(err, io.EOF) {
			err = errors.New("the file has become shorter")
		}
		return nil, err
	}
	data := make([]int16, last-first+1)
	for i := range last - first {
		data[i] = int16(binary.LittleEndian.Uint16(bytes[2*i:]))
	}
	data[last-first] = data[last-first-1]
	f.read[span] = data
	return data, nil
}

func (w *waveReader) close() {
	if c, ok := w.from.(io.Closer); ok {
		c.Close() // it was only read
	}
}
