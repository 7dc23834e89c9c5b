package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"

	"onward/midi/live"
	"onward/midi/port"
	"onward/midi/synth"
)

// The words of a sink's name: what a take is played on.
const (
	sinkOff  = "off"
	sinkPort = "port:" // a port's name follows
	sinkFont = "font:" // what synth.Open takes follows
)

// sinks open what takes are played on.
type sinks interface {
	// open opens a sink by its name.
	open(sink string) (live.Sender, error)
	// try finds out where a sink's sound goes, ahead of the take. An error says that
	// no take can be played on it.
	try(sink string) (found, error)
}

// A found sink is one that a take can be played on.
type found struct {
	sink  string
	words string // where the sound goes, or why there is none
	// silent says that nothing is to be heard, though time is kept.
	silent bool
	// named says that the player chose it by name, so that its faults are theirs to mend.
	named bool
}

// sinkOf names the sink that --port and --sound ask for. A port makes its own sound;
// beside it --sound is for the WAV file alone.
func sinkOf(portName, sound string) (string, error) {
	switch {
	case portName != "":
		return sinkPort + portName, nil
	case sound == "off":
		return sinkOff, nil
	case sound == usualSound || sound == "builtin":
		return sinkFont + sound, nil
	case strings.HasSuffix(strings.ToLower(sound), ".sf2"):
		return sinkFont + sound, nil
	}
	return "", askedf("--sound %s: write auto, builtin, off, or the path of a sound font that ends in .sf2", sound)
}

// realSinks are this machine's.
type realSinks struct{}

func (realSinks) open(sink string) (live.Sender, error) {
	if name, ok := strings.CutPrefix(sink, sinkPort); ok {
		return port.Open(name)
	}
	if name, ok := strings.CutPrefix(sink, sinkFont); ok {
		font, err := synth.Open(name)
		if err != nil {
			return nil, err
		}
		return synth.Play(font)
	}
	if sink == sinkOff {
		return live.Off{}, nil
	}
	return nil, fmt.Errorf("no sink has this name")
}

func (realSinks) try(sink string) (found, error) {
	if name, ok := strings.CutPrefix(sink, sinkPort); ok {
		return found{sink: sink, words: "MIDI port " + name, named: true}, tryPort(name)
	}
	name, ok := strings.CutPrefix(sink, sinkFont)
	if !ok {
		return found{sink: sinkOff, words: "it is off", silent: true}, nil
	}
	font, err := synth.Open(name)
	if err != nil {
		return found{}, err
	}
	speaker, err := synth.Play(font)
	if errors.Is(err, synth.ErrNoSound) {
		return found{sink: sinkOff, words: err.Error(), silent: true}, nil
	}
	if err != nil {
		return found{}, err
	}
	device := speaker.Device()
	if err := speaker.Close(); err != nil {
		return found{}, err
	}
	f := found{sink: sink, words: device + ", sound font " + font.Name()}
	if strings.HasPrefix(device, "no sound device") { // one that comes later is heard
		f.words, f.silent = strings.TrimSuffix(device, ": keeping time in silence"), true
	}
	return f, nil
}

// tryPort opens a port and closes it. A raw one is only looked for: what reads a named
// pipe would take the closing for the end.
func tryPort(name string) error {
	if path, ok := strings.CutPrefix(name, "raw:"); ok {
		if _, err := os.Stat(path); err != nil {
			return unreadable("port", path, err)
		}
		return nil
	}
	out, err := port.Open(name)
	if err != nil {
		return err
	}
	if c, ok := out.(interface{ Close() error }); ok {
		return c.Close()
	}
	return nil
}

// beginAlone starts a take in a process of its own: this program again, with the verb
// take.
func beginAlone(ctx context.Context, r *live.Roll, sink string) (take, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("take: this program does not find itself: %w", err)
	}
	cmd := exec.Command(self, takeVerb)
	cmd.Args[0] = os.Args[0]
	t, err := live.Start(ctx, cmd, r, sink)
	if err != nil {
		return nil, err
	}
	return t, nil
}
