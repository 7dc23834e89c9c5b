//go:build !(cgo && (darwin || windows || (linux && ports)))

package port

import "gitlab.com/gomidi/midi/v2/drivers"

// howToBuild says how to get a build with a driver.
const howToBuild = "build it with CGO_ENABLED=1 go build -tags ports ./cmd/onward" +
	" (this needs a C++ compiler, and on Linux the ALSA headers: libasound2-dev on Debian, alsa-lib-devel on Fedora)"

// driver reports that there is none.
func driver() (drivers.Driver, error) { return nil, ErrNoDriver }
