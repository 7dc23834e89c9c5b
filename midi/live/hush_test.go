package live

import (
	"strings"
	"testing"
	"time"

	"onward/midi/timeline"
)

// Hush ends all that a roll may have left: each of its keys is let go, each of its channels
// is told that nothing sounds, and the sink is closed.
func TestHush(t *testing.T) {
	r := prepared(t, march(2, 120))
	path := t.TempDir() + "/heard"
	if err := Hush(openForTest, "file:"+path, r); err != nil {
		t.Fatal(err)
	}
	checkHushed(t, r, path)
	if _, closed := readHeard(t, path); !closed {
		t.Error("the sink was not closed")
	}
	if err := Hush(openForTest, "trombone", r); err == nil || !strings.Contains(err.Error(), `hush, sink "trombone"`) {
		t.Errorf("got %v", err)
	}
}

// checkHushed wants what Hush promises, last, in what was heard on the file.
func checkHushed(t *testing.T, r *Roll, path string) {
	t.Helper()
	in, _ := readHeard(t, path)
	last := map[[2]byte]byte{} // the kind of each key's last message
	for _, h := range in.heard {
		if kind := h.msg[0] & 0xF0; kind == noteOn || kind == noteOff {
			last[[2]byte{h.msg[0] & 15, h.msg[1]}] = kind
		}
	}
	for _, e := range r.Events {
		ch := e.Msg[0] & 15
		if e.Msg[0]&0xF0 == noteOn && last[[2]byte{ch, e.Msg[1]}] != noteOff {
			t.Errorf("key %d of channel %d is not let go", e.Msg[1], ch)
		}
		for _, c := range []byte{sustain, allNotesOff, allSoundOff} {
			if v, ok := in.ctl[[2]byte{ch, c}]; !ok || v != 0 {
				t.Fatalf("channel %d: controller %d was not sent", ch, c)
			}
		}
	}
}

// A port that refuses is told again and again.
func TestHushOnABusyPort(t *testing.T) {
	r := prepared(t, march(1, 120))
	in := newInstrument()
	in.fault = func(n int, _ []byte) error {
		if n%3 > 0 || time.Since(in.zero) < 100*time.Millisecond {
			return ErrBusy
		}
		return nil
	}
	if err := Hush(func(string) (Sender, error) { return in, nil }, "busy", r); err != nil || !in.hushed(allSoundOff) {
		t.Errorf("got %v, hushed %v", err, in.hushed(allSoundOff))
	}
}

// The roll that the watcher is given has each key of each channel once, and channels on
// which no key is struck.
func TestKeysOfARoll(t *testing.T) {
	tl := march(8, 120)
	tl.Events = append([]timeline.Event{{Channel: 13, Kind: timeline.Controller, A: 7, B: 100}}, tl.Events...)
	r := prepared(t, tl)
	keys := r.keys()
	if err := keys.check(); err != nil || keys.channels() != r.channels() || keys.channels()>>13&1 == 0 {
		t.Fatalf("channels %b of %b, %v", keys.channels(), r.channels(), err)
	}
	want, got := map[[2]byte]int{}, map[[2]byte]int{}
	for _, e := range r.Events {
		if e.Msg[0]&0xF0 == noteOn {
			want[[2]byte{e.Msg[0] & 15, e.Msg[1]}] = 1
		}
	}
	for _, e := range keys.Events {
		if e.Msg[0]&0xF0 == noteOn {
			got[[2]byte{e.Msg[0] & 15, e.Msg[1]}]++
		}
	}
	if len(got) != len(want) {
		t.Errorf("keys %v, want %v", got, want)
	}
	for key, n := range got {
		if n != want[key] {
			t.Errorf("key %v comes %d times", key, n)
		}
	}
}
