//go:build unix

package journal

import (
	"os"
	"os/exec"
	"syscall"
	"testing"
)

// TestOthersSeeTheLock is also what another process asks.
func TestOthersSeeTheLock(t *testing.T) {
	if path := os.Getenv("ONWARD_JOURNAL_LOCKED"); path != "" {
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		shared := syscall.Flock_t{Type: syscall.F_WRLCK, Start: 0x40000002, Len: 510} // SQLite, os.h: SHARED_FIRST, SHARED_SIZE
		if err := syscall.FcntlFlock(f.Fd(), syscall.F_GETLK, &shared); err != nil || shared.Type != syscall.F_RDLCK {
			t.Errorf("lock %+v, %v", shared, err)
		}
		return
	}
	path, _ := sealed(t)
	j := open(t, path) // compared with its seal
	add(t, j, march("d", 1))
	c := exec.Command(os.Args[0], "-test.run=^TestOthersSeeTheLock$")
	c.Env = append(os.Environ(), "ONWARD_JOURNAL_LOCKED="+path)
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, out)
	}
}
