//go:build unix

package userfile

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A named pipe is refused at once, though nobody writes there; and one that takes a file's
// place once it was looked at would not be waited for.
func TestNamedPipes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, most := range []int64{0, 1 << 40} {
		if _, err := Read(t.Context(), path, most); err == nil || !strings.Contains(err.Error(), "it is a named pipe, not a file") {
			t.Errorf("got %v", err)
		}
	}
	f, err := os.OpenFile(path, os.O_RDONLY|nonblock, 0) // as open does: it does not wait
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
}

// A device without end is not read, under whatever name.
func TestDevices(t *testing.T) {
	link := filepath.Join(t.TempDir(), "march.toml")
	if err := os.Symlink("/dev/zero", link); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{link, "/dev/zero"} {
		if text, err := Read(t.Context(), path, 1<<40); err == nil {
			t.Errorf("%s: %d bytes are read", path, len(text))
		}
	}
}
