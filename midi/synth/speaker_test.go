package synth

import (
	"testing"
	"time"
)

// The machine's own sound device, or none: either way the speaker must play, say in
// words where, and close.
func TestSpeakerOnThisMachine(t *testing.T) {
	if openDevice == nil {
		t.Skip("built without cgo: no way to the loudspeaker")
	}
	f, err := Open("builtin")
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	s, err := Play(f)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(s.Device(), time.Since(began))
	if s.Device() == "" {
		t.Error("Device says nothing")
	}
	for range 3 {
		if err := s.Send([]byte{0x90, 60, 30}); err != nil {
			t.Error(err)
		}
		time.Sleep(30 * time.Millisecond)
		if err := s.Send([]byte{0x80, 60, 0}); err != nil {
			t.Error(err)
		}
	}
	began = time.Now()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if d := time.Since(began); d > 1900*time.Millisecond {
		t.Errorf("Close took %v, want under 1.9 s", d)
	}
	if s.pulled.Load() == 0 {
		t.Error("no frame was asked for")
	}
}
