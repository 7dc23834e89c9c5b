package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// checkGiven refuses a flag that was given with nothing, and a file without a name: in a script
// both are mostly a variable that is not set. It knows no flag by name, so that a new one is
// covered.
func checkGiven(cmd *cobra.Command, args []string) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		values := []string{f.Value.String()}
		if list, ok := f.Value.(pflag.SliceValue); ok {
			values = list.GetSlice()
		}
		for _, v := range values {
			if err == nil && strings.TrimSpace(v) == "" {
				what, _ := pflag.UnquoteUsage(f)
				err = askedf("--%s %q: it is empty: give %s, or leave the flag out", f.Name, v, what)
			}
		}
	})
	if strings.HasPrefix(cmd.Name(), cobra.ShellCompRequestCmd) { // a shell asks what may follow
		return err
	}
	for _, a := range args {
		if err == nil && strings.TrimSpace(a) == "" {
			err = askedf("%s %q: it is empty: give the name of a file", cmd.Name(), a)
		}
	}
	return err
}

// joinValues gives a flag whose value may be left out the word that stands behind it, as in
// --click off-beats, where the verb takes no words of its own; and refuses one behind a flag
// that takes none, as in --wav false, which the flag library would take for a verb.
func joinValues(root *cobra.Command, args []string) ([]string, error) {
	cmd, _, err := root.Find(args)
	if err != nil {
		return args, nil // the library says it
	}
	cmd.InheritedFlags() // which makes them known to Flags
	var joined []string
	for i := 0; i < len(args); i++ {
		joined = append(joined, args[i])
		name, long := strings.CutPrefix(args[i], "--")
		if args[i] == "--" {
			return append(joined, args[i+1:]...), nil
		}
		f := cmd.Flags().Lookup(name)
		if !long || f == nil || i+1 == len(args) {
			continue
		}
		next := args[i+1]
		switch {
		case f.NoOptDefVal == "": // its value follows, whatever it is
			joined = append(joined, next)
			i++
		case strings.HasPrefix(next, "-"), slices.Contains(strings.Fields(cmd.CommandPath()), next):
		case cmd.Args == nil, cmd.Args(cmd, []string{next}) == nil: // a word of its own
		case f.Value.Type() == "bool":
			return nil, fmt.Errorf("--%s %s: --%s takes no value: leave %q out; --%s=false turns it off", name, next, name, next, name)
		default:
			joined[len(joined)-1] += "=" + next
			i++
		}
	}
	return joined, nil
}
