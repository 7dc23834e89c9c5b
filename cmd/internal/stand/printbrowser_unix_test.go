//go:build !windows

package stand

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// fakeBrowser writes a shell script that is taken for a browser. Its orders come as file 3,
// its answers go to file 4; "here" in it is a folder of the test's.
func fakeBrowser(t *testing.T, script string) (program, here string) {
	t.Helper()
	here = t.TempDir()
	program = filepath.Join(here, "browser")
	if err := os.WriteFile(program, []byte("#!/bin/sh\nhere='"+here+"'\n"+script+"\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	return program, here
}

// A browser that fails is told with its name and its last words, and leaves no profile.
func TestBrowserThatFails(t *testing.T) {
	for _, c := range []struct{ name, script, want string }{
		{"it ends", `echo first >&2; echo "no display" >&2; exit 3`, "the browser ended by itself: it says: no display"},
		{"it is no browser", `printf 'hello\0' >&4; sleep 60`, "an answer that is none"},
		{"it refuses", `printf '{"id":1,"error":{"message":"not today"}}\0' >&4; cat <&3 >/dev/null`, "Target.createTarget: not today"},
		{"it says half", `printf '{"id":1' >&4; exit 0`, "the browser ended by itself"},
	} {
		t.Run(c.name, func(t *testing.T) {
			program, _ := fakeBrowser(t, c.script)
			t.Setenv("TMPDIR", t.TempDir())
			err := openFake(t, t.Context(), program, time.Minute)
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), program) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
	program, _ := fakeBrowser(t, "")
	if _, err := startBrowser(program + "-not-there"); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("a program that is not there: %v", err)
	}
}

// A browser that says nothing is ended when the time is over or the player leaves, and so is
// all that it has started.
func TestBrowserThatHangs(t *testing.T) {
	for _, leaves := range []bool{false, true} {
		program, here := fakeBrowser(t, `sleep 300 & echo $! >"$here/child"; echo $$ >"$here/new"; mv "$here/new" "$here/self"; wait`)
		t.Setenv("TMPDIR", t.TempDir())
		ctx, stop := context.WithCancel(t.Context())
		limit := time.Minute
		if leaves {
			go func() {
				for !exists(filepath.Join(here, "self")) && ctx.Err() == nil {
					time.Sleep(time.Millisecond)
				}
				stop()
			}()
		} else {
			limit = 2 * time.Second
		}
		err := openFake(t, ctx, program, limit)
		stop()
		if leaves && !errors.Is(err, context.Canceled) || !leaves && (err == nil || !strings.Contains(err.Error(), "does not answer within 2s")) {
			t.Errorf("leaves %v: got %v", leaves, err)
		}
		for _, name := range []string{"self", "child"} {
			if text, err := os.ReadFile(filepath.Join(here, name)); err == nil {
				gone(t, strings.TrimSpace(string(text)))
			} else {
				t.Error(err)
			}
		}
	}
}

// What a browser leaves behind when it ends in order ends with it, and its profile goes.
func TestBrowserThatLeavesSomething(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	program, here := fakeBrowser(t, `sleep 300 2>/dev/null & echo $! >"$here/child"; cat <&3 >"$here/orders"`)
	b, err := startBrowser(program)
	if err != nil {
		t.Fatal(err)
	}
	for range 1000 {
		if exists(filepath.Join(here, "child")) {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	b.close()
	text, err := os.ReadFile(filepath.Join(here, "child"))
	if err != nil {
		t.Fatal(err)
	}
	gone(t, strings.TrimSpace(string(text)))
	if orders, err := os.ReadFile(filepath.Join(here, "orders")); err != nil || !strings.Contains(string(orders), `"method":"Browser.close"`) {
		t.Errorf("it is told %q, %v", orders, err)
	}
	if exists(b.profile) {
		t.Errorf("%s stays", b.profile)
	}
}

// answers are what a browser says while a page is opened and engraved, in the order of the
// calls; what it is told goes into the file orders.
const answers = `say() { printf '%s\0' "$1" >&4; }
say '{"id":1,"result":{"targetId":"t7"}}'
say '{"method":"Page.loadEventFired"}'
say '{"id":2,"result":{"sessionId":"s9"}}'
say '{"id":3,"sessionId":"s9","result":{}}'
say '{"id":99,"result":{}}'
say '{"id":4,"sessionId":"s9","result":{}}'
say '{"method":"Page.loadEventFired","sessionId":"s9"}'
say '{"id":5,"sessionId":"s9","result":{"result":{"value":true}}}'
`

// A page is printed through the calls that the protocol has for it: on the paper, without
// margins of the browser's own, and as a PDF only where that is asked for.
func TestPrinting(t *testing.T) {
	const engraved = `say '{"id":6,"sessionId":"s9","result":{"result":{"value":{"sheets":["<svg>1</svg>","<svg>2</svg>"],"staff":6.5,"systems":[7,4]}}}}'
`
	for _, c := range []struct {
		name, script string
		pdf          bool
		want         string // part of the error, "" for none
		orders       []string
		not          string
	}{
		{"drawings", engraved, false, "", []string{`"url":"http://127.0.0.1:`, `"targetId":"t7"`, `"flatten":true`, `"expression":"paper.ready"`, `"awaitPromise":true`, `"returnByValue":true`,
			`paper.engrave(...[\"\\u003cscore/\\u003e\",{\"height\":297,\"name\":\"march\",\"width\":210}])`}, "printToPDF"},
		{"a PDF", engraved + `say '{"id":7,"sessionId":"s9","result":{"data":"JVBERg=="}}'
`, true, "", []string{`"marginBottom":0,"marginLeft":0,"marginRight":0,"marginTop":0,"paperHeight":11.69`, `"paperWidth":8.267`}, "nothing"},
		{"a page that fails", `say '{"id":6,"sessionId":"s9","result":{"exceptionDetails":{"text":"Uncaught","exception":{"description":"Error: no staff\n at x.js"}}}}'
`, false, "Uncaught Error: no staff", nil, "printToPDF"},
		{"a PDF that fails", engraved + `say '{"id":7,"sessionId":"s9","error":{"message":"no printer"}}'
`, true, "Page.printToPDF: no printer", nil, "nothing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			program, here := fakeBrowser(t, answers+c.script+`cat <&3 >"$here/orders"`)
			p := &Printer{program: program, paper: A4}
			address, err := p.serve()
			if err != nil {
				t.Fatal(err)
			}
			if p.browser, err = startBrowser(program); err != nil {
				t.Fatal(err)
			}
			defer p.Close()
			if err := p.within(t.Context(), time.Minute, func() error { return p.open(address) }); err != nil {
				t.Fatal(err)
			}
			made, err := p.Print(t.Context(), []byte("<score/>"), "march", c.pdf)
			if c.want != "" {
				if made != nil || err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "x.js") {
					t.Errorf("got %v, %v, want %q", made, err, c.want)
				}
				return
			}
			if err != nil || len(made.Sheets) != 2 || made.Sheets[1] != "<svg>2</svg>" || made.Staff != 6.5 || len(made.Systems) != 2 || (string(made.PDF) == "%PDF") != c.pdf {
				t.Fatalf("got %+v, %v", made, err)
			}
			p.Close()
			text, err := os.ReadFile(filepath.Join(here, "orders"))
			if err != nil {
				t.Fatal(err)
			}
			for _, want := range c.orders {
				if !strings.Contains(string(text), want) {
					t.Errorf("it is not told %s:\n%q", want, text)
				}
			}
			if strings.Contains(string(text), c.not) || !strings.Contains(string(text), "Browser.close") {
				t.Errorf("it is told\n%q", text)
			}
		})
	}
}

// A printer is there once its page is; what fails before leaves nothing behind.
func TestNewPrinter(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	program, _ := fakeBrowser(t, answers+`cat <&3 >/dev/null`)
	p, err := NewPrinter(t.Context(), program, Letter)
	if !HasEngraver() {
		if p != nil || !errors.Is(err, ErrNoEngraver) {
			t.Errorf("without an engraver: %v, %v", p, err)
		}
		return
	}
	if err != nil || p.paper != Letter || p.program != program {
		t.Fatalf("got %+v, %v", p, err)
	}
	p.Close()
	dumb, _ := fakeBrowser(t, `exit 1`)
	for _, program := range []string{dumb, program + "-not-there"} {
		if p, err := NewPrinter(t.Context(), program, A4); p != nil || err == nil || !strings.Contains(err.Error(), program) {
			t.Errorf("%s: %v, %v", program, p, err)
		}
	}
	if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
		t.Errorf("%v stays", left)
	}
}

// The browser of an ordinary user keeps its sandbox. Where root runs the tests, an ordinary
// user runs this one again.
func TestSandboxOfOrdinaryUsers(t *testing.T) {
	program, here := fakeBrowser(t, `echo "$@" >"$here/flags"`)
	b, err := startBrowser(program)
	if err != nil {
		t.Fatal(err)
	}
	<-b.ended
	b.close()
	flags, err := os.ReadFile(filepath.Join(here, "flags"))
	root := os.Geteuid() == 0
	if err != nil || strings.Contains(string(flags), "--no-sandbox") != root || !strings.Contains(string(flags), "--headless") ||
		!strings.HasSuffix(string(flags), " --remote-debugging-pipe about:blank\n") {
		t.Errorf("user %d: %q, %v", os.Geteuid(), flags, err)
	}
	if !root {
		return
	}
	folder := t.TempDir()
	for _, f := range []string{folder, filepath.Dir(folder)} {
		if err := os.Chmod(f, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	child := exec.Command(filepath.Join(folder, "child"), "-test.run=^TestSandboxOfOrdinaryUsers$", "-test.v")
	if err := os.WriteFile(child.Path, text, 0o755); err != nil { // its own folder is root's alone
		t.Fatal(err)
	}
	const nobody = 65534
	child.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	child.Dir, child.Env = folder, append(os.Environ(), "TMPDIR="+folder, "HOME="+folder)
	out, err := child.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "--- PASS: TestSandboxOfOrdinaryUsers") {
		t.Errorf("as an ordinary user: %v\n%s", err, out)
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// gone wants a process to be no more, or no more than its entry.
func gone(t *testing.T, id string) {
	t.Helper()
	n, err := strconv.Atoi(id)
	if err != nil {
		t.Fatal(err)
	}
	for range 200 {
		stat, _ := os.ReadFile("/proc/" + id + "/stat")
		if syscall.Kill(n, 0) != nil || strings.Contains(string(stat), ") Z ") {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("process %d is still there", n)
}

// openFake opens the page in a browser as NewPrinter does, and closes it; nothing of it may
// stay in the folder for temporary files.
func openFake(t *testing.T, ctx context.Context, program string, limit time.Duration) error {
	t.Helper()
	p := &Printer{program: program}
	address, err := p.serve()
	if err != nil {
		t.Fatal(err)
	}
	if p.browser, err = startBrowser(program); err != nil {
		t.Fatal(err)
	}
	err = p.within(ctx, limit, func() error { return p.open(address) })
	p.Close()
	p.Close() // does no harm
	if left, _ := os.ReadDir(os.TempDir()); len(left) > 0 {
		t.Errorf("%v stays", left)
	}
	return err
}
