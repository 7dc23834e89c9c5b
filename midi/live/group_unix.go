//go:build unix

package live

import (
	"os"
	"os/exec"
	"syscall"
)

// deafTo are the signals that do not concern a band: the terminal is gone, the
// reader of its lines is gone, somebody pressed Ctrl-Z.
var deafTo = []os.Signal{syscall.SIGHUP, syscall.SIGPIPE, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU}

// ownGroup puts cmd in a process group of its own, out of reach of the terminal's
// Ctrl-C.
func ownGroup(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }
