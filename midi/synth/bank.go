package synth

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// A wave is a mono sample of a bank.
type wave struct {
	name      string // at most 19 ASCII letters
	data      []int16
	rate      int // samples a second
	root      int // the MIDI key at which it sounds as recorded
	loopStart int // in samples; the loop is empty when loopEnd is 0
	loopEnd   int
}

// A setting is one generator of a zone, by its number in the SoundFont 2.01
// specification, section 8.1.
type setting struct {
	generator uint16
	amount    int16
}

// A zone says over which keys and velocities a wave sounds, and how.
type zone struct {
	wave                     int // index into bank.waves
	lowKey, highKey          int
	lowVelocity, topVelocity int
	settings                 []setting
}

// A patch is one instrument and the presets that call it.
type patch struct {
	name     string // at most 19 ASCII letters
	bank     int    // 0, or 128 for percussion
	programs []int  // 0 to 127
	zones    []zone
}

// A bank is a whole sound font before it is written.
type bank struct {
	name    string
	waves   []wave
	patches []patch
}

// Generator numbers of the SoundFont 2.01 specification, section 8.1.2.
const (
	genVibratoToPitch  = 6
	genModEnvToPitch   = 7
	genFilterCutoff    = 8
	genModEnvToCutoff  = 11
	genReverbSend      = 16
	genPan             = 17
	genVibratoDelay    = 23
	genVibratoRate     = 24
	genModEnvAttack    = 26
	genModEnvDecay     = 28
	genModEnvSustain   = 29
	genModEnvRelease   = 30
	genVolumeAttack    = 34
	genVolumeHold      = 35
	genVolumeDecay     = 36
	genVolumeSustain   = 37
	genVolumeRelease   = 38
	genKeyToVolDecay   = 40
	genInstrument      = 41
	genKeyRange        = 43
	genVelocityRange   = 44
	genFineTune        = 52
	genSampleID        = 53
	genSampleModes     = 54
	genScaleTuning     = 56
	genExclusiveClass  = 57
	genOverridingRoot  = 58
	silenceAfterWave   = 46 // zero points that section 7.10 asks for after each sample
	longestNameWritten = 19
)

// timecents reports s seconds in the unit of the envelopes: 1200 log2(s), no
// shorter than 1 ms (specification, section 8.1.3).
func timecents(s float64) int16 {
	return int16(math.Round(1200 * math.Log2(max(s, 0.001))))
}

// absoluteCents reports hz in the unit of filters and oscillators: cents above
// 8.176 Hz, at most 13500 (specification, section 8.1.3).
func absoluteCents(hz float64) int16 {
	return int16(math.Round(min(max(1200*math.Log2(hz/8.176), 0), 13500)))
}

// centibels reports a fall of dB decibels in tenths of decibels.
func centibels(dB float64) int16 { return int16(math.Round(10 * dB)) }

// write writes b as a SoundFont 2.01 file.
func (b *bank) write(w io.Writer) error {
	if err := b.check(); err != nil {
		return err
	}
	info, parameters := b.info(), b.parameters()
	size := 4 + len(info) + 8 + b.sampleListSize() + len(parameters)
	head := append(chunkHead("RIFF", size), "sfbk"...)
	for _, write := range []func() error{
		func() error { _, err := w.Write(append(head, info...)); return err },
		func() error { return b.writeSamples(w) },
		func() error { _, err := w.Write(parameters); return err },
	} {
		if err := write(); err != nil {
			return err
		}
	}
	return nil
}

// check refuses what the format cannot hold.
func (b *bank) check() error {
	for _, w := range b.waves {
		if len(w.name) > longestNameWritten {
			return fmt.Errorf("sound font: wave %q: name longer than %d", w.name, longestNameWritten)
		}
		if w.loopEnd != 0 && (w.loopStart < 8 || w.loopEnd > len(w.data)-8 || w.loopEnd-w.loopStart < 32) {
			return fmt.Errorf("sound font: wave %q: loop %d to %d of %d needs 8 samples on either side and 32 inside",
				w.name, w.loopStart, w.loopEnd, len(w.data))
		}
	}
	for _, p := range b.patches {
		if len(p.name) > longestNameWritten {
			return fmt.Errorf("sound font: patch %q: name longer than %d", p.name, longestNameWritten)
		}
		if len(p.zones) == 0 {
			return fmt.Errorf("sound font: patch %q has no zone", p.name)
		}
	}
	return nil
}

// chunk frames body as a RIFF chunk, padded to an even length.
func chunk(id string, body []byte) []byte {
	out := append(chunkHead(id, len(body)), body...)
	if len(body)%2 != 0 {
		out = append(out, 0)
	}
	return out
}

// chunkHead is what stands before a chunk's body of size bytes.
func chunkHead(id string, size int) []byte {
	return binary.LittleEndian.AppendUint32([]byte(id), uint32(size))
}

// text is a zero-ended string of even length, as the INFO list wants it.
func text(s string) []byte {
	b := append([]byte(s), 0)
	if len(b)%2 != 0 {
		b = append(b, 0)
	}
	return b
}

// info writes the INFO list: format version 2.1, sound engine and name.
func (b *bank) info() []byte {
	body := []byte("INFO")
	body = append(body, chunk("ifil", []byte{2, 0, 1, 0})...)
	body = append(body, chunk("isng", text("EMU8000"))...)
	body = append(body, chunk("INAM", text(b.name))...)
	return chunk("LIST", body)
}

// sampleListSize is the size of the sdta list's body.
func (b *bank) sampleListSize() int {
	n := 0
	for _, w := range b.waves {
		n += len(w.data) + silenceAfterWave
	}
	return 4 + 8 + 2*n
}

// writeSamples writes all waves one after the other, each followed by silence.
func (b *bank) writeSamples(w io.Writer) error {
	size := b.sampleListSize()
	head := append(chunkHead("LIST", size), "sdta"...)
	if _, err := w.Write(append(head, chunkHead("smpl", size-12)...)); err != nil {
		return err
	}
	var data []byte
	for _, wave := range b.waves {
		data = data[:0]
		for _, v := range wave.data {
			data = binary.LittleEndian.AppendUint16(data, uint16(v))
		}
		data = append(data, make([]byte, 2*silenceAfterWave)...)
		if _, err := w.Write(data); err != nil {
			return err
		}
	}
	return nil
}

// parameters writes the nine tables that tie presets to instruments to waves.
func (b *bank) parameters() []byte {
	var presets, presetBags, presetGens, insts, instBags, instGens table
	for i, p := range b.patches {
		for _, program := range p.programs {
			presets.name(p.name).words(program, p.bank, presetBags.rows(4)).zeros(12)
			presetBags.words(presetGens.rows(4), 0)
			presetGens.words(genInstrument, i)
		}
		insts.name(p.name).words(instBags.rows(4))
		for _, z := range p.zones {
			instBags.words(instGens.rows(4), 0)
			z.write(&instGens, b.waves[z.wave])
		}
	}
	presets.name("EOP").words(0, 0, presetBags.rows(4)).zeros(12)
	insts.name("EOI").words(instBags.rows(4))
	presetBags.words(presetGens.rows(4), 0)
	instBags.words(instGens.rows(4), 0)
	presetGens.words(0, 0)
	instGens.words(0, 0)
	noModulators := make([]byte, 10)

	body := []byte("pdta")
	for _, c := range []struct {
		id   string
		data []byte
	}{
		{"phdr", presets.Bytes()}, {"pbag", presetBags.Bytes()}, {"pmod", noModulators}, {"pgen", presetGens.Bytes()},
		{"inst", insts.Bytes()}, {"ibag", instBags.Bytes()}, {"imod", noModulators}, {"igen", instGens.Bytes()},
		{"shdr", b.sampleHeaders()},
	} {
		body = append(body, chunk(c.id, c.data)...)
	}
	return chunk("LIST", body)
}

// write adds the zone's generators: key range first, sample last, as section 8.1.2
// of the specification demands.
func (z zone) write(t *table, w wave) {
	t.words(genKeyRange, z.lowKey|z.highKey<<8)
	t.words(genVelocityRange, z.lowVelocity|z.topVelocity<<8)
	for _, s := range z.settings {
		t.words(int(s.generator), int(uint16(s.amount)))
	}
	if w.loopEnd != 0 {
		t.words(genSampleModes, 1)
	}
	t.words(genSampleID, z.wave)
}

// sampleHeaders writes where each wave lies, its loop, rate and key.
func (b *bank) sampleHeaders() []byte {
	var t table
	at := 0
	for _, w := range b.waves {
		loopStart, loopEnd := w.loopStart, w.loopEnd
		if loopEnd == 0 {
			loopStart, loopEnd = 8, len(w.data)-8
		}
		t.name(w.name).longs(at, at+len(w.data), at+loopStart, at+loopEnd, w.rate)
		t.WriteByte(byte(w.root))
		t.WriteByte(0)
		t.words(0, 1)
		at += len(w.data) + silenceAfterWave
	}
	t.name("EOS").zeros(26)
	return t.Bytes()
}

// A table is one parameter table under construction.
type table struct{ bytes.Buffer }

func (t *table) rows(size int) int { return t.Len() / size }

func (t *table) name(s string) *table {
	var field [20]byte
	copy(field[:], s)
	t.Write(field[:])
	return t
}

func (t *table) words(values ...int) *table {
	for _, v := range values {
		t.Write([]byte{byte(v), byte(v >> 8)})
	}
	return t
}

func (t *table) longs(values ...int) *table {
	for _, v := range values {
		t.Write(binary.LittleEndian.AppendUint32(nil, uint32(v)))
	}
	return t
}

func (t *table) zeros(n int) *table {
	t.Write(make([]byte, n))
	return t
}
