package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A read whose figures were weighed by what was known then is made again, byte for byte,
// after more has been learned; and so is one of a style whose sheet is gone.
func TestAgainByteForByte(t *testing.T) {
	s := newStage(t)
	must := func(args ...string) string {
		t.Helper()
		code, out, err := s.run(args...)
		if code != 0 {
			t.Fatalf("%v: exit %d\n%s%s", args, code, out, err)
		}
		return out
	}
	must("read", "--plain", "--rung", "4", "--seed", "1", "--look-over", "0")
	out := must("write", "--figures", "known", "--rung", "4", "--coverage", "80%", "--out", "then")
	if !strings.Contains(out, "onward write --again 2") {
		t.Errorf("no way back is told:\n%s", out)
	}
	for _, seed := range []string{"5", "6"} {
		must("read", "--plain", "--rung", "5", "--style", "lyrical", "--seed", seed, "--look-over", "0")
	}
	must("write", "--again", "2", "--out", "now")
	then, _ := filepath.Glob("then/*")
	if len(then) != 3 {
		t.Fatalf("files %q", then)
	}
	for _, path := range then {
		a, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join("now", filepath.Base(path)))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s came out otherwise", path)
		}
	}
	for _, args := range [][]string{{"write", "--again", "99"}, {"write", "--again", "0"}, {"write", "--again", "2", "--rung", "4"}} {
		if code, _, _ := s.run(args...); code != exitRequest {
			t.Errorf("%v: exit %d, want %d", args, code, exitRequest)
		}
	}
}

// The sheet of a style of the player's own is kept with the read.
func TestAgainOfOwnStyle(t *testing.T) {
	waltz := fenced(document(t, "README.md"), "toml")[0]
	s := newStage(t)
	if err := os.WriteFile("waltz.toml", []byte(waltz), 0o666); err != nil {
		t.Fatal(err)
	}
	if code, _, err := s.run("write", "--style", "./waltz.toml", "--rung", "5", "--out", "then"); code != 0 {
		t.Fatal(err)
	}
	if err := os.Remove("waltz.toml"); err != nil {
		t.Fatal(err)
	}
	if code, _, err := s.run("write", "--again", "1", "--out", "now"); code != 0 {
		t.Fatal(err)
	}
	pages, _ := filepath.Glob("then/*.musicxml")
	if len(pages) != 1 {
		t.Fatalf("pages %q", pages)
	}
	a, _ := os.ReadFile(pages[0])
	b, _ := os.ReadFile(filepath.Join("now", filepath.Base(pages[0])))
	if len(a) == 0 || !bytes.Equal(a, b) {
		t.Error("the page came out otherwise")
	}
}

// A journal that was exported and imported makes its reads again as they were.
func TestAgainAfterImport(t *testing.T) {
	s := newStage(t)
	for _, args := range [][]string{
		{"read", "--plain", "--rung", "4", "--seed", "1", "--look-over", "0"},
		{"write", "--figures", "known", "--rung", "4", "--out", "then"},
		{"journal", "export", "my.jsonl"},
		{"journal", "import", "my.jsonl", "--journal", "other.db"},
		{"write", "--again", "2", "--journal", "other.db", "--out", "now"},
	} {
		if code, _, err := s.run(args...); code != 0 {
			t.Fatalf("%v: exit %d: %s", args, code, err)
		}
	}
	pages, _ := filepath.Glob("then/*.musicxml")
	if len(pages) != 1 {
		t.Fatalf("pages %q", pages)
	}
	a, _ := os.ReadFile(pages[0])
	b, _ := os.ReadFile(filepath.Join("now", filepath.Base(pages[0])))
	if len(a) == 0 || !bytes.Equal(a, b) {
		t.Error("the page came out otherwise")
	}
}
