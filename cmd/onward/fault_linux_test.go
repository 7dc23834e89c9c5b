package main

import (
	"database/sql"
	"errors"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"onward/cmd/internal/journal"
)

// The faults below befall the real program. After each the band is in the right measure
// by what came out of the port, no note hangs, and the program says in words what
// happened.

// They befall as many takes at once, whatever the number of cores: a take mostly waits.
func TestFaults(t *testing.T) {
	t.Parallel()
	var all sync.WaitGroup
	for name, befall := range map[string]func(*testing.T){
		"nothing befalls the take":    nothingBefallsTheTake,
		"screen killed":               screenKilled,
		"screen stopped":              screenStopped,
		"take stopped":                takeStopped,
		"screen ended by Ctrl-\\":     screenQuit,
		"two Ctrl-C at once":          twoInterrupts,
		"journal locked":              journalLocked,
		"journal removed":             journalRemoved,
		"take killed":                 takeKilled,
		"screen and take killed":      screenAndTakeKilled,
		"terminal gone":               terminalGone,
		"stand gone":                  standGone,
		"output disk full":            outputDiskFull,
		"journal disk full":           journalDiskFull,
		"clocks apart":                clocksApart,
		"port gone and back":          portGoneAndBack,
		"port full":                   portFull,
		"port gone for good":          portGoneForGood,
		"left while the port is full": leftWhileThePortIsFull,
	} {
		all.Go(func() { t.Run(name, befall) })
	}
	all.Wait()
}

// midway is how many note-ons are heard before a fault: the count-in is past.
const midway = 25

func nothingBefallsTheTake(t *testing.T) {
	r := rehearse(t).start().ended(exitFine).silent()
	r.right(0)
	r.says("tonic chord", "measure 1 of 8", "measure 8 of 8", "The end.")
}

func screenKilled(t *testing.T) {
	r := rehearse(t).start().until(midway)
	r.cmd.Process.Kill()
	r.ended(-1).silent().right(0)
	r.takenUp(journal.KeptGoing)
}

// The terminal's Ctrl-\ ends the screen with all its goroutines told.
func screenQuit(t *testing.T) {
	r := rehearse(t)
	r.cmd.Args = append(r.cmd.Args, "--plain")
	far := r.terminal()
	r.start().until(midway)
	if _, err := far.Write([]byte{0x1c}); err != nil {
		t.Fatal(err)
	}
	r.ended(2).silent().right(0)
	r.takenUp(journal.KeptGoing)
}

// The second Ctrl-C ends the screen while the first is being obeyed.
func twoInterrupts(t *testing.T) {
	r := rehearse(t).start().until(midway)
	r.cmd.Process.Signal(os.Interrupt)
	time.Sleep(10 * time.Millisecond)
	r.cmd.Process.Signal(os.Interrupt)
	r.cmd.Wait()
	r.silent().has(journal.Left)
}

// Another program holds the journal for longer than this one waits for it.
func journalLocked(t *testing.T) {
	r := rehearse(t).start().until(midway)
	db, err := sql.Open("sqlite", filepath.Join(r.dir, "j.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	holder, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := holder.ExecContext(t.Context(), "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	r.ended(exitRequest).silent().right(0)
	r.says("The end.", "another program has held it for 5s", "the take is not lost: it is in", "j.db.take-")
	if _, err := holder.ExecContext(t.Context(), "ROLLBACK"); err != nil {
		t.Fatal(err)
	}
	r.takenUp(journal.KeptGoing)
}

// The journal's file is removed: another one is begun, with the read and its take.
func journalRemoved(t *testing.T) {
	r := rehearse(t).start().until(midway)
	if err := os.Remove(filepath.Join(r.dir, "j.db")); err != nil {
		t.Fatal(err)
	}
	r.ended(exitFine).silent().right(0)
	r.says("onward: the journal's file was removed or replaced", "j.db now has this read and its take", "The end.")
	r.has(journal.KeptGoing)
}

// A screen that is stopped and goes on tells the end; the band has not waited.
func screenStopped(t *testing.T) {
	r := rehearse(t).start().until(midway)
	r.cmd.Process.Signal(syscall.SIGSTOP)
	time.Sleep(2 * time.Second)
	r.cmd.Process.Signal(syscall.SIGCONT)
	r.ended(exitFine).silent().right(0)
	r.says("measure 8 of 8", "The end.")
}

func takeStopped(t *testing.T) {
	r := rehearse(t).start().until(midway)
	take := r.takePID()
	syscall.Kill(take, syscall.SIGSTOP)
	time.Sleep(3 * time.Second)
	on := r.ears.now()
	syscall.Kill(take, syscall.SIGCONT)
	r.ended(exitFine).silent().right(on)
	r.says("The end.", "this machine held the band up for 3.", "it went on where it would have been")
}

// The band's own process is killed: what it left sounding is silenced at once.
func takeKilled(t *testing.T) {
	r := rehearse(t).start().until(midway)
	syscall.Kill(r.takePID(), syscall.SIGKILL)
	r.hushedAt(r.ears.now())
	r.ended(exitFault).silent()
	r.says("onward: take: the player ended without a report (signal: killed)")
}

// Both are killed, and nobody is left but the process that watches the take.
func screenAndTakeKilled(t *testing.T) {
	r := rehearse(t).start().until(midway)
	take := r.takePID()
	r.cmd.Process.Kill()
	r.cmd.Wait()
	syscall.Kill(take, syscall.SIGKILL)
	r.hushedAt(r.ears.now())
	r.silent()
}

func terminalGone(t *testing.T) {
	r := rehearse(t)
	far := r.terminal()
	r.start().until(midway)
	far.Close()
	r.cmd.Wait() // it outlives its terminal by the take, which it keeps
	r.silent().right(0)
	r.has(journal.KeptGoing)
}

// A stand's page that is closed in the middle of the take, and one that takes nothing more.
func standGone(t *testing.T) {
	r := rehearse(t)
	r.cmd.Args = slices.Replace(r.cmd.Args, 1, 2, "stand", "--page-quits")
	told, err := os.Create(filepath.Join(r.dir, "told"))
	if err != nil {
		t.Fatal(err)
	}
	defer told.Close()
	r.cmd.Stdout = told
	r.start()
	address := ""
	for wait := 0; address == ""; wait++ {
		if wait > 3000 {
			t.Fatal("the stand tells no address")
		}
		time.Sleep(10 * time.Millisecond)
		text, _ := os.ReadFile(told.Name())
		address = regexp.MustCompile(`http://127\.0\.0\.1:\d+/[\w-]+/`).FindString(string(text))
	}
	follow := func() *http.Response {
		answer, err := http.Get(address + "follow")
		if err != nil {
			t.Fatal(err)
		}
		io.ReadFull(answer.Body, make([]byte, 100))
		return answer
	}
	closed, stuck := follow(), follow()
	defer stuck.Body.Close() // it stays open, and nobody reads it
	r.until(midway)
	closed.Body.Close()
	http.DefaultClient.CloseIdleConnections()
	for wait := 0; wait < 6000 && !r.ears.over(); wait++ {
		time.Sleep(10 * time.Millisecond)
	}
	quit, err := http.NewRequest(http.MethodPost, address+"do", strings.NewReader(`{"do":"quit"}`))
	if err != nil {
		t.Fatal(err)
	}
	quit.Header.Set("Content-Type", "application/json")
	quit.Header.Set("Origin", address[:strings.LastIndex(address[:len(address)-1], "/")])
	switch answer, err := http.DefaultClient.Do(quit); {
	case errors.Is(err, io.EOF): // the program may be gone before it answers
	case err != nil:
		t.Fatal(err)
	default:
		if answer.Body.Close(); answer.StatusCode != http.StatusNoContent {
			t.Fatalf("quit: %s", answer.Status)
		}
	}
	r.ended(exitFine).silent().right(0)
}

func outputDiskFull(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	r := rehearse(t)
	r.cmd.Stdout, r.cmd.Stderr = full, full
	r.start().ended(exitFine).silent().right(0)
}

// The disk with the journal is full when the take is to be kept: the band is not
// touched, and that the take is not in the journal is said.
func journalDiskFull(t *testing.T) {
	const mounted = `mount -t tmpfs -o size=2m tmpfs disk || exit 77
(until [ -e full ]; do sleep 0.05; done; cat /dev/zero > disk/zero 2>/dev/null; touch filled) & exec "$@" --journal disk/j.db`
	if out, err := exec.Command("unshare", "--mount", "true").CombinedOutput(); err != nil {
		t.Skipf("no mount of our own: %v: %s", err, out)
	}
	r := rehearse(t, "unshare", "--mount", "sh", "-c", mounted, "sh")
	if err := os.Mkdir(filepath.Join(r.dir, "disk"), 0o700); err != nil {
		t.Fatal(err)
	}
	r.start().until(midway)
	if err := os.WriteFile(filepath.Join(r.dir, "full"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	r.ended(exitRequest).silent().right(0) // the player can make room
	if _, err := os.Stat(filepath.Join(r.dir, "filled")); err != nil {
		t.Fatal("the disk was not filled in time")
	}
	r.says("The end.", "onward: journal ", "the disk is full (import the take that ended")
}

// In a time namespace the two clocks of the kernel that go on are far apart, so a take
// that mixed them would play at once or never.
func clocksApart(t *testing.T) {
	namespace := []string{"unshare", "--time", "--monotonic", "86400", "--boottime", "10000000"}
	if out, err := exec.Command(namespace[0], append(namespace[1:], "true")...).CombinedOutput(); err != nil {
		t.Skipf("no time namespace: %v: %s", err, out)
	}
	r := rehearse(t, namespace...).start().ended(exitFine).silent()
	r.right(0)
}

// The port's reader goes away and another comes: the same name, another handle.
func portGoneAndBack(t *testing.T) {
	r := rehearse(t).start().until(midway)
	r.ears.shut()
	time.Sleep(1500 * time.Millisecond)
	r.ears.open(t, r.pipe)
	on := r.ears.now()
	r.ended(exitFine).silent().right(on + near)
	r.says("The end.", "the MIDI port was gone for", "measure", "the band counted on")
}

// A port that takes nothing for two seconds.
func portFull(t *testing.T) {
	r := rehearse(t).start().until(midway)
	hear := r.ears.deafen()
	r.fill()
	time.Sleep(2 * time.Second)
	hear()
	on := r.ears.now()
	r.ended(exitFine).silent().right(on + near)
	r.says("The end.", "the MIDI port took some messages late or not at all")
}

// The port is gone for good: the take ends in time, and says what to do.
func portGoneForGood(t *testing.T) {
	r := rehearse(t).start().until(midway)
	r.ears.shut()
	r.ended(exitFault)
	r.says("measure 8 of 8", "onward: take: ", "if notes hang, switch the instrument off and on")
	r.has(journal.Failed)
}

// A player who leaves twice, with the port refusing: nothing hangs.
func leftWhileThePortIsFull(t *testing.T) {
	r := rehearse(t).start().until(midway)
	hear := r.ears.deafen()
	r.fill()
	r.cmd.Process.Signal(os.Interrupt)
	time.Sleep(200 * time.Millisecond)
	hear()
	r.ended(exitInterrupted).silent()
	r.says("left at", "the band is silent")
}
