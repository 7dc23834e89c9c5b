package live

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
	"time"
)

// The form of a Roll on the wire: the mark, then unsigned varints (signed for a
// measure): the number of events, each as nanoseconds since the one ahead and its
// bytes; the number of beats, each as nanoseconds and its five numbers; the end;
// and the CRC-32 of all that as four bytes, so that a roll cut short is refused.
const wireMark = "onward roll 1\n"

// wireMost bounds the counts that Decode believes: far more than any take has.
const wireMost = 1 << 22

// Encode writes r to w for Decode.
func Encode(w io.Writer, r *Roll) error {
	sum := crc32.NewIEEE()
	b := bufio.NewWriter(io.MultiWriter(w, sum))
	b.WriteString(wireMark)
	b.Write(r.appendWire(nil))
	if err := b.Flush(); err != nil {
		return fmt.Errorf("take: writing it for the player: %w", err)
	}
	if err := binary.Write(w, binary.BigEndian, sum.Sum32()); err != nil {
		return fmt.Errorf("take: writing it for the player: %w", err)
	}
	return nil
}

func (r *Roll) appendWire(b []byte) []byte {
	b = binary.AppendUvarint(b, uint64(len(r.Events)))
	last := time.Duration(0)
	for i := range r.Events {
		b = binary.AppendUvarint(b, uint64(r.Events[i].At-last))
		b = append(b, r.Events[i].Bytes()...)
		last = r.Events[i].At
	}
	b = binary.AppendUvarint(b, uint64(len(r.Beats)))
	last = 0
	for _, beat := range r.Beats {
		b = binary.AppendUvarint(b, uint64(beat.At-last))
		for _, n := range [...]int{beat.Measure, beat.Number, beat.Pass, beat.Beat, beat.Of} {
			b = binary.AppendVarint(b, int64(n))
		}
		last = beat.At
	}
	return binary.AppendUvarint(b, uint64(r.End))
}

// Decode reads one Roll and no byte beyond it from r.
func Decode(r io.ByteReader) (*Roll, error) {
	d := &decoder{in: r, sum: crc32.NewIEEE()}
	roll, err := d.roll()
	if err == nil {
		err = roll.check()
	}
	if err != nil {
		return nil, fmt.Errorf("take, byte %d on the way to the player: %w", d.read, err)
	}
	return roll, nil
}

// A decoder reads bytes one by one, counts them and sums them.
type decoder struct {
	in   io.ByteReader
	sum  hash.Hash32
	read int
	one  [1]byte
}

func (d *decoder) ReadByte() (byte, error) {
	c, err := d.in.ReadByte()
	if errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	if err == nil {
		d.read++
		d.one[0] = c
		d.sum.Write(d.one[:])
	}
	return c, err
}

func (d *decoder) roll() (*Roll, error) {
	for i := range len(wireMark) {
		if c, err := d.ReadByte(); err != nil || c != wireMark[i] {
			return nil, fmt.Errorf("not a take of this program's version: %w", orMark(err))
		}
	}
	r := new(Roll)
	if err := d.events(r); err != nil {
		return nil, err
	}
	if err := d.beats(r); err != nil {
		return nil, err
	}
	end, err := d.time(0)
	if err != nil {
		return nil, err
	}
	r.End = end
	return r, d.checkSum()
}

func orMark(err error) error {
	if err == nil {
		return errors.New("its first line is another")
	}
	return err
}

func (d *decoder) count() (int, error) {
	n, err := binary.ReadUvarint(d)
	if err == nil && n > wireMost {
		err = fmt.Errorf("%d events or beats are more than a take can have", n)
	}
	return int(n), err
}

// time reads a time as nanoseconds after last.
func (d *decoder) time(last time.Duration) (time.Duration, error) {
	const most = 1000 * time.Hour
	n, err := binary.ReadUvarint(d)
	if err == nil && n > uint64(most-last) {
		err = fmt.Errorf("a time beyond %v", most)
	}
	return last + time.Duration(n), err
}

func (d *decoder) events(r *Roll) error {
	n, err := d.count()
	last := time.Duration(0)
	for i := 0; i < n && err == nil; i++ {
		e := Event{Mate: -1}
		if e.At, err = d.time(last); err == nil {
			err = d.message(&e.Msg)
		}
		r.Events = append(r.Events, e)
		last = e.At
	}
	return err
}

// message reads one channel message of the kinds that a Roll holds.
func (d *decoder) message(msg *[3]byte) (err error) {
	if msg[0], err = d.ReadByte(); err != nil {
		return err
	}
	switch msg[0] & 0xF0 {
	case noteOff, noteOn, controller, program:
	default:
		return fmt.Errorf("status byte %#x is none of a take's", msg[0])
	}
	for i := 1; i < size(msg[0]); i++ {
		if msg[i], err = d.ReadByte(); err != nil {
			return err
		}
		if msg[i] > 127 {
			return fmt.Errorf("data byte %#x is over 127", msg[i])
		}
	}
	return nil
}

func (d *decoder) beats(r *Roll) error {
	n, err := d.count()
	last := time.Duration(0)
	for i := 0; i < n && err == nil; i++ {
		var b Beat
		b.At, err = d.time(last)
		for _, field := range [...]*int{&b.Measure, &b.Number, &b.Pass, &b.Beat, &b.Of} {
			var v int64
			if err == nil {
				v, err = binary.ReadVarint(d)
			}
			*field = int(v)
		}
		r.Beats = append(r.Beats, b)
		last = b.At
	}
	return err
}

func (d *decoder) checkSum() error {
	want := d.sum.Sum32()
	var got [4]byte
	for i := range got {
		c, err := d.ReadByte()
		if err != nil {
			return err
		}
		got[i] = c
	}
	if binary.BigEndian.Uint32(got[:]) != want {
		return errors.New("the check sum is wrong: bytes were changed or lost")
	}
	return nil
}
