package port

import (
	"os"
	"path/filepath"
	"strings"
)

// rawDevices reports the raw MIDI devices of the sound system.
func rawDevices() []Info { return rawDevicesIn("/dev/snd", "/sys/class/sound") }

// rawDevicesIn finds the device files midiC*D* in the folder dev; sys has their
// cards' names.
func rawDevicesIn(dev, sys string) (found []Info) {
	paths, _ := filepath.Glob(filepath.Join(dev, "midiC*D*")) // the pattern is right
	for _, path := range paths {
		file := filepath.Base(path)
		name := file
		if id, err := os.ReadFile(filepath.Join(sys, file, "device", "id")); err == nil {
			name = strings.TrimSpace(string(id)) + " " + file
		}
		found = append(found, Info{Name: name, Raw: rawPrefix + path})
	}
	return found
}
