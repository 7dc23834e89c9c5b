//go:build unix

package main

import (
	"context"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"onward/cmd/internal/session"
	"onward/cmd/internal/userfile"
)

// namesFiles are what a player's file can be given to, with X for its name, and the ending
// that it must have there.
var namesFiles = []struct{ args, ending string }{
	{"write --style X", ".toml"},
	{"read --style X --look-over 0", ".toml"},
	{"write --figures X", ".toml"},
	{"write --figures X", ".musicxml"},
	{"write --figures X", ".mid"},
	{"warmup --figures X", ".toml"},
	{"learn X", ".musicxml"},
	{"learn X", ".mxl"},
	{"learn X", ".mid"},
	{"survey X", ".musicxml"},
	{"read --piece X", ".musicxml"},
	{"write --wav --sound X", ".sf2"},
	{"journal import X", ".jsonl"},
	{"write --journal X", ".db"},
}

// Whatever a player's file is named for, a device, a named pipe, a folder or a file that is too
// long is refused at once, in words, and nothing is written.
func TestOnlyFilesAreRead(t *testing.T) {
	for _, c := range namesFiles {
		for _, hostile := range []struct {
			name string
			make func(path string) error
			want []string
		}{
			{"a named pipe", func(path string) error { return syscall.Mkfifo(path, 0o600) }, []string{"named pipe", "device"}},
			{"a device", func(path string) error { return os.Symlink("/dev/zero", path) }, []string{"device"}},
			{"a file too long", func(path string) error {
				if err := os.WriteFile(path, nil, 0o600); err != nil {
					return err
				}
				return os.Truncate(path, userfile.MaxFont+1) // no room is taken: the file is a hole
			}, []string{"more than the", "no journal"}},
		} {
			s := newStage(t)
			name := "hostile" + c.ending
			if err := hostile.make(name); err != nil {
				t.Fatal(err)
			}
			ctx, stop := context.WithTimeout(t.Context(), time.Minute)
			defer stop()
			code, out, err := s.runIn(ctx, strings.Fields(strings.ReplaceAll(c.args, "X", "./"+name))...)
			said := false
			for _, w := range hostile.want {
				said = said || strings.Contains(err, w)
			}
			if code != exitRequest || out != "" || !said || !strings.Contains(err, name) {
				t.Errorf("onward %s of %s: exit code %d, %q, %q; want code 2 and one of %q", c.args, hostile.name, code, out, err, hostile.want)
			}
		}
	}
}

// A screen names styles that are listed: whatever else it names is not opened.
func TestAScreenOpensNoFiles(t *testing.T) {
	s := newStage(t)
	if err := syscall.Mkfifo("pipe.toml", 0o600); err != nil {
		t.Fatal(err)
	}
	names := []string{"./pipe.toml", "pipe.toml", "/dev/zero", `..\x`, "mine"}
	problems := map[string]string{}
	s.practise(t, func(p *session.Session, st session.State) *session.Action {
		if st.Place != session.Choose || st.Offer == nil {
			return nil
		}
		if asked := st.Choice.Style; st.Problem != "" {
			problems[asked] = st.Problem
			names = names[1:]
		}
		if len(names) == 0 {
			return &session.Action{Do: session.DoQuit}
		}
		c := st.Offer.Proposal
		c.Style = names[0]
		if st.Choice.Style != c.Style || st.Problem != "" {
			return &session.Action{Do: session.DoChoose, Choice: &c}
		}
		return &session.Action{Do: session.DoStart}
	}, "read")
	for name, problem := range problems {
		if !strings.Contains(problem, "listed") && !strings.Contains(problem, "lists them") {
			t.Errorf("%s: %s", name, problem)
		}
	}
	if len(problems) != 5 {
		t.Errorf("asked for %v", problems)
	}
}

// The player's own sheet is listed by its name, and its path is in nothing that a screen shows.
func TestOwnSheetIsListedByName(t *testing.T) {
	text := load(t, "../../styles/march.toml")
	s := newStage(t)
	if err := os.WriteFile("mine.toml", []byte(strings.Replace(string(text), `name = "march"`, `name = "my march"`, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	styles := map[string]bool{}
	s.practise(t, func(_ *session.Session, st session.State) *session.Action {
		styles[st.Choice.Style] = true
		switch st.Place {
		case session.Slips:
			return &session.Action{Do: session.DoKeep}
		case session.Meaning:
			if st.Choice.Style != "my march" {
				t.Errorf("played %s", st.Choice.Style)
			}
			return &session.Action{Do: session.DoQuit}
		}
		return nil
	}, "read", "--style", "./mine.toml", "--rung", "4")
	for name := range styles {
		if strings.Contains(name, "toml") {
			t.Errorf("a screen is shown %s", name)
		}
	}
}
