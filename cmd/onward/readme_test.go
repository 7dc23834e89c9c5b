package main

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
)

// top is the top of the tree.
const top = "../.."

// notRun are the README's commands that are not run here, for they build the program, run
// these tests, or open the network and go on until they are stopped.
var notRun = []string{"go test ./...", "go build -tags ports ./cmd/onward", "onward stand --lan"}

// document reads a document at the top of the tree.
func document(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(top, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// fenced lists the blocks of a kind that a document holds.
func fenced(text, kind string) (blocks []string) {
	for _, m := range regexp.MustCompile("(?ms)^```(\\w*)\n(.*?)^```$").FindAllStringSubmatch(text, -1) {
		if m[1] == kind {
			blocks = append(blocks, m[2])
		}
	}
	return blocks
}

// arguments reports what a command line gives the program; ok is false where it runs
// something else.
func arguments(line string) (args []string, ok bool) {
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		args = append(args, m[1]+m[2])
	}
	for _, start := range []string{"onward ", "go run ./cmd/onward "} {
		if strings.HasPrefix(line, start) {
			return args[len(strings.Fields(start)):], true
		}
	}
	return nil, false
}

// TestReadmeCommands runs the README's commands in its order, by one player, takes
// played by nobody. The page in the picture is the player's exercise.
func TestReadmeCommands(t *testing.T) {
	readme := document(t, "README.md")
	page := document(t, "testdata/readme/page.musicxml")
	s := newStage(t)
	sheets := fenced(readme, "toml")
	if len(sheets) != 1 {
		t.Fatalf("%d style sheets, want one", len(sheets))
	}
	for name, text := range map[string]string{"waltz.toml": sheets[0], "exercise.musicxml": page, "duet.musicxml": duet} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	commands := strings.Split(strings.TrimSpace(strings.Join(fenced(readme, "sh"), "")), "\n")
	if len(commands) < 10 || commands[0] != "go run ./cmd/onward read --rung 3 --style march" || commands[1] != "go test ./..." {
		t.Fatalf("the commands do not begin with the two that matter: %q", commands)
	}
	for _, line := range commands {
		if slices.Contains(notRun, line) {
			continue
		}
		args, ours := arguments(line)
		if !ours {
			t.Errorf("%s: it is neither run nor among those that need not be", line)
			continue
		}
		if code, out, err := s.run(args...); code != exitFine || out == "" {
			t.Errorf("%s: exit code %d\n%s%s", line, code, out, err)
		}
	}
}

// TestReadmeSeedAgain holds fast what the README says of pages printed beforehand.
func TestReadmeSeedAgain(t *testing.T) {
	s := newStage(t)
	fine(t, s, "write --rung 4 --seed 7")
	if out := fine(t, s, "read --rung 4 --seed 7 --look-over 0"); !strings.Contains(out, "a repeat of your read") {
		t.Errorf("no repeat:\n%s", out)
	}
	for _, suffix := range []string{pageSuffix, bandSuffix} {
		first, err := os.ReadFile("march-r4-7" + suffix)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := os.ReadFile("reads/march-r4-7" + suffix); err != nil || string(again) != string(first) {
			t.Errorf("%s: not the same file (%v)", suffix, err)
		}
	}
}

// TestReadmeSheetFault breaks the README's sheet as the README does.
func TestReadmeSheetFault(t *testing.T) {
	readme := document(t, "README.md")
	sheet := strings.Replace(fenced(readme, "toml")[0], "3/4", "3/5", 1)
	s := newStage(t)
	if err := os.WriteFile("waltz.toml", []byte(sheet), 0o666); err != nil {
		t.Fatal(err)
	}
	code, _, said := s.run("write", "--style", "./waltz.toml")
	told := regexp.MustCompile("(?s)with file and line:\\s`(.*?)\\.\\.\\.`").FindStringSubmatch(readme)
	if told == nil {
		t.Fatal("the README shows no fault of a sheet")
	}
	want := strings.Join(strings.Fields(told[1]), " ")
	if code != exitRequest || !strings.Contains(said, want) {
		t.Errorf("exit code %d, said %q, the README says %q", code, said, want)
	}
}

// TestReadmeFirstCommand plays the first command's take in real time.
func TestReadmeFirstCommand(t *testing.T) {
	if os.Getenv("ONWARD_LONG") == "" {
		t.Skip("a take of some 20 seconds: set ONWARD_LONG=1")
	}
	line := strings.SplitN(fenced(document(t, "README.md"), "sh")[0], "\n", 2)[0]
	args, _ := arguments(line)
	home := t.TempDir()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "onward", append(args, "--look-over", "0")...) // as the scripts find it
	cmd.Dir = home
	cmd.Env = append(os.Environ(), "HOME="+home, "XDG_DATA_HOME="+home, "LocalAppData="+home)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "\nThe end.") {
		t.Errorf("%s: %v\n%s", line, err, out)
	}
}

// TestReadmeRungs compares the README's tables with the ladder.
func TestReadmeRungs(t *testing.T) {
	readme := document(t, "README.md")
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	var rows []string
	for _, r := range l.Rungs {
		rows = append(rows, fmt.Sprintf("| %d | %s | %s |\n", r.Number, r.Name, r.Words))
	}
	for _, v := range l.Levels {
		rungs := fmt.Sprint(v.Rungs[0])
		if v.Rungs[1] > v.Rungs[0] {
			rungs += fmt.Sprintf(" to %d", v.Rungs[1])
		}
		rows = append(rows, fmt.Sprintf("| %s | %s | %s |\n", v.Document, v.Name, rungs))
	}
	for _, row := range rows {
		if !strings.Contains(readme, row) {
			t.Errorf("README.md lacks the row %s", row)
		}
	}
}

// TestDocumentsNameWhatIsThere looks for the links and the files that the documents name.
func TestDocumentsNameWhatIsThere(t *testing.T) {
	looked := 0
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		text := document(t, name)
		var paths []string
		for _, m := range regexp.MustCompile(`\]\(([^)#:]+)\)`).FindAllStringSubmatch(text, -1) {
			paths = append(paths, m[1])
		}
		for _, m := range regexp.MustCompile("`((?:cmd|compose|midi|rhythm|styles|testdata|theory)/[\\w./-]+)`").FindAllStringSubmatch(text, -1) {
			paths = append(paths, m[1])
		}
		for _, p := range paths {
			looked++
			if _, err := os.Stat(filepath.Join(top, p)); err != nil {
				t.Errorf("%s names %s: %v", name, p, err)
			}
		}
	}
	if looked < 20 {
		t.Errorf("only %d names were looked at", looked)
	}
}

// TestDevelopersNamesEveryPackage wants each package that holds code in DEVELOPERS.md.
func TestDevelopersNamesEveryPackage(t *testing.T) {
	text := document(t, "DEVELOPERS.md")
	files, err := fs.Glob(os.DirFS(top), "*/*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, pattern := range []string{"*/*/*.go", "*/*/*/*.go"} {
		more, err := fs.Glob(os.DirFS(top), pattern)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, more...)
	}
	packages := map[string]bool{}
	for _, f := range files {
		packages[filepath.ToSlash(filepath.Dir(f))] = true
	}
	if len(packages) < 10 {
		t.Fatalf("only %d packages were found", len(packages))
	}
	for p := range packages {
		if !strings.Contains(text, "`"+p+"`") {
			t.Errorf("DEVELOPERS.md does not name the package %s", p)
		}
	}
}
