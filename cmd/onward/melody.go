package main

import (
	"encoding/binary"
	"errors"
	"hash/fnv"

	"onward/compose"
)

// melodyVersion begins an encoded melody.
const melodyVersion = 1

// encodeLines writes lines for the journal: the version, the number of lines, and for
// each its number of notes and each note's pitch and start, as steps from the note
// before in variable-length numbers. decodeLines reads them.
func encodeLines(lines []compose.Line) []byte {
	b := binary.AppendUvarint([]byte{melodyVersion}, uint64(len(lines)))
	for _, l := range lines {
		b = binary.AppendUvarint(b, uint64(len(l.MIDI)))
		pitch, at := 0, int64(0)
		for i := range l.MIDI {
			b = binary.AppendVarint(b, int64(l.MIDI[i]-pitch))
			b = binary.AppendVarint(b, l.At[i]-at)
			pitch, at = l.MIDI[i], l.At[i]
		}
	}
	return b
}

// decodeLines reads what encodeLines wrote.
func decodeLines(b []byte) ([]compose.Line, error) {
	if len(b) == 0 || b[0] != melodyVersion {
		return nil, errors.New("a melody of another version of the program")
	}
	d := decoder{b: b[1:]}
	lines := make([]compose.Line, d.count())
	for i := range lines {
		n := d.count()
		l := compose.Line{MIDI: make([]int, n), At: make([]int64, n)}
		pitch, at := 0, int64(0)
		for k := range n {
			pitch += int(d.step())
			at += d.step()
			l.MIDI[k], l.At[k] = pitch, at
		}
		lines[i] = l
	}
	if d.short || len(d.b) > 0 {
		return nil, errors.New("a melody is damaged")
	}
	return lines, nil
}

// A decoder reads variable-length numbers; short says that they ended early.
type decoder struct {
	b     []byte
	short bool
}

func (d *decoder) step() int64 {
	v, n := binary.Varint(d.b)
	d.skip(n)
	return v
}

// count reads a number of things that take a byte at least each.
func (d *decoder) count() int {
	v, n := binary.Uvarint(d.b)
	d.skip(n)
	if v > uint64(len(d.b)) {
		d.short = true
		return 0
	}
	return int(v)
}

func (d *decoder) skip(n int) {
	if n <= 0 {
		d.short, d.b = true, nil
		return
	}
	d.b = d.b[n:]
}

// digest reports a text's fingerprint.
func digest(text []byte) uint64 {
	h := fnv.New64a()
	h.Write(text)
	return h.Sum64()
}
