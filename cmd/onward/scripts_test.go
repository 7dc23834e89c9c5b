package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"onward":    func() { os.Exit(program()) },
		"burn":      burn,
		"floor":     floor,
		"hoard":     hoard,
		"reporting": reporting,
	})
}

// TestScripts runs the commands of testdata/*.txtar in the real program, each with a
// journal of its own.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			e.Setenv("XDG_DATA_HOME", filepath.Join(e.WorkDir, "data"))
			e.Setenv("LocalAppData", filepath.Join(e.WorkDir, "data"))
			e.Setenv("HOME", e.WorkDir)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

// exits runs the program and wants the exit code given first.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE onward ARGS...")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	var exit interface{ ExitCode() int }
	if errors.As(err, &exit) {
		code = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if args[0] != fmt.Sprint(code) {
		ts.Fatalf("exit code %d, want %s", code, args[0])
	}
}
