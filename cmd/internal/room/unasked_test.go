package room

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// Whatever the program is started for, the terminal is not asked for its colours: what keeps
// Bubble Tea from it is initialized first, and undone after it.
func TestTheTerminalIsNotAsked(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run", "^$")
	c.Env = append(os.Environ(), "GODEBUG=inittrace=1")
	var said strings.Builder
	c.Stderr = &said
	if err := c.Run(); err != nil {
		t.Fatal(err)
	}
	last := -1
	for _, name := range []string{"onward/cmd/internal/room/unasked", "github.com/charmbracelet/bubbletea", "onward/cmd/internal/room"} {
		at := strings.Index(said.String(), "init "+name+" ")
		if at < 0 || at < last {
			t.Fatalf("%s is initialized too early, or not seen:\n%s", name, &said)
		}
		last = at
	}
}

func TestTheTerminalHasItsName(t *testing.T) {
	if os.Getenv("ONWARD_ROOM") == "name" {
		os.Stdout.WriteString("TERM is " + os.Getenv("TERM") + "\n")
		return
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run", "^TestTheTerminalHasItsName$")
	c.Env = append(os.Environ(), "ONWARD_ROOM=name", "TERM=vt220")
	out, err := c.Output()
	if err != nil || !strings.Contains(string(out), "TERM is vt220\n") {
		t.Errorf("%v, %q; want TERM as it was", err, out)
	}
}
