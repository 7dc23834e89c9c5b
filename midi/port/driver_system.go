//go:build cgo && (darwin || windows || (linux && ports))

package port

import (
	"fmt"

	"gitlab.com/gomidi/midi/v2/drivers"
	"gitlab.com/gomidi/midi/v2/drivers/rtmididrv"
)

// howToBuild is not shown by a build that has a driver.
const howToBuild = ""

// driver is the system's MIDI driver: ALSA, CoreMIDI or Windows MM.
func driver() (drivers.Driver, error) {
	if err := lacking(sequencer); err != nil {
		return nil, err
	}
	d, err := rtmididrv.New()
	if err != nil {
		return nil, fmt.Errorf("MIDI driver: %w", err)
	}
	return d, nil
}
