package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Whatever file cannot be made or filled, the error says which and what to do, and nothing
// is left.
func TestUnwritableFiles(t *testing.T) {
	for _, c := range []struct{ args, file string }{
		{"write --seed 7", "march-r3-7.musicxml"},
		{"write --seed 7", "march-r3-7.mid"},
		{"write --seed 7", "march-r3-7.json"},
		{"write --seed 7 --wav --sound builtin", "march-r3-7.wav"},
		{"read --seed 7 --look-over 0", "march-r3-7.json"},
		{"warmup --written --day 2026-11-25", "warmup-2026-11-25.musicxml"},
		{"warmup --written --day 2026-11-25", "warmup-2026-11-25.json"},
		{"read --piece ../duet.musicxml --part 1 --look-over 0", "duet-part-1.mid"},
		{"read --piece ../duet.musicxml --part 1 --look-over 0 --wav --sound builtin", "duet-part-1.wav"},
		{"survey ../duet.musicxml --part 1 --prepare", "duet-part-1-drills.musicxml"},
	} {
		for fault, make := range map[string]func(draft string) error{
			"no space left on device": func(draft string) error { return os.Symlink("/dev/full", draft) },
			"is a directory":          func(draft string) error { return os.Mkdir(draft, 0o777) },
		} {
			t.Run(c.args+": "+c.file+": "+fault, func(t *testing.T) {
				s := pieceStage(t)
				if err := os.Mkdir("x", 0o777); err != nil {
					t.Fatal(err)
				}
				t.Chdir("x")
				if _, err := os.Stat("/dev/full"); err != nil {
					t.Skip("no file that is always full: ", err)
				}
				if err := make(draftOf(c.file)); err != nil {
					t.Fatal(err)
				}
				code, _, said := s.run(append(strings.Fields(c.args), "--out", ".", "--journal", "../journal.db")...)
				want := fmt.Sprintf("onward: file %s: %s: name a folder that you may write to, with room in it (--out)\n", c.file, fault)
				if code != exitRequest || said != want {
					t.Errorf("exit code %d, said %q, want %q", code, said, want)
				}
				wantFiles(t, ".")
			})
		}
	}
}

// What is saved under a name leaves nothing either.
func TestUnwritableVocabulary(t *testing.T) {
	s := pieceStage(t)
	if err := os.Symlink("/dev/full", draftOf("figures.toml")); err != nil {
		t.Skip(err)
	}
	code, _, said := s.run("learn", "duet.musicxml", "--save", "figures.toml")
	if want := "file figures.toml: no space left on device"; code != exitRequest || !strings.Contains(said, want) {
		t.Errorf("exit code %d, said %q, want %q", code, said, want)
	}
	wantFiles(t, ".", "duet.musicxml", "lone.xml", "page.xml")
}

// Drafts of a process that is gone are taken away at the next start; those of one that runs,
// of another machine, and files that are not drafts stay.
func TestDraftsLeftBehind(t *testing.T) {
	s := newStage(t)
	dead := exec.Command(os.Args[0], "-test.run", "^$")
	if err := dead.Run(); err != nil {
		t.Fatal(err)
	}
	mine := filepath.Base(draftOf("march-r3-8.mid"))
	left := strings.Replace(mine, fmt.Sprint(os.Getpid()), fmt.Sprint(dead.Process.Pid), 1)
	parent := strings.Replace(mine, fmt.Sprint(os.Getpid()), fmt.Sprint(os.Getppid()), 1)
	elsewhere := strings.Replace(left, machine(), "0123456789abcdef", 1)
	stays := []string{mine, parent, elsewhere, "." + left, left[1:], left + ".d", ".onward-notes", fmt.Sprintf(".onward-%s-%d-", machine(), dead.Process.Pid)}
	for _, c := range []string{"write --seed 1 --out x", "warmup --written --out x", "journal export x/all.jsonl"} {
		if err := os.MkdirAll(filepath.Join("x", left+".d"), 0o777); err != nil { // a folder
			t.Fatal(err)
		}
		for _, name := range append(stays, left) {
			if name != left+".d" {
				if err := os.WriteFile(filepath.Join("x", name), []byte("half"), 0o666); err != nil {
					t.Fatal(err)
				}
			}
		}
		fine(t, s, c)
		for _, name := range stays {
			if _, err := os.Stat(filepath.Join("x", name)); err != nil {
				t.Errorf("%s: %v", c, err)
			}
		}
		if _, err := os.Stat(filepath.Join("x", left)); !os.IsNotExist(err) {
			t.Errorf("%s: %s is still there (%v)", c, left, err)
		}
	}
}
