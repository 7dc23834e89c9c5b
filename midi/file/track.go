package file

import (
	"fmt"

	"onward/midi/timeline"
	"onward/rhythm"
)

// A trackReader goes through the bytes of one track.
type trackReader struct {
	data     []byte // of the file, up to the track's end
	at       int    // the byte that comes next
	division int    // the file's ticks to the quarter
	ticks    int64  // the file's ticks so far
	now      rhythm.Offset
	status   byte // of the channel message before: running status
	done     bool

	name    string
	events  []timeline.Event
	tempos  []timeline.Tempo
	meters  []timeline.MeterChange
	keys    []timeline.KeyChange
	markers []timeline.Marker
}

// read reads events up to the end-of-track event; a track that lacks it ends with
// its bytes.
func (k *trackReader) read() error {
	for !k.done && k.at < len(k.data) {
		if err := k.event(); err != nil {
			return err
		}
	}
	return nil
}

func (k *trackReader) event() error {
	delta, err := k.number()
	if err != nil {
		return err
	}
	k.ticks += int64(delta)
	if k.ticks > int64(timeline.MaxEnd)*int64(k.division)/int64(rhythm.TicksPerQuarter) {
		return fmt.Errorf("the track grows too long")
	}
	k.now = rhythm.Offset(k.ticks * int64(rhythm.TicksPerQuarter) / int64(k.division))
	if k.at >= len(k.data) {
		return fmt.Errorf("the track ends in the midst of an event")
	}
	switch b := k.data[k.at]; {
	case b == 0xFF:
		k.at++
		return k.meta()
	case b == 0xF0 || b == 0xF7: // system exclusive: passed over
		k.at++
		k.status = 0
		_, err := k.block()
		return err
	case b >= 0xF0:
		return fmt.Errorf("status %X has no place in a file", b)
	case b >= 0x80:
		k.at++
		k.status = b
	case k.status == 0:
		return fmt.Errorf("a data byte %X without a status before it", b)
	}
	return k.channelMessage()
}

// channelMessage reads what follows the status.
func (k *trackReader) channelMessage() error {
	count := 2
	if kind := k.status & 0xF0; kind == 0xC0 || kind == 0xD0 {
		count = 1
	}
	var b [2]byte
	for i := range count {
		if k.at >= len(k.data) {
			return fmt.Errorf("the track ends in the midst of a message")
		}
		if b[i] = k.data[k.at]; b[i] > 127 {
			return fmt.Errorf("data byte %X is not 0 to 7F", b[i])
		}
		k.at++
	}
	e := timeline.Event{At: k.now, Channel: k.status & 0x0F, A: b[0], B: b[1]}
	switch kind := k.status & 0xF0; {
	case kind == 0x90 && b[1] > 0:
		e.Kind = timeline.NoteOn
	case kind == 0x80 || kind == 0x90:
		e.Kind, e.B = timeline.NoteOff, 0
	case kind == 0xB0:
		e.Kind = timeline.Controller
	case kind == 0xC0:
		e.Kind = timeline.Program
	default:
		return nil // pressure and bend have no place in a take
	}
	k.events = append(k.events, e)
	return nil
}

// meta reads a meta event; those that a take has no use for are passed over.
func (k *trackReader) meta() error {
	k.status = 0
	if k.at >= len(k.data) {
		return fmt.Errorf("the track ends in the midst of a meta event")
	}
	kind := k.data[k.at]
	k.at++
	b, err := k.block()
	if err != nil {
		return err
	}
	wanted := map[byte]int{metaTempo: 3, metaMeter: 4, metaKey: 2}[kind]
	if len(b) < wanted {
		return fmt.Errorf("meta event %X: %d bytes, not %d", kind, len(b), wanted)
	}
	switch kind {
	case metaTrackName:
		if k.name == "" {
			k.name = string(b[:min(len(b), MaxText)])
		}
	case metaMarker:
		k.markers = append(k.markers, timeline.Marker{At: k.now, Text: string(b[:min(len(b), MaxText)])})
	case metaTempo:
		micros := int(b[0])<<16 | int(b[1])<<8 | int(b[2])
		if micros == 0 {
			return fmt.Errorf("a tempo of 0 microseconds to the quarter")
		}
		k.tempos = append(k.tempos, timeline.Tempo{At: k.now, MicrosPerQuarter: micros})
	case metaMeter:
		meter := meterOf(b)
		if meter.Beats < 1 || meter.Unit > 32 {
			return fmt.Errorf("a meter of %d/%d cannot be played", meter.Beats, meter.Unit)
		}
		k.meters = append(k.meters, timeline.MeterChange{At: k.now, Meter: meter})
	case metaKey:
		key := keyOf(b)
		if key.Fifths < -7 || key.Fifths > 7 {
			return fmt.Errorf("a key of %d accidentals, more than seven", key.Fifths)
		}
		k.keys = append(k.keys, timeline.KeyChange{At: k.now, Key: key})
	case metaEndOfTrack:
		k.done = true
	}
	return nil
}

// block reads a length and as many bytes.
func (k *trackReader) block() ([]byte, error) {
	n, err := k.number()
	if err != nil {
		return nil, err
	}
	if n > len(k.data)-k.at {
		return nil, fmt.Errorf("an event claims %d bytes; %d are left in the track", n, len(k.data)-k.at)
	}
	b := k.data[k.at : k.at+n]
	k.at += n
	return b, nil
}

// number reads a number of at most four bytes of seven bits.
func (k *trackReader) number() (int, error) {
	n := 0
	for range 4 {
		if k.at >= len(k.data) {
			return 0, fmt.Errorf("the track ends in the midst of a number")
		}
		b := k.data[k.at]
		k.at++
		n = n<<7 | int(b&0x7F)
		if b < 0x80 {
			return n, nil
		}
	}
	return 0, fmt.Errorf("a number of more than four bytes")
}
