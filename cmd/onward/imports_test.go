package main_test

import (
	"bufio"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// module is the path that the packages of this tree are imported by.
const module = "onward"

// A row is one step of the import order: its packages import only from the rows before it,
// and not each other.
type row struct {
	reason   string
	packages map[string][]string // each with the third-party modules that it may use
	impure   bool                // may use the clock, the environment, files
}

// order is the whole tree's import order, the lowest row first.
var order = []row{
	{reason: "the alphabet: pitch, time and sampling know nothing of each other, so rhythm never asks for a pitch",
		packages: map[string][]string{"theory": nil, "rhythm": nil, "compose/lattice": nil}},
	{reason: "written music is made of pitches and times, and of nothing that makes or plays it; what was learned of tunes needs neither",
		packages: map[string][]string{"compose/score": nil, "compose/idiom": nil}},
	{reason: "what a score is read from, written to, heard in, or turned into, each without the others",
		packages: map[string][]string{"compose/figure": {toml}, "compose/musicxml": nil, "compose/tune": nil, "midi/timeline": nil}},
	{reason: "the ladder, the warm-up and the sheets speak of figures, the critic of whole tunes; the file writer and the player share one timeline, but not each other",
		packages: map[string][]string{"compose/critic": nil, "compose/ladder": {toml}, "compose/warmup": nil, "styles": {toml}, "midi/file": {gomidi}, "midi/live": {system}}},
	{reason: "the composer, what it learns its idioms by, the survey of real parts and the ladder's model of the player ask all of these and play nothing; a take is written down from its timeline alone",
		packages: map[string][]string{"compose": nil, "compose/fit": {"gonum.org/v1/gonum"}, "compose/progress": nil, "compose/survey": nil, "midi/transcribe": nil}},
	{reason: "the band follows a read that is already composed",
		packages: map[string][]string{"midi/band": nil}},
	{reason: "the doors to the world: ports, loudspeaker, disk and page; no music is decided here",
		packages: map[string][]string{
			"midi/port":                 {gomidi, system},
			"midi/synth":                {"github.com/sinshu/go-meltysynth", "github.com/gen2brain/malgo", system},
			"cmd/internal/journal":      {"modernc.org/sqlite"},
			"cmd/internal/session":      nil,
			"cmd/internal/userfile":     nil,
			"cmd/internal/room/unasked": nil, // ahead of Bubble Tea, so it imports nothing
		}, impure: true},
	{reason: "screens show where the practice is, and hold no music",
		packages: map[string][]string{
			"cmd/internal/room":   {"github.com/charmbracelet"},
			"cmd/internal/stand":  {"rsc.io/qr"},
			"cmd/internal/report": {"gonum.org/v1/plot"},
		}, impure: true},
	{reason: "the verbs tie everything together, so nothing may hang on them; so does the command that learns the idioms",
		packages: map[string][]string{"cmd/onward": {"github.com/spf13/cobra", "github.com/spf13/pflag", "golang.org/x/term", system}, "cmd/fit": nil}, impure: true},
}

const (
	toml   = "github.com/pelletier/go-toml/v2"
	gomidi = "gitlab.com/gomidi/midi/v2"
	system = "golang.org/x/sys"
)

// forTests are the third-party modules that any test may use.
var forTests = []string{"pgregory.net/rapid", "github.com/rogpeppe/go-internal"}

// clockwork is impure though it stands in a pure row: it keeps real time.
const clockwork = "midi/live"

// A source is one Go file of the tree.
type source struct {
	name   string // from the top, with slashes
	pkg    string // its folder
	test   bool
	syntax *ast.File
}

// sources reads every Go file below the top, whatever its build constraints, external test
// packages left out: these stand above everything.
func sources(t *testing.T, tree fs.FS) []source {
	t.Helper()
	var all []source
	files := token.NewFileSet()
	err := fs.WalkDir(tree, ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && name != "." && (strings.HasPrefix(e.Name(), ".") || e.Name() == "testdata" || e.Name() == "node_modules"):
			return fs.SkipDir
		case e.IsDir() || path.Ext(name) != ".go":
			return nil
		}
		text, err := fs.ReadFile(tree, name)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(files, name, text, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		if !strings.HasSuffix(f.Name.Name, "_test") {
			all = append(all, source{name, path.Dir(name), strings.HasSuffix(name, "_test.go"), f})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// rowOf reports the index of a package's row, and its third-party modules.
func rowOf(pkg string) (at int, modules []string, found bool) {
	for i, r := range order {
		if m, ok := r.packages[pkg]; ok {
			return i, m, true
		}
	}
	return 0, nil, false
}

// fault says what is wrong with the import of imported by f; "" if nothing is.
func fault(f source, imported string) string {
	from, modules, found := rowOf(f.pkg)
	if !found {
		return fmt.Sprintf("package %s stands in no row of the import order: give it one", f.pkg)
	}
	pkg, inside := strings.CutPrefix(imported, module+"/")
	if !inside {
		if f.test {
			modules = append(slices.Clone(modules), forTests...)
		}
		return stranger(imported, modules)
	}
	to, _, found := rowOf(pkg)
	switch {
	case !found:
		return fmt.Sprintf("imports %s, which stands in no row of the import order", pkg)
	case pkg == f.pkg, to < from:
		return ""
	case to == from:
		return fmt.Sprintf("imports %s of its own row %d (%s)", pkg, from+1, order[from].reason)
	}
	return fmt.Sprintf("row %d imports %s of row %d (row %d: %s)", from+1, pkg, to+1, from+1, order[from].reason)
}

// stranger says what is wrong with a package that is neither ours nor one of modules; ""
// if it is Go's own.
func stranger(imported string, modules []string) string {
	first, _, _ := strings.Cut(imported, "/")
	ours := func(m string) bool { return imported == m || strings.HasPrefix(imported, m+"/") }
	if !strings.Contains(first, ".") || slices.ContainsFunc(modules, ours) {
		return ""
	}
	return fmt.Sprintf("imports %s, which its row does not allow it", imported)
}

func TestImportOrder(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range sources(t, os.DirFS("../..")) {
		seen[f.pkg] = true
		if _, _, found := rowOf(f.pkg); !found {
			t.Errorf("%s: package %s stands in no row of the import order: give it one", f.name, f.pkg)
			continue
		}
		for _, i := range f.syntax.Imports {
			imported, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if wrong := fault(f, imported); wrong != "" {
				t.Errorf("%s: %s", f.name, wrong)
			}
		}
	}
	if len(seen) < 5 {
		t.Errorf("only %d packages were looked at: %v", len(seen), seen)
	}
}

func TestImportOrderFindsWhatItShould(t *testing.T) {
	for _, c := range []struct {
		pkg, imported string
		test          bool
		want          string // part of what is said; empty: nothing
	}{
		{"compose", "onward/theory", false, ""},
		{"compose", "onward/compose/score", false, ""},
		{"compose", "math/rand/v2", false, ""},
		{"theory", "onward/compose", false, "row 1 imports compose of row 5"},
		{"rhythm", "onward/theory", false, "imports theory of its own row 1"},
		{"rhythm", "onward/theory", true, "imports theory of its own row 1"},
		{"compose/figure", toml, false, ""},
		{"compose", toml, false, "does not allow"},
		{"theory", "pgregory.net/rapid", true, ""},
		{"theory", "pgregory.net/rapid", false, "does not allow"},
		{"midi/file", gomidi + "/smf", false, ""},
		{"midi/file", gomidi + "x/smf", false, "does not allow"},
		{"compose/secret", "fmt", false, "stands in no row"},
		{"cmd/onward", "onward/compose/secret", false, "stands in no row"},
	} {
		got := fault(source{pkg: c.pkg, test: c.test}, c.imported)
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s imports %s (test %v): got %q, want %q", c.pkg, c.imported, c.test, got, c.want)
		}
	}
}

// impurities lists, with their lines, what in f reads a clock, an environment, a disk or a
// random source that no one seeded.
func impurities(f source) []string {
	worldly := []string{"os", "os/exec", "os/signal", "net", "net/http", "log", "math/rand", "crypto/rand", "syscall"}
	var found []string
	names := map[string]string{} // of packages in f, by the name they go by
	for _, i := range f.syntax.Imports {
		imported := strings.Trim(i.Path.Value, `"`)
		if slices.Contains(worldly, imported) {
			found = append(found, "imports "+imported)
		}
		name := strings.TrimSuffix(imported, "/v2")
		name = path.Base(name)
		if i.Name != nil {
			name = i.Name.Name
		}
		names[name] = imported
	}
	ast.Inspect(f.syntax, func(n ast.Node) bool {
		call, isCall := n.(*ast.SelectorExpr)
		if !isCall {
			return true
		}
		if pkg, isName := call.X.(*ast.Ident); isName && worldlyName(names[pkg.Name], call.Sel.Name) {
			found = append(found, "uses "+pkg.Name+"."+call.Sel.Name)
		}
		return true
	})
	return found
}

// worldlyName says whether a name of package time reads the clock, or one of math/rand/v2
// draws from the global source.
func worldlyName(pkg, name string) bool {
	switch pkg {
	case "time":
		return slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker", "Local"}, name)
	case "math/rand/v2":
		kinds := []string{"Rand", "Source", "PCG", "ChaCha8", "Zipf"}
		return !strings.HasPrefix(name, "New") && !slices.Contains(kinds, name)
	}
	return false
}

func TestPurePackagesAskNothingOfTheWorld(t *testing.T) {
	looked := 0
	for _, f := range sources(t, os.DirFS("../..")) {
		at, _, found := rowOf(f.pkg)
		if !found || order[at].impure || f.pkg == clockwork || f.test {
			continue
		}
		looked++
		for _, i := range impurities(f) {
			t.Errorf("%s: %s; package %s is pure: let its caller bring this in", f.name, i, f.pkg)
		}
	}
	if looked < 10 {
		t.Errorf("only %d files were looked at", looked)
	}
}

func TestImpuritiesAreFound(t *testing.T) {
	for body, want := range map[string]int{
		`import "time"; var d = time.Second`:                        0,
		`import "time"; var d = time.Now()`:                         1,
		`import clock "time"; var f = clock.Since`:                  1,
		`import "math/rand/v2"; var r = rand.New(rand.NewPCG(1,2))`: 0,
		`import "math/rand/v2"; var n = rand.IntN(3)`:               1,
		`import "os"; var e = os.Getenv("HOME")`:                    1,
	} {
		syntax, err := parser.ParseFile(token.NewFileSet(), "x.go", "package x; "+body, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := impurities(source{syntax: syntax}); len(got) != want {
			t.Errorf("%s: found %q, want %d", body, got, want)
		}
	}
}

func TestTopLevelHoldsOnlyWhatItShould(t *testing.T) {
	allowed := []string{"cmd", "compose", "midi", "rhythm", "theory", "styles", "testdata",
		"README.md", "DEVELOPERS.md", "LICENSE", "go.mod", "go.sum"}
	allowed = append(allowed, products(t)...)
	entries, err := os.ReadDir("../..")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(allowed, e.Name()) {
			t.Errorf("%s stands at the top of the tree: it belongs in one of %s", e.Name(), strings.Join(allowed[:7], ", "))
		}
	}
}

// products lists what .gitignore names at the top of the tree: what the program makes there.
func products(t *testing.T) []string {
	t.Helper()
	f, err := os.Open(filepath.FromSlash("../../.gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var names []string
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		if name, top := strings.CutPrefix(lines.Text(), "/"); top {
			names = append(names, strings.TrimSuffix(name, "/"))
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return names
}
