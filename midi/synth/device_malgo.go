//go:build cgo

package synth

import (
	"errors"
	"fmt"
	"sync"
	"unsafe"

	"github.com/gen2brain/malgo"
)

// openDevice opens the system's sound device.
var openDevice opener = through(backends())

// A sounder is an open device of miniaudio.
type sounder struct {
	context *malgo.AllocatedContext
	device  *malgo.Device
	called  string
	once    sync.Once
}

// backends are all ways to a real device, by miniaudio's own numbers: 0 to 12. Its
// number 14, the null device, is left out: without a device the speaker keeps time
// itself.
func backends() []malgo.Backend {
	var all []malgo.Backend
	for b := malgo.Backend(0); b <= 12; b++ {
		all = append(all, b)
	}
	return all
}

// through reports the opener of the first of the given backends that answers.
func through(ways []malgo.Backend) opener {
	return func(pull func([]float32), lost func()) (output, error) {
		quieten()
		context, err := malgo.InitContext(ways, malgo.ContextConfig{}, nil)
		if err != nil {
			return nil, errors.New("no sound system answers")
		}
		s := &sounder{context: context, called: "the default one"}
		if err := s.init(pull, lost); err != nil {
			s.free()
			return nil, fmt.Errorf("the sound system has none: %w", err)
		}
		return s, nil
	}
}

func (s *sounder) init(pull func([]float32), lost func()) error {
	config := malgo.DefaultDeviceConfig(malgo.Playback)
	config.SampleRate = liveRate
	config.PeriodSizeInMilliseconds = uint32(asked.Milliseconds())
	config.Periods = 3
	config.Playback.Format = malgo.FormatF32
	config.Playback.Channels = 2
	device, err := malgo.InitDevice(s.context.Context, config, malgo.DeviceCallbacks{
		Data: func(out, _ []byte, frames uint32) {
			if frames > 0 {
				pull(unsafe.Slice((*float32)(unsafe.Pointer(&out[0])), 2*frames))
			}
		},
		Stop: lost,
	})
	if err != nil {
		return err
	}
	s.device = device
	if infos, err := s.context.Devices(malgo.Playback); err == nil {
		for _, info := range infos {
			if info.IsDefault != 0 {
				s.called = info.Name()
			}
		}
	}
	return nil
}

func (s *sounder) name() string { return s.called }

func (s *sounder) start() error { return s.device.Start() }

func (s *sounder) stop() {
	s.once.Do(func() {
		s.device.Uninit()
		s.free()
	})
}

func (s *sounder) free() {
	_ = s.context.Uninit() // nothing to be done when it fails
	s.context.Free()
}
