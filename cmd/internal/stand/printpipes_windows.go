package stand

import (
	"fmt"
	"os"
	"os/exec"
	"syscall"
)

// pipes hands the browser its two pipes, by their handles.
func pipes(cmd *exec.Cmd, orders, answers *os.File) error {
	in, out := syscall.Handle(orders.Fd()), syscall.Handle(answers.Fd())
	for _, h := range []syscall.Handle{in, out} {
		if err := syscall.SetHandleInformation(h, syscall.HANDLE_FLAG_INHERIT, syscall.HANDLE_FLAG_INHERIT); err != nil {
			return err
		}
	}
	cmd.Args = append(cmd.Args, "--remote-debugging-pipe", fmt.Sprintf("--remote-debugging-io-pipes=%d,%d", in, out), "about:blank")
	cmd.SysProcAttr = &syscall.SysProcAttr{AdditionalInheritedHandles: []syscall.Handle{in, out}, CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
	return nil
}

// killGroup ends the browser; what it has started ends when it sees that.
func killGroup(cmd *exec.Cmd) { cmd.Process.Kill() }
