//go:build !unix

package port

import (
	"fmt"

	"onward/midi/live"
)

// openRaw refuses: this system has no device files.
func openRaw(path string) (live.Sender, error) {
	return nil, fmt.Errorf("port raw:%s: this system has no device files: use a port by its name", path)
}
