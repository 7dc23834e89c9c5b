package live

import (
	"bufio"
	"bytes"
	"cmp"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/midi/timeline"
	"pgregory.net/rapid"
)

func sortEvents(e []timeline.Event) {
	slices.SortStableFunc(e, func(a, b timeline.Event) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Kind, b.Kind))
	})
}

func TestPrepareTiesNotes(t *testing.T) {
	r := prepared(t, march(2, 120))
	for i, e := range r.Events {
		if k := e.Msg[0] & 0xF0; k == noteOn || k == noteOff {
			if m := r.Events[e.Mate]; m.Mate != int32(i) || m.Msg[1] != e.Msg[1] || m.Msg[0]&15 != e.Msg[0]&15 {
				t.Errorf("event %d is tied to %d, which is tied to %d", i, e.Mate, m.Mate)
			}
		}
	}
	if got := r.Beats[3]; got != (Beat{At: 1500 * time.Millisecond, Measure: 1, Number: 2, Pass: 1, Beat: 2, Of: 2}) {
		t.Errorf("the fourth beat: %+v", got)
	}
}

func TestPrepareRefuses(t *testing.T) {
	on := timeline.Event{Kind: timeline.NoteOn, A: 60, B: 80}
	off := timeline.Event{At: 10080, Kind: timeline.NoteOff, A: 60}
	for want, events := range map[string][]timeline.Event{
		"key 60 on channel 0 is never let go":                   {on},
		"note-off of key 60 on channel 0, which does not sound": {off},
		"before the one ahead of it":                            {on, off, {Kind: timeline.Program}},
		"velocity 0":                                            {{Kind: timeline.NoteOn, A: 60}},
		"channel 16":                                            {{Kind: timeline.Program, Channel: 16}},
		"values 128 and 0":                                      {{Kind: timeline.Program, A: 128}},
		"kind 9 is unknown":                                     {{Kind: 9}},
	} {
		_, err := Prepare(&timeline.Timeline{Events: events})
		if err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "take, event ") {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

func TestWireKeepsTheTake(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r, err := Prepare(drawTimeline(rt))
		if err != nil {
			rt.Fatal(err)
		}
		r.Beats = append(r.Beats, Beat{time.Second, -1, 1, 1, 1, 2}, Beat{2 * time.Second, 0, 1, 2, 2, 2})
		r.End += 2 * time.Second
		var b bytes.Buffer
		if err := Encode(&b, r); err != nil {
			rt.Fatal(err)
		}
		b.WriteString("L")
		in := bufio.NewReader(&b)
		got, err := Decode(in)
		if err != nil || !reflect.DeepEqual(got, r) {
			rt.Fatalf("got %+v, %v; want %+v", got, err, r)
		}
		if c, _ := in.ReadByte(); c != 'L' {
			rt.Fatal("Decode read on beyond the roll")
		}
	})
}

// A roll cut short or with any one bit wrong is refused.
func TestWireRefusesDamage(t *testing.T) {
	var b bytes.Buffer
	if err := Encode(&b, prepared(t, march(1, 120))); err != nil {
		t.Fatal(err)
	}
	whole := b.Bytes()
	for n := range whole {
		if _, err := Decode(bytes.NewReader(whole[:n])); err == nil {
			t.Errorf("cut at byte %d: no error", n)
		}
		for bit := range 8 {
			bad := bytes.Clone(whole)
			bad[n] ^= 1 << bit
			if _, err := Decode(bytes.NewReader(bad)); err == nil {
				t.Errorf("byte %d, bit %d turned: no error", n, bit)
			}
		}
	}
}

func FuzzDecode(f *testing.F) {
	r, err := Prepare(march(2, 120))
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := Encode(&b, r); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte(wireMark))
	f.Fuzz(func(t *testing.T, raw []byte) {
		r, err := Decode(bytes.NewReader(raw))
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := Encode(&b, r); err != nil {
			t.Fatal(err)
		}
		if again, err := Decode(&b); err != nil || !reflect.DeepEqual(again, r) {
			t.Fatalf("read again: %+v, %v; want %+v", again, err, r)
		}
	})
}
