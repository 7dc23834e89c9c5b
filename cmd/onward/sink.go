package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

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
	// name is what the journal knows it by, the same whatever the font; "" of silence.
	name string
	// latency is what is known, before measuring, of how late it is heard.
	latency time.Duration
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
	sink, programs := programsIn(sink)
	if name, ok := strings.CutPrefix(sink, sinkFont); ok {
		font, err := openFont(context.Background(), name)
		if err != nil {
			return nil, err
		}
		speaker, err := synth.Play(font, programs...)
		if err != nil {
			return nil, err
		}
		return loudspeaker{speaker}, nil
	}
	if sink == sinkOff {
		return live.Off{}, nil
	}
	return nil, fmt.Errorf("no sink has this name")
}

func (realSinks) try(sink string) (found, error) {
	if name, ok := strings.CutPrefix(sink, sinkPort); ok {
		return found{sink: sink, words: "MIDI port " + name, named: true, name: sink}, tryPort(name)
	}
	name, ok := strings.CutPrefix(sink, sinkFont)
	if !ok {
		return found{sink: sinkOff, words: "it is off", silent: true}, nil
	}
	font, err := openFont(context.Background(), name)
	if err != nil {
		return found{}, err
	}
	speaker, err := synth.Play(font, synth.Program{})
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
	f := found{sink: sink, words: device + ", sound font " + font.Name(), name: device, latency: synth.KnownLatency}
	if strings.HasPrefix(device, "no sound device") { // one that comes later is heard
		f = found{sink: sink, words: strings.TrimSuffix(device, ": keeping time in silence"), silent: true}
	}
	return f, nil
}

// A loudspeaker says what became of its sound device.
type loudspeaker struct{ *synth.Speaker }

// Witness is live.Witness's.
func (l loudspeaker) Witness() string {
	c := l.Counts()
	if c.Lost == 0 {
		return ""
	}
	return fmt.Sprintf("the sound device went away %s; the band counted on in silence; at the end: %s", count(int(c.Lost), "time"), l.Device())
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

// sinkPrograms begins the name of a sink that is told which programs it will play, so
// that it reads no more of a large sound font: numbers, those of percussion with a d
// before them, then a colon and the sink's own name follow.
const sinkPrograms = "programs:"

// withPrograms tells a sink, in its name, what r plays.
func withPrograms(sink string, r *live.Roll) string {
	messages := make([][3]byte, len(r.Events))
	for i := range r.Events {
		messages[i] = r.Events[i].Msg
	}
	var numbers []string
	for _, p := range synth.ProgramsOf(messages) {
		n := fmt.Sprint(p.Number)
		if p.Percussion {
			n = "d" + n
		}
		numbers = append(numbers, n)
	}
	if len(numbers) == 0 || !strings.HasPrefix(sink, sinkFont) {
		return sink
	}
	return sinkPrograms + strings.Join(numbers, ",") + ":" + sink
}

// programsIn takes apart what withPrograms made; a name without programs stays as it is.
func programsIn(sink string) (bare string, programs []synth.Program) {
	rest, ok := strings.CutPrefix(sink, sinkPrograms)
	if !ok {
		return sink, nil
	}
	list, bare, _ := strings.Cut(rest, ":")
	for _, n := range strings.Split(list, ",") {
		n, percussion := strings.CutPrefix(n, "d")
		if number, err := strconv.ParseUint(n, 10, 7); err == nil {
			programs = append(programs, synth.Program{Percussion: percussion, Number: uint8(number)})
		}
	}
	return bare, programs
}

// beginAlone starts a take in a process of its own: this program again, with the verb
// take.
func beginAlone(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
	cmd, err := itself(takeVerb)
	if err != nil {
		return nil, err
	}
	t, err := live.Start(ctx, cmd, r, withPrograms(sink, r), note)
	if err != nil {
		return nil, err
	}
	return t, nil
}
