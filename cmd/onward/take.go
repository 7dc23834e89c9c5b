package main

import (
	"onward/midi/live"

	"github.com/spf13/cobra"
)

// takeVerb is the verb by which the program starts itself to play a take.
const takeVerb = "take"

// newTake makes the verb that plays one take, given on standard input; it is for the
// program's own use. It prints for the program that started it, and ends with that
// package's exit code.
func newTake(e *env) *cobra.Command {
	return &cobra.Command{
		Use:    takeVerb,
		Short:  "Play one take (for the program's own use)",
		Hidden: true,
		Args:   cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return exitError(live.Serve(e.in, e.out, e.sinks.open))
		},
	}
}
