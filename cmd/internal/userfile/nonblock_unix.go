//go:build unix

package userfile

import "syscall"

// nonblock keeps the opening of a named pipe from waiting for who writes there.
const nonblock = syscall.O_NONBLOCK
