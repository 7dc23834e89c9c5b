package live

import (
	"os"
	"os/exec"
	"syscall"
)

// deafTo are the signals that do not concern a band: the console is gone.
var deafTo = []os.Signal{syscall.SIGHUP}

// ownGroup puts cmd in a process group of its own, out of reach of the console's
// Ctrl-C.
func ownGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}
