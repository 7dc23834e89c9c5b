package synth

import (
	"encoding/binary"
	"fmt"
	"io"
	"time"

	"onward/midi/timeline"
)

// Options say how a timeline is rendered. The zero Options are the usual ones.
type Options struct {
	SampleRate int           // Hz, 16000 to 192000; 0 means 44100
	Tail       time.Duration // what rings on after the end; 0 means 1.5 s
}

// withDefaults fills in what is zero.
func (o Options) withDefaults() Options {
	if o.SampleRate == 0 {
		o.SampleRate = 44100
	}
	if o.Tail == 0 {
		o.Tail = 1500 * time.Millisecond
	}
	return o
}

// RenderWAV plays t through font f and writes it as a 16-bit stereo WAV file. Notes
// begin on the frame of their time and end within 64 frames of it; every note ends at the timeline's
// end and rings on for the tail, of which the last fifth of a second fades to
// nothing. The sound never clips. It fails when the sample rate is out of range, the
// file would pass 4 GiB, or w fails.
func RenderWAV(w io.Writer, t *timeline.Timeline, f *Font, o Options) error {
	o = o.withDefaults()
	e, err := newEngine(f, o.SampleRate, programsOf(t)...)
	if err != nil {
		return fmt.Errorf("render at %d Hz: %w", o.SampleRate, err)
	}
	score := &timed{events: t, rate: o.SampleRate}
	frames := frameOf(t.Time(t.End)+o.Tail, o.SampleRate)
	const frameBytes = 4
	if frames > (1<<32-44)/frameBytes {
		return fmt.Errorf("render: %v of sound do not fit a WAV file; choose a lower sample rate", t.Time(t.End))
	}
	if _, err := w.Write(wavHeader(frames, o.SampleRate)); err != nil {
		return fmt.Errorf("render: %w", err)
	}
	fade := min(frames, int64(o.SampleRate/5))
	sound := make([]float32, 2*4096)
	bytes := make([]byte, 0, 2*len(sound))
	for done := int64(0); done < frames; {
		part := sound[:2*min(4096, frames-done)]
		e.fill(part, score)
		bytes = appendFrames(bytes[:0], part, frames-done, fade)
		if _, err := w.Write(bytes); err != nil {
			return fmt.Errorf("render: %w", err)
		}
		done += int64(len(part) / 2)
	}
	return nil
}

// appendFrames adds frames as 16-bit numbers; left is how many frames are still to
// come from the first on, of which the last fade fade out.
func appendFrames(b []byte, frames []float32, left, fade int64) []byte {
	for i, v := range frames {
		if rest := left - int64(i/2) - 1; rest < fade {
			v *= float32(rest) / float32(fade)
		}
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(v*32767)))
	}
	return b
}

// frameOf reports the frame nearest to d.
func frameOf(d time.Duration, rate int) int64 {
	whole, part := int64(d/time.Second), int64(d%time.Second)
	return whole*int64(rate) + (part*int64(rate)+int64(time.Second)/2)/int64(time.Second)
}

// wavHeader is the 44 bytes before the sound: canonical PCM, 16 bits, stereo.
func wavHeader(frames int64, rate int) []byte {
	size := uint32(4 * frames)
	h := append([]byte("RIFF"), binary.LittleEndian.AppendUint32(nil, 36+size)...)
	h = append(h, "WAVEfmt "...)
	h = binary.LittleEndian.AppendUint32(h, 16)
	h = binary.LittleEndian.AppendUint16(h, 1) // PCM
	h = binary.LittleEndian.AppendUint16(h, 2) // channels
	h = binary.LittleEndian.AppendUint32(h, uint32(rate))
	h = binary.LittleEndian.AppendUint32(h, uint32(4*rate))
	h = binary.LittleEndian.AppendUint16(h, 4)
	h = binary.LittleEndian.AppendUint16(h, 16)
	h = append(h, "data"...)
	return binary.LittleEndian.AppendUint32(h, size)
}

// timed is a timeline as a source: each event at the frame of its time, and all notes
// off at the end.
type timed struct {
	events *timeline.Timeline
	rate   int
	next   int // index of the next event
	ended  int // channels silenced after the end
}

func (s *timed) take(before int64) (message, int64, bool) {
	if s.next < len(s.events.Events) {
		ev := s.events.Events[s.next]
		at := frameOf(s.events.Time(ev.At), s.rate)
		if at >= before {
			return message{}, 0, false
		}
		s.next++
		return messageOf(ev), at, true
	}
	if end := frameOf(s.events.Time(s.events.End), s.rate); s.ended < 16 && end < before {
		s.ended++
		return message{0xB0 | byte(s.ended-1), ctlNotesOff, 0}, end, true
	}
	return message{}, 0, false
}

// programsOf lists the programs that t plays.
func programsOf(t *timeline.Timeline) []Program {
	messages := make([][3]byte, len(t.Events))
	for i, e := range t.Events {
		messages[i] = messageOf(e)
	}
	return ProgramsOf(messages)
}

// messageOf reports the bytes of an event (MIDI 1.0, channel voice messages).
func messageOf(e timeline.Event) message {
	status := [...]byte{timeline.NoteOff: 0x80, timeline.NoteOn: 0x90, timeline.Controller: 0xB0, timeline.Program: 0xC0}
	return message{status[e.Kind] | e.Channel&0x0f, e.A, e.B}
}
