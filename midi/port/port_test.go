package port

import (
	"errors"
	"runtime"
	"strings"
	"testing"

	"onward/midi/live"
)

func TestMatch(t *testing.T) {
	ports := []Info{{Name: "FLUID Synth (1234) 128:0"}, {Name: "USB Keys 1"}, {Name: "USB Keys 10"}, {Name: "usb"}}
	for _, c := range []struct {
		name string
		want int
		err  string
	}{
		{"fluid", 0, ""},
		{"USB Keys 1", 1, ""}, // exact, though another contains it
		{"keys 10", 2, ""},
		{"usb", 3, ""},
		{"Keys", 0, `port "Keys": it could be any of "USB Keys 1", "USB Keys 10": give more of its name`},
		{"organ", 0, `port "organ": there is no such port; there are "FLUID Synth (1234) 128:0", "USB Keys 1", "USB Keys 10", "usb"`},
	} {
		got, err := match(ports, c.name)
		if c.err == "" && (err != nil || got != c.want) || c.err != "" && (err == nil || err.Error() != c.err) {
			t.Errorf("%q: got %d, %v; want %d, %s", c.name, got, err, c.want, c.err)
		}
	}
	if _, err := match(nil, "x"); err == nil || !strings.Contains(err.Error(), "there is no MIDI port") {
		t.Errorf("no ports: %v", err)
	}
}

// A build without a driver says how to get one.
func TestNoDriver(t *testing.T) {
	if _, err := driver(); !errors.Is(err, ErrNoDriver) {
		t.Skip("this build has a driver")
	}
	if found, err := List(); len(found) == 0 && !errors.Is(err, ErrNoDriver) {
		t.Errorf("List: %v, %v", found, err)
	}
	if found := rawDevices(); len(found) == 0 {
		_, err := Open("keys")
		if !errors.Is(err, ErrNoDriver) || !strings.Contains(err.Error(), "-tags ports") || !strings.Contains(err.Error(), "raw:/") {
			t.Errorf("Open: %v", err)
		}
	}
}

// A Linux build with a driver says what the system lacks, and nothing where it lacks
// nothing.
func TestNoSequencer(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux has one")
	}
	if err := lacking(t.TempDir() + "/seq"); !errors.Is(err, ErrNoSequencer) || !strings.Contains(err.Error(), "snd-seq") {
		t.Errorf("got %v", err)
	}
	if err := lacking(t.TempDir()); err != nil {
		t.Errorf("got %v", err)
	}
}

// The list is that of the driver where there is one (build tag ports on Linux), else of
// the raw devices; it is logged, so that a run with the tag shows it.
func TestListOnThisMachine(t *testing.T) {
	found, err := List()
	if err != nil && !errors.Is(err, ErrNoDriver) && !errors.Is(err, ErrNoSequencer) {
		t.Error(err)
	}
	for _, p := range found {
		if p.Name == "" {
			t.Errorf("a port has no name: %+v", found)
		}
	}
	t.Logf("ports %+v, error %v", found, err)
}

// checkSender checks what every port promises: it can be reopened and closed, and
// sending allocates nothing.
func checkSender(t *testing.T, s live.Sender) {
	t.Helper()
	if _, ok := s.(live.Reopener); !ok {
		t.Errorf("%T cannot be reopened", s)
	}
	if _, ok := s.(interface{ Close() error }); !ok {
		t.Errorf("%T cannot be closed", s)
	}
	msg := []byte{0x80, 60, 64}
	if n := testing.AllocsPerRun(100, func() { s.Send(msg) }); n != 0 {
		t.Errorf("%T: sending allocates %v times", s, n)
	}
}

// A wire parses what comes over a raw port or driver, and knows what sounds.
type wire struct {
	rest  []byte
	keys  map[[2]byte]int
	progs map[byte]byte
	ons   int
}

func newWire() *wire { return &wire{keys: map[[2]byte]int{}, progs: map[byte]byte{}} }

// take takes bytes; it fails on what is no message of a take.
func (w *wire) take(t *testing.T, b []byte) {
	t.Helper()
	w.rest = append(w.rest, b...)
	for len(w.rest) > 0 {
		n := 3
		if w.rest[0]&0xF0 == 0xC0 {
			n = 2
		}
		if w.rest[0] < 0x80 {
			t.Fatalf("a message begins with %#x", w.rest[0])
		}
		if len(w.rest) < n {
			return
		}
		w.message(w.rest[:n])
		w.rest = w.rest[n:]
	}
}

func (w *wire) message(msg []byte) {
	key := [2]byte{msg[0] & 15, msg[1]}
	switch msg[0] & 0xF0 {
	case 0x90:
		w.keys[key]++
		w.ons++
	case 0x80:
		w.keys[key] = max(0, w.keys[key]-1)
	case 0xC0:
		w.progs[msg[0]&15] = msg[1]
	}
}

func (w *wire) hanging() (n int) {
	for _, on := range w.keys {
		n += on
	}
	return n
}
