package stand

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// absent skips the test, or fails it where ONWARD_OUTSIDE=1 asks for the programs.
func absent(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("ONWARD_OUTSIDE") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// lookedFor reports the path of a program; it is absent otherwise.
func lookedFor(t *testing.T, program, how string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		absent(t, program+" is not installed"+how)
	}
	return path
}

// TestWhatDecidesOnThePage runs the tests of the page's pure modules.
func TestWhatDecidesOnThePage(t *testing.T) {
	node := lookedFor(t, "node", "")
	out, err := exec.Command(node, "--test", "webtest").CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if !bytes.Contains(out, []byte("pass ")) {
		t.Errorf("no test ran:\n%s", out)
	}
}

// TestFetchRefusesWhatIsNotPinned gives the fetcher tarballs that are not the engraver.
func TestFetchRefusesWhatIsNotPinned(t *testing.T) {
	room := t.TempDir()
	tarball := filepath.Join(room, "verovio-6.3.0.tgz")
	if err := os.WriteFile(tarball, []byte("something else"), 0o644); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(room, "engraver")
	if err := os.Mkdir(to, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, from := range []string{tarball, filepath.Join(room, "nothing")} {
		out, err := exec.Command("go", "run", "fetch.go", "-from", from, "-to", to).CombinedOutput()
		if err == nil {
			t.Errorf("%s is taken: %s", from, out)
		}
		if from == tarball && !strings.Contains(string(out), "not verovio@6.3.0 as it is pinned") {
			t.Errorf("said: %s", out)
		}
		if left, err := os.ReadDir(to); err != nil || len(left) != 0 {
			t.Errorf("%v lies there, %v", left, err)
		}
	}
}

// TestTheEngraverIsWhole unpacks what the build carries.
func TestTheEngraverIsWhole(t *testing.T) {
	if !HasEngraver() {
		absent(t, "this build has no engraver: go generate ./cmd/internal/stand")
	}
	files, err := filesOf(carried)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := unpacked(files["engraver/verovio-module.mjs"].packed)
	if err != nil || !bytes.HasSuffix(bytes.TrimSpace(plain), []byte("export default createVerovioModule;")) {
		t.Errorf("%d bytes, %v", len(plain), err)
	}
	if says := files["engraver/package.json"].plain; !bytes.Contains(says, []byte("LGPL-3.0-or-later")) {
		t.Errorf("package.json: %s", says)
	}
}
