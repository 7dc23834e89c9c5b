package stand

import (
	"bytes"
	"fmt"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"
	"time"
)

// chromium is where Debian has the browser.
const chromium = "/usr/bin/chromium"

// browse runs one of webtest's scripts in a browser. ONWARD_PICTURES=FOLDER has it make
// pictures of what it sees.
func browse(t *testing.T, name string, args ...string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") != "1" {
		t.Skip("a browser takes its time: ONWARD_OUTSIDE=1 runs this")
	}
	node := lookedFor(t, "node", "")
	lookedFor(t, chromium, " (Debian: chromium)")
	modules, err := filepath.Abs("../../../testdata/outside/node_modules")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(modules, "playwright-core")); err != nil {
		absent(t, "playwright-core is not installed: npm ci --prefix testdata/outside")
	}
	if !HasEngraver() {
		absent(t, "this build has no engraver: go generate ./cmd/internal/stand")
	}
	run := exec.Command(node, append([]string{filepath.Join("webtest", name)}, args...)...)
	run.Env = append(os.Environ(), "ONWARD_NODE_MODULES="+modules, "CHROMIUM="+chromium)
	out, err := run.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	t.Logf("%s", out)
}

// TestTheWholeFlowInABrowser goes through a practice at every size.
func TestTheWholeFlowInABrowser(t *testing.T) {
	s, _ := (&rehearsal{file: "strain-euphonium", lookOver: 10 * time.Minute, lingers: 10 * time.Minute}).open(t)
	browse(t, "flow.mjs", s.Address())
}

// TestASharedStandInABrowser has one that other machines reach.
func TestASharedStandInABrowser(t *testing.T) {
	r := &rehearsal{file: "strain-euphonium", lookOver: 10 * time.Minute, lingers: 10 * time.Minute, ready: func(s *Stand) { s.shared = true }}
	s, _ := r.open(t)
	browse(t, "shared.mjs", s.Address())
}

// TestWithoutEngraverInABrowser has a build that carries none: all else works.
func TestWithoutEngraverInABrowser(t *testing.T) {
	r := &rehearsal{file: "strain-euphonium", lookOver: 10 * time.Minute, ready: func(s *Stand) { s.engraver = false }}
	s, _ := r.open(t)
	browse(t, "bare.mjs", s.Address())
}

// TestAHostileScoreInABrowser shows a page whose every word is markup.
func TestAHostileScoreInABrowser(t *testing.T) {
	const evil = `"><img src=x onerror="window.harmed=true"><script>window.harmed=true</script>`
	words := regexp.MustCompile(`(<words[^>]*>)[^<]*`)
	r := &rehearsal{file: "strain-euphonium", lookOver: 10 * time.Minute, title: evil, twist: func(text []byte) []byte {
		return words.ReplaceAll(text, []byte("${1}"+html.EscapeString(evil)))
	}}
	if text, err := r.music(""); err != nil || !bytes.Contains(text, []byte("&lt;script")) {
		t.Fatalf("the score is harmless, %v", err)
	}
	s, _ := r.open(t)
	browse(t, "hostile.mjs", s.Address())
}

// TestInStepInABrowser follows a whole take, which is disturbed in every way.
func TestInStepInABrowser(t *testing.T) {
	zero := time.Now()
	r := &rehearsal{file: "strain-euphonium", lookOver: 10 * time.Minute, clock: func() time.Duration { return time.Since(zero) }}
	if os.Getenv("ONWARD_LONG") == "1" {
		r.file = "march" // a whole one
	}
	s, _ := r.open(t)
	browse(t, "sync.mjs", s.Address(), fmt.Sprintf("%.3f", float64(zero.UnixMicro())/1000))
}
