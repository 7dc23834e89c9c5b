package main

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// eachVerb calls do for every verb that the program has and for those below them, with its
// words and as many file names as it must have.
func eachVerb(t *testing.T, do func(cmd *cobra.Command, words []string)) {
	t.Helper()
	verbs := 0
	var below func(cmd *cobra.Command)
	below = func(cmd *cobra.Command) {
		for _, c := range cmd.Commands() {
			below(c)
			if !c.Runnable() || c.Name() == takeVerb {
				continue
			}
			words := strings.Fields(c.CommandPath())[1:]
			for c.ValidateArgs(words[len(strings.Fields(c.CommandPath()))-1:]) != nil {
				if words = append(words, "no.musicxml"); len(words) > 6 {
					t.Fatalf("%s: how many files does it take?", c.CommandPath())
				}
			}
			c.InheritedFlags()
			verbs++
			do(c, words)
		}
	}
	root, _ := newRoot(newStage(t).env)
	below(root)
	if verbs < 15 {
		t.Errorf("only %d verbs", verbs)
	}
}

// refused wants a request to be refused in words, with nothing done.
func refused(t *testing.T, words []string, want ...string) {
	t.Helper()
	s := newStage(t)
	ctx, stop := context.WithTimeout(t.Context(), 10*time.Second) // a stand that is served by mistake ends
	defer stop()
	code, out, err := s.runIn(ctx, words...)
	for _, w := range want {
		if code != exitRequest || !strings.HasPrefix(err, "onward: ") || !strings.Contains(err, w) || out != "" {
			t.Errorf("onward %q: exit code %d, printed %q and %q, want code 2 and %q", words, code, out, err, w)
		}
	}
	if found := pages(t, "."); len(found) > 0 || len(s.rolls) > 0 {
		t.Errorf("onward %q: wrote %v, played %d takes", words, found, len(s.rolls))
	}
}

// A flag that is given with nothing is refused by its name, with what to do: every flag of
// every verb, whatever it is for.
func TestEmptyValuesAreRefused(t *testing.T) {
	flags := 0
	eachVerb(t, func(cmd *cobra.Command, words []string) {
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Name == "help" {
				return
			}
			flags++
			for _, empty := range []string{"", " "} {
				refused(t, append(words[:len(words):len(words)], "--"+f.Name+"="+empty), fmt.Sprintf("--%s %q: ", f.Name, empty))
			}
			if f.NoOptDefVal == "" {
				refused(t, append(words[:len(words):len(words)], "--"+f.Name, ""), fmt.Sprintf("--%s %q: ", f.Name, ""))
			}
		})
	})
	if flags < 100 {
		t.Errorf("only %d flags", flags)
	}
	for _, words := range [][]string{{"survey", ""}, {"learn", "no.musicxml", ""}, {"journal", "import", " "}} {
		refused(t, words, "it is empty: give the name of a file")
	}
}

// A word behind a flag that takes none is refused with what to write, and one behind a flag
// that may have one is its value: every flag of every verb that takes no words itself.
func TestWordsBesideFlags(t *testing.T) {
	alone, optional := 0, 0
	eachVerb(t, func(cmd *cobra.Command, words []string) {
		if cmd.Args != nil && cmd.Args(cmd, []string{"word"}) == nil {
			return // it takes words: this is one
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			given := append(words[:len(words):len(words)], "--"+f.Name, "word")
			switch {
			case f.Name == "help" || f.NoOptDefVal == "":
			case f.Value.Type() == "bool":
				alone++
				refused(t, given, fmt.Sprintf("--%s word: --%s takes no value", f.Name, f.Name), "--"+f.Name+"=false")
			default:
				optional++
				refused(t, given, fmt.Sprintf("--%s %q: write --%s", f.Name, "word", f.Name))
			}
		})
	})
	if alone < 30 || optional < 4 {
		t.Errorf("only %d flags without a value, %d with one that may be left out", alone, optional)
	}
}

// The two ways to write a value that may be left out mean the same, and a word that is the
// verb's own stays that.
func TestJoinValues(t *testing.T) {
	for _, c := range []struct{ given, want string }{
		{"write --click off-beats --rung 3", "write --click=off-beats --rung 3"},
		{"write --click --rung 3", "write --click --rung 3"},
		{"write --rung 3 --company counter", "write --rung 3 --company=counter"},
		{"write --click", "write --click"},
		{"write --click=on --wav", "write --click=on --wav"},
		{"write --key --click", "write --key --click"}, // a key of this name: the key's own words tell
		{"read --figures --click off", "read --figures --click off"},
		{"--journal --click write --click off", "--journal --click write --click=off"},
		{"learn --json a.musicxml", "learn --json a.musicxml"},
		{"journal export --everything out.jsonl", "journal export --everything out.jsonl"},
		{"write -- --click off", "write -- --click off"},
		{"frob --click off", "frob --click off"},
		{"", ""},
	} {
		root, _ := newRoot(newStage(t).env)
		got, err := joinValues(root, strings.Fields(c.given))
		if err != nil || strings.Join(got, " ") != c.want {
			t.Errorf("%s: got %q, %v, want %s", c.given, got, err, c.want)
		}
	}
	s := newStage(t)
	if code, out, err := s.run("write", "--seed", "5", "--click", "off-beats"); code != exitFine || !strings.Contains(out, "--click=off-beats") {
		t.Errorf("exit %d, %s%s", code, out, err)
	}
}
