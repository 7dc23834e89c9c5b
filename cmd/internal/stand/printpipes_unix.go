//go:build !windows

package stand

import (
	"os"
	"os/exec"
	"syscall"
)

// pipes hands the browser its two pipes, as files 3 and 4, and puts it in a process group of
// its own: Ctrl-C on the terminal does not reach it, and it can be ended as a whole.
func pipes(cmd *exec.Cmd, orders, answers *os.File) error {
	cmd.Args = append(cmd.Args, "--remote-debugging-pipe", "about:blank")
	cmd.ExtraFiles = []*os.File{orders, answers}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	return nil
}

// killGroup ends the browser's process group.
func killGroup(cmd *exec.Cmd) { syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
