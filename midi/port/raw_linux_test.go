package port

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"
)

func TestRawDevicesHaveTheirCardsNames(t *testing.T) {
	dev, sys := t.TempDir(), t.TempDir()
	card := filepath.Join(sys, "midiC1D0", "device")
	if err := os.MkdirAll(card, 0o700); err != nil {
		t.Fatal(err)
	}
	for path, text := range map[string]string{
		filepath.Join(dev, "midiC1D0"): "", filepath.Join(dev, "midiC2D0"): "", filepath.Join(dev, "pcmC1D0p"): "",
		filepath.Join(card, "id"): "Keys\n",
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	got := rawDevicesIn(dev, sys)
	want := []Info{{"Keys midiC1D0", "raw:" + dev + "/midiC1D0"}, {"midiC2D0", "raw:" + dev + "/midiC2D0"}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// A device that takes part of a message gets the rest ahead of the next: a
// terminal's buffer fills in the middle of one.
func TestMessageTakenInPart(t *testing.T) {
	s := openPath(t, "/dev/ptmx")
	defer s.Close()
	number, err := unix.IoctlGetInt(s.fd, unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(s.fd, unix.TIOCSPTLCK, 0)
	}
	if err != nil {
		t.Skipf("no pseudo-terminal: %v", err)
	}
	far := reader(mustOpen(t, fmt.Sprintf("/dev/pts/%d", number)))
	defer far.close()
	makeRaw(t, int(far))
	w, parts, taken := newWire(), 0, 0
	for i := 0; i < 20000; i++ {
		if s.Send([]byte{0x90, byte(i & 127), 80}) == nil {
			taken++
		} else {
			far.drain(t, w)
		}
		if len(s.rest) > 0 {
			parts++
		}
	}
	for try := 0; try < 1000 && s.flush() != nil; try++ {
		far.drain(t, w)
	}
	far.drain(t, w)
	if w.ons != taken || len(w.rest) != 0 {
		t.Errorf("%d messages arrived of %d, and % x", w.ons, taken, w.rest)
	}
	t.Logf("%d messages were taken in part", parts)
}

func mustOpen(t *testing.T, path string) int {
	t.Helper()
	fd, err := unix.Open(path, unix.O_RDONLY|unix.O_NONBLOCK|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Skipf("%s: %v", path, err)
	}
	return fd
}

// makeRaw has the terminal pass bytes on unchanged.
func makeRaw(t *testing.T, fd int) {
	t.Helper()
	mode, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		t.Fatal(err)
	}
	mode.Iflag, mode.Oflag, mode.Lflag = 0, 0, 0
	mode.Cflag = mode.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	if err := unix.IoctlSetTermios(fd, unix.TCSETS, mode); err != nil {
		t.Fatal(err)
	}
}
