//go:build unix

package journal

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// unprivileged is a child that adds one read to the journal at path as a user whom file
// permissions bind; root would write anywhere.
func unprivileged(t *testing.T, path string) *exec.Cmd {
	t.Helper()
	c := process(t, path, 1)
	if os.Geteuid() != 0 {
		return c
	}
	const nobody = 65534
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	c.Path = filepath.Join(reachable(t), "child") // the test binary's own folder is root's alone
	duplicate(t, c.Path)
	return c
}

// reachable is a temporary folder that every user may enter.
func reachable(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	chmod(t, dir, 0o755)
	chmod(t, filepath.Dir(dir), 0o755)
	return dir
}

// duplicate copies the test binary to path.
func duplicate(t *testing.T, path string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	from, err := os.Open(self)
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	to, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(to, from); err != nil {
		t.Fatal(err)
	}
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestWhatCannotBeWrittenIsRefused(t *testing.T) {
	for _, c := range []struct {
		name         string
		exists       bool
		folder, file os.FileMode
	}{
		{"no journal in a read-only folder", false, 0o555, 0},
		{"a journal in a read-only folder", true, 0o555, 0o666},
		{"a read-only journal", true, 0o777, 0o444},
		{"an unreadable journal", true, 0o777, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(reachable(t), "journal.db")
			if c.exists {
				j := open(t, path)
				add(t, j, march("a", childRuns))
				if err := j.Close(); err != nil {
					t.Fatal(err)
				}
				chmod(t, path, c.file)
			}
			chmod(t, filepath.Dir(path), c.folder)
			var complaint bytes.Buffer
			child := unprivileged(t, path)
			child.Stderr = &complaint
			var exit *exec.ExitError
			if err := child.Run(); !errors.As(err, &exit) || exit.ExitCode() != 1 {
				t.Fatalf("want the read refused: %v", err)
			}
			for _, w := range []string{"journal " + path, "let yourself", "--journal FILE"} {
				if !strings.Contains(complaint.String(), w) {
					t.Errorf("%q does not say %q", complaint.String(), w)
				}
			}
			if strings.Contains(complaint.String(), "add reads") {
				t.Errorf("it was opened, and refused only when written: %s", complaint.String())
			}
			chmod(t, filepath.Dir(path), 0o777)
			if c.exists {
				chmod(t, path, 0o666)
				if n, err := open(t, path).Count(context.Background()); n != 1 || err != nil {
					t.Errorf("%d reads, error %v; want the 1 there was", n, err)
				}
			}
		})
	}
}

// chmod sets a mode or ends the test.
func chmod(t *testing.T, path string, mode os.FileMode) {
	t.Helper()
	if err := os.Chmod(path, mode); err != nil {
		t.Fatal(err)
	}
}
