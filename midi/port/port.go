// Package port finds and opens MIDI ports for the player: the operating system's,
// through its driver where the program was built with one, and raw ones, which are
// device files and named pipes and need none.
package port

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"

	"gitlab.com/gomidi/midi/v2/drivers"
	"onward/midi/live"
)

// rawPrefix begins the name of a raw port; a path follows.
const rawPrefix = "raw:"

// ErrNoDriver is reported where this build has no driver for the system's ports.
var ErrNoDriver = errors.New("this build has no MIDI driver: " + howToBuild +
	"; or send to a device file or named pipe, as in raw:/dev/snd/midiC1D0")

// ErrNoSequencer is reported on Linux where the system has no ALSA sequencer, which its
// driver needs.
var ErrNoSequencer = errors.New("this system has no MIDI sequencer (" + sequencer + "): load the kernel's module snd-seq" +
	"; or send to a device file or named pipe, as in raw:/dev/snd/midiC1D0")

// sequencer is where Linux has it.
const sequencer = "/dev/snd/seq"

// lacking reports ErrNoSequencer where there should be one at path and is none. Asked
// without one, ALSA writes on standard error and the driver's words are not text.
func lacking(path string) error {
	if runtime.GOOS != "linux" {
		return nil
	}
	if _, err := os.Stat(path); err != nil {
		return ErrNoSequencer
	}
	return nil
}

// An Info is a port that can be opened.
type Info struct {
	Name string // as the system calls it; Open finds it by any part that no other has
	Raw  string // the device file of a raw port, as in raw:/dev/snd/midiC1D0; else empty
}

// List reports the ports that there are now: the driver's, or where the build has
// none or it fails, the raw devices found. Only if there are none of these either is
// that an error, ErrNoDriver, ErrNoSequencer or the driver's.
func List() ([]Info, error) {
	d, err := driver()
	return list(d, err)
}

// Open opens the port whose name contains name, in capitals or not, or the raw port
// raw:/path. The error says what ports there are. The Sender is a live.Reopener and
// an io.Closer, never blocks, and finds its port again by the same name.
func Open(name string) (live.Sender, error) {
	if path, ok := strings.CutPrefix(name, rawPrefix); ok {
		return openRaw(path)
	}
	d, err := driver()
	return open(d, err, name)
}

// list is List; d and noDriver are what driver returned.
func list(d drivers.Driver, noDriver error) ([]Info, error) {
	err := noDriver
	if err == nil {
		var outs []drivers.Out
		if outs, err = d.Outs(); err == nil {
			return infos(outs), nil
		}
		err = fmt.Errorf("MIDI driver %s: %w", d, err)
	}
	if found := rawDevices(); len(found) > 0 {
		return found, nil
	}
	return nil, err
}

func infos(outs []drivers.Out) (found []Info) {
	for _, o := range outs {
		found = append(found, Info{Name: o.String()})
	}
	return found
}

// open opens by part of a name; d and noDriver are what driver returned.
func open(d drivers.Driver, noDriver error, name string) (live.Sender, error) {
	ports, err := list(d, noDriver)
	if err != nil {
		return nil, fmt.Errorf("port %q: %w", name, err)
	}
	i, err := match(ports, name)
	if err != nil {
		return nil, err
	}
	if path, ok := strings.CutPrefix(ports[i].Raw, rawPrefix); ok {
		return openRaw(path)
	}
	return openDriven(d, name)
}

// match reports the index of the one port that name means: the one with exactly
// this name, else the only one whose name contains it.
func match(ports []Info, name string) (int, error) {
	var found []int
	for i, p := range ports {
		if p.Name == name {
			return i, nil
		}
		if strings.Contains(strings.ToLower(p.Name), strings.ToLower(name)) {
			found = append(found, i)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(ports) == 0:
		return 0, fmt.Errorf("port %q: there is no MIDI port: switch the instrument or synthesizer on", name)
	case len(found) == 0:
		return 0, fmt.Errorf("port %q: there is no such port; there are %s", name, names(ports))
	}
	var several []Info
	for _, i := range found {
		several = append(several, ports[i])
	}
	return 0, fmt.Errorf("port %q: it could be any of %s: give more of its name", name, names(several))
}

func names(ports []Info) string {
	var s []string
	for _, p := range ports {
		s = append(s, fmt.Sprintf("%q", p.Name))
	}
	return strings.Join(s, ", ")
}
