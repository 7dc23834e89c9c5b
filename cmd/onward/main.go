// Onward is a play-along companion for wind and brass players who want to read better
// at sight: it writes pieces that nobody has seen, made of the figures that the player
// drills, and plays the band that never stops.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
)

func main() {
	collectLess()
	os.Exit(program())
}

// collectLess lets the heap grow further between collections than is usual: the program
// is short-lived and small, and makes many reads one after the other. A few reads in a
// thousand take a hundred megabytes to make: up to mostHeap only is there room for five
// times that.
func collectLess() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(mostHeap)
	}
}

// mostHeap is from how many bytes on memory is collected as often as it takes.
const mostHeap = 200 << 20

// program runs the program on this machine and reports its exit code. The first Ctrl-C
// asks it to end in order, a second one ends it.
func program() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	return run(ctx, thisMachine(), os.Args[1:])
}

// The exit codes.
const (
	exitFine        = 0
	exitFault       = 1 // ours, or the machine's
	exitRequest     = 2 // what was asked cannot be done as asked
	exitInterrupted = 130
)

// run does what the arguments ask and reports the exit code. An error has been said.
func run(ctx context.Context, e *env, args []string) int {
	e.takesUp = true
	root, begun := newRoot(e)
	args, err := joinValues(root, args)
	if err == nil {
		root.SetArgs(args)
		err = root.ExecuteContext(ctx)
	}
	if err != nil && !*begun { // cobra's own: an unknown verb, flag or number of files
		err = asked(err, "`onward --help` lists the verbs, `onward VERB --help` its flags")
	}
	var code exitError
	switch {
	case errors.As(err, &code):
		return int(code)
	case errors.Is(err, context.Canceled): // the player knows
	case err != nil:
		fmt.Fprintln(e.err, "onward: "+strings.TrimRight(err.Error(), "\n"))
	}
	return exitCode(err)
}
