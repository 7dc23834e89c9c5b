package main

import (
	"fmt"
	"os"
	"os/exec"
	"strings"

	"onward/midi/live"

	"github.com/spf13/cobra"
)

// takeVerb is the verb by which the program starts itself to play a take, and watchTake the
// argument by which that has it watched.
const (
	takeVerb  = "take"
	watchTake = "watch"
)

// newTake makes the verb that plays one take, given on standard input; it is for the
// program's own use. It prints for the program that started it, and ends with that
// package's exit code. With an argument it watches one, see live.Watch.
func newTake(e *env) *cobra.Command {
	return &cobra.Command{
		Use:       takeVerb,
		Short:     "Play one take (for the program's own use)",
		Hidden:    true,
		Args:      cobra.MatchAll(cobra.MaximumNArgs(1), cobra.OnlyValidArgs),
		ValidArgs: []string{watchTake},
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 1 {
				return exitError(live.Watch(e.in, e.sinks.open))
			}
			return exitError(live.Serve(e.in, e.out, live.Host{Open: e.sinks.open, Watch: watchAlone, Keep: keepBeside}))
		},
	}
}

// watchAlone is the command of a process that watches a take on a port. All other sinks end
// with the process that plays on them.
func watchAlone(sink string) *exec.Cmd {
	if !strings.HasPrefix(sink, sinkPort) {
		return nil
	}
	cmd, err := itself(takeVerb, watchTake)
	if err != nil {
		return nil
	}
	return cmd
}

// itself is the command of this program again.
func itself(args ...string) (*exec.Cmd, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("take: this program does not find itself: %w", err)
	}
	cmd := exec.Command(self, args...)
	cmd.Args[0] = os.Args[0]
	return cmd, nil
}

// hush ends what a take of r left sounding on a port.
func (e *env) hush(sink string, r *live.Roll) {
	if strings.HasPrefix(sink, sinkPort) {
		live.Hush(e.sinks.open, sink, r) // what more can be done has been tried
	}
}
