package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"syscall"
)

// A draft is a file that is not in its place yet. Its name says which process writes it, so
// that another one can tell whether it was left behind.

// draftOf reports where the file of a path is written before it is put in its place.
func draftOf(path string) string {
	folder, name := filepath.Split(path)
	return filepath.Join(folder, fmt.Sprintf(".onward-%s-%d-%s", machine(), os.Getpid(), name))
}

var draftName = regexp.MustCompile(`^\.onward-([0-9a-f]{16})-(\d+)-.`)

// machine tells apart the places where processes have numbers of their own: machines that
// share a folder, and on Linux containers that share one, too.
func machine() string {
	host, _ := os.Hostname() // without a name all is one machine
	space, _ := os.Readlink("/proc/self/ns/pid")
	return fmt.Sprintf("%016x", digest([]byte(host+" "+space)))
}

// openFolder makes the folder that files go into, and sweeps it.
func openFolder(path string) error {
	if err := os.MkdirAll(path, 0o777); err != nil {
		return unwritable("folder", path, err)
	}
	sweepDrafts(path)
	return nil
}

// sweepDrafts takes away the drafts that programs of this machine have left in the folder
// when they were killed. What cannot be read or removed stays.
func sweepDrafts(folder string) {
	entries, _ := os.ReadDir(folder)
	here := machine()
	for _, e := range entries {
		found := draftName.FindStringSubmatch(e.Name())
		if found == nil || found[1] != here || !e.Type().IsRegular() {
			continue
		}
		if process, err := strconv.Atoi(found[2]); err == nil && gone(process) {
			os.Remove(filepath.Join(folder, e.Name()))
		}
	}
}

// gone reports whether there is surely no process of the number: a signal of 0 only asks
// (POSIX kill). On Windows FindProcess alone tells.
func gone(process int) bool {
	if process < 1 {
		return false
	}
	p, err := os.FindProcess(process)
	if err != nil {
		return !errors.Is(err, os.ErrPermission)
	}
	defer p.Release()
	return errors.Is(p.Signal(syscall.Signal(0)), os.ErrProcessDone)
}
