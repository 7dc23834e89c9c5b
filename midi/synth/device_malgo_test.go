//go:build cgo

package synth

import (
	"testing"
	"time"

	"github.com/gen2brain/malgo"
)

// nullDevice is miniaudio's device that keeps time and makes no sound.
const nullDevice malgo.Backend = 14

// Through a device of miniaudio frames are asked for in real time and messages heard.
func TestSpeakerOnTheNullDevice(t *testing.T) {
	s, err := play(builtin(t), through([]malgo.Backend{nullDevice}))
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Device(); got != "sound device: NULL Playback Device" {
		t.Errorf("Device says %q", got)
	}
	began := time.Now()
	s.Send([]byte{0xC0, 58})
	s.Send([]byte{0x90, 41, 90})
	time.Sleep(400 * time.Millisecond)
	passed := float64(s.pulled.Load()) / liveRate
	if real := time.Since(began).Seconds(); passed < real-0.15 || passed > real+0.15 {
		t.Errorf("%.2f s of frames were asked for in %.2f s", passed, real)
	}
	if s.quiet.Load() > liveRate/10 {
		t.Error("the note is not heard")
	}
	if c := s.Counts(); c.Lost != 0 || c.Refused != 0 {
		t.Errorf("counts %+v, want nothing lost or refused", c)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
