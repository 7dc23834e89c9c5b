package room

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// updating reports whether the goldens are to be written again; teatest brings the flag -update.
func updating() bool { return flag.Lookup("update").Value.String() == "true" }

// A player lets a test read as a story: keys are pressed, time passes, the screen is read.
// It stands in for the program: messages reach the room one by one, commands run beside it.
type player struct {
	*testing.T
	studio  *studio
	session *session.Session
	room    *room
	inbox   chan tea.Msg
	quit    bool
}

// day tells a story on a clock of its own.
func day(t *testing.T, s *studio, tell func(p *player)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		s.clock = func() time.Duration { return time.Since(start) }
		s.wait = sleep
		ctx, stop := context.WithCancel(t.Context())
		se := session.New(ctx, s, s.clock, sleep)
		p := &player{T: t, studio: s, session: se, inbox: make(chan tea.Msg, 100)}
		p.room = newRoom(se, se.Watch(ctx), Options{Environ: []string{"LANG=de_DE.UTF-8"}})
		defer func() {
			stop()
			se.Wait()
			p.settle()
			time.Sleep(time.Hour) // ticks that nobody waits for
		}()
		p.run(p.room.Init())
		p.settle()
		tell(p)
	})
}

// run does what a program does with a command.
func (p *player) run(cmd tea.Cmd) {
	if cmd != nil {
		go func() { p.inbox <- cmd() }()
	}
}

// settle lets everything happen that can happen now.
func (p *player) settle() {
	for {
		synctest.Wait()
		select {
		case msg := <-p.inbox:
			p.receive(msg)
		default:
			return
		}
	}
}

func (p *player) receive(msg tea.Msg) {
	switch msg := msg.(type) {
	case nil:
	case tea.QuitMsg:
		p.quit = true
	case tea.BatchMsg:
		for _, cmd := range msg {
			p.run(cmd)
		}
	default:
		_, cmd := p.room.Update(msg)
		p.run(cmd)
		p.room.View()
	}
}

// pass lets time pass, with whatever the room does meanwhile.
func (p *player) pass(d time.Duration) {
	end := time.Now().Add(d)
	for time.Now().Before(end) {
		time.Sleep(min(10*time.Millisecond, time.Until(end)))
		p.settle()
	}
}

var keyTypes = map[string]tea.KeyType{"enter": tea.KeyEnter, "esc": tea.KeyEsc, "up": tea.KeyUp, "down": tea.KeyDown,
	"left": tea.KeyLeft, "right": tea.KeyRight, "tab": tea.KeyTab, "space": tea.KeySpace, "ctrl+c": tea.KeyCtrlC}

// press presses keys one after another; a second passes before ENTER, as it does with people.
func (p *player) press(keys ...string) {
	p.Helper()
	for _, k := range keys {
		msg := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(k)}
		if t, special := keyTypes[k]; special {
			msg = tea.KeyMsg{Type: t}
		}
		if k == "space" {
			msg.Runes = []rune(" ")
		}
		if k == "enter" || k == "space" {
			p.pass(time.Second)
		}
		p.receive(msg)
		p.settle()
	}
}

func (p *player) at(want session.Place) {
	p.Helper()
	if got := p.room.state.Place; got != want {
		p.Fatalf("at %s, want %s; the screen:\n%s", got, want, p.screen())
	}
}

// screen is the text on the screen, without weights.
func (p *player) screen() string { return p.room.draw().text(false) }

// sees wants these words on the screen, side by side in a line.
func (p *player) sees(words ...string) {
	p.Helper()
	screen := p.screen()
	for _, w := range words {
		if !strings.Contains(screen, w) {
			p.Errorf("%q is not on the screen:\n%s", w, screen)
		}
	}
}

func (p *player) resize(width, height int) {
	p.receive(tea.WindowSizeMsg{Width: width, Height: height})
	p.settle()
}

// sizesOfScreens are those that are compared with goldens.
var sizesOfScreens = [][2]int{{80, 24}, {120, 40}, {60, 20}}

// golden compares the screen at each size with testdata/NAME-WIDTHxHEIGHT.txt.
func (p *player) golden(name string) {
	p.Helper()
	for _, size := range sizesOfScreens {
		p.resize(size[0], size[1])
		compare(p.T, name+"-"+itoa(size[0])+"x"+itoa(size[1])+".txt", p.screen()+"\n")
	}
	p.resize(80, 24)
}

func compare(t *testing.T, name, got string) {
	t.Helper()
	name = filepath.Join("testdata", name)
	if updating() {
		if err := os.MkdirAll("testdata", 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(string(want), got) {
		t.Errorf("%s differs; -update writes it again.\ngot\n%s\nwant\n%s", name, got, want)
	}
}
