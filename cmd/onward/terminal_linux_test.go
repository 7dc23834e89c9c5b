package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"text/tabwriter"
	"time"

	"onward/midi/live"

	"golang.org/x/sys/unix"
)

// A terminal is a pseudo-terminal with the test on its other side.
type terminal struct {
	master, slave *os.File
	stopped       atomic.Bool // nobody reads what is written to it
	mu            sync.Mutex
	seen          bytes.Buffer
}

// newTerminal opens a terminal of 80 columns and 24 lines, and reads what it is written.
func newTerminal(t testing.TB) *terminal {
	t.Helper()
	master, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("no pseudo-terminals here: %v", err)
	}
	t.Cleanup(func() { master.Close() })
	n := 0
	raw, err := master.SyscallConn() // Fd would take it from the poller
	if err != nil {
		t.Fatal(err)
	}
	raw.Control(func(fd uintptr) {
		if err = unix.IoctlSetPointerInt(int(fd), unix.TIOCSPTLCK, 0); err != nil {
			return
		}
		if n, err = unix.IoctlGetInt(int(fd), unix.TIOCGPTN); err != nil {
			return
		}
		err = unix.IoctlSetWinsize(int(fd), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: 80})
	})
	if err != nil {
		t.Fatal(err)
	}
	slave, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { slave.Close() })
	term := &terminal{master: master, slave: slave}
	go term.read()
	return term
}

func (t *terminal) read() {
	buf := make([]byte, 4096)
	for {
		if t.stopped.Load() {
			time.Sleep(10 * time.Millisecond)
			continue
		}
		n, err := t.master.Read(buf)
		if err != nil {
			return
		}
		t.mu.Lock()
		t.seen.Write(buf[:n])
		t.mu.Unlock()
	}
}

// on makes cmd's streams this terminal, as its controlling one.
func (t *terminal) on(cmd *exec.Cmd) {
	cmd.Stdin, cmd.Stdout, cmd.Stderr = t.slave, t.slave, t.slave
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LANG=C.UTF-8")
}

// until presses nothing and waits until the terminal has shown the text, half a minute at
// most.
func (t *terminal) until(b testing.TB, text string, within time.Duration) {
	b.Helper()
	for end := time.Now().Add(within); ; time.Sleep(20 * time.Millisecond) {
		t.mu.Lock()
		shown := bytes.Contains(t.seen.Bytes(), []byte(text))
		all := t.seen.String()
		t.mu.Unlock()
		if shown {
			return
		}
		if time.Now().After(end) {
			b.Fatalf("the terminal never showed %q; it showed\n%s", text, all[max(0, len(all)-3000):])
		}
	}
}

func (t *terminal) press(keys string) { io.WriteString(t.master, keys) }

// BenchmarkScreens plays the same march as `onward read` does, without a terminal, on one
// that the room is drawn on, and on one that nobody reads any more, and prints how late the
// events of each were. ONWARD_TAKE says how slowly, from 25% (about four minutes) to 100%.
func BenchmarkScreens(b *testing.B) {
	slower := os.Getenv("ONWARD_TAKE")
	if slower == "" {
		slower = "100%"
	}
	var table bytes.Buffer
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "screen\tevents\tp50\tp99\tp99.9\tmax\thad")
	for _, c := range []struct {
		name    string
		room    bool
		stopped bool
	}{{"none", false, false}, {"room", true, false}, {"room, its terminal stopped", true, true}} {
		b.Run(c.name, func(b *testing.B) {
			for range b.N {
				r := takeOnScreen(b, slower, c.room, c.stopped)
				fmt.Fprintf(w, "%s\t%d\t%v\t%v\t%v\t%v\t%s\n", c.name, r.Events, r.P50, r.P99, r.P999, r.Max, r.Clock)
				b.ReportMetric(float64(r.P999.Microseconds()), "p99.9-µs")
				b.ReportMetric(float64(r.Max.Microseconds()), "max-µs")
			}
			b.ReportMetric(0, "ns/op")
		})
	}
	w.Flush()
	fmt.Print(table.String())
}

// takeOnScreen runs one take of the whole program.
func takeOnScreen(b *testing.B, slower string, room, stopped bool) (r live.Report) {
	b.Helper()
	dir := b.TempDir()
	cmd := exec.Command("reporting", "read", "--style", "march", "--form", "march", "--rung", "7", "--seed", "24", "--slower", slower,
		"--look-over", "0", "--sound", "off", "--journal", filepath.Join(dir, "j.db"), "--out", dir)
	term := newTerminal(b)
	if room {
		term.on(cmd)
	} else {
		cmd.Env = os.Environ()
	}
	report := filepath.Join(dir, "report.json")
	cmd.Env = append(cmd.Env, reportTo+"="+report)
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	defer cmd.Process.Kill()
	if stopped {
		time.Sleep(3 * time.Second) // in the count-in
		term.stopped.Store(true)
	}
	for end := time.Now().Add(15 * time.Minute); ; time.Sleep(100 * time.Millisecond) {
		text, err := os.ReadFile(report)
		if err == nil && json.Unmarshal(text, &r) == nil {
			break
		}
		if time.Now().After(end) {
			b.Fatal("the take did not end")
		}
	}
	term.stopped.Store(false)
	if room {
		for range 5 {
			term.press("q")
			time.Sleep(100 * time.Millisecond)
		}
	}
	cmd.Wait()
	return r
}
