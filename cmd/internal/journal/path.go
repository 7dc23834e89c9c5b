package journal

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
)

// DefaultPath reports where the player's journal lies by the platform's convention:
// $XDG_DATA_HOME/onward/journal.db, or ~/.local/share/onward/journal.db without it;
// ~/Library/Application Support/Onward/journal.db on macOS;
// %LocalAppData%\Onward\journal.db on Windows. It makes nothing. It fails when the
// environment names no such folder. (XDG Base Directory Specification 0.8: a path that
// is not absolute is ignored; the other two are the platforms' common practice.)
func DefaultPath() (string, error) {
	return defaultPath(runtime.GOOS, os.Getenv, os.UserHomeDir)
}

// defaultPath is DefaultPath for the system, environment and home folder given.
func defaultPath(system string, env func(string) string, home func() (string, error)) (string, error) {
	if system == "windows" {
		local := env("LocalAppData")
		if local == "" {
			return "", errors.New("journal: LocalAppData is not set, so there is no usual place: set it, or say where with --journal FILE")
		}
		return filepath.Join(local, "Onward", "journal.db"), nil
	}
	if data := env("XDG_DATA_HOME"); system != "darwin" && filepath.IsAbs(data) {
		return filepath.Join(data, "onward", "journal.db"), nil
	}
	h, err := home()
	if err != nil {
		return "", errors.New("journal: no home folder is known, so there is no usual place: set HOME, or say where with --journal FILE")
	}
	if system == "darwin" {
		return filepath.Join(h, "Library", "Application Support", "Onward", "journal.db"), nil
	}
	return filepath.Join(h, ".local", "share", "onward", "journal.db"), nil
}
