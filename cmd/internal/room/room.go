// Package room shows a practice full screen in a terminal, and turns keys into what the
// player does. It decides nothing and holds no music: all it shows is a session's state.
//
// It can be run with one thumb: SPACE or ENTER goes on in every place. What matters while
// the horn is up (measure, beat, count-in, what is left of a rest) is drawn large, to be
// read from a metre and a half. No colour is used, and nothing is told by weight alone.
package room

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// Options are where the room is.
type Options struct {
	In  io.Reader // the keys; a terminal is set to give each at once while the room is open
	Out io.Writer // the screen
	// Environ is the environment ("NAME=value") that tells the terminal's encoding; nil is
	// the process's own.
	Environ []string
	// Width and Height are columns and rows where Out is no terminal that knows them; 0 is
	// 80 and 24.
	Width, Height int
}

// frames is how often a second the screen is drawn at most.
const frames = 60

// Run shows the session until it is over, and then returns nil; or until ctx is done, and
// then returns its error. If nobody has asked the session for an offer yet, Run does. Any
// other error is that keys or screen are gone; the session goes on without them.
//
// Run never holds the session up, nor waits for a screen that takes nothing: what the screen
// did not take in time is left out, and it gets the latest when it takes something again.
func Run(ctx context.Context, s *session.Session, o Options) error {
	if o.Environ == nil {
		o.Environ = os.Environ()
	}
	inside, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	r := newRoom(s, s.Watch(inside), o)
	out := newScreen(o.Out)
	program := tea.NewProgram(r, tea.WithContext(inside), tea.WithInput(o.In), tea.WithOutput(out.writer()),
		tea.WithEnvironment(o.Environ), tea.WithAltScreen(), tea.WithoutSignalHandler(), tea.WithoutBracketedPaste(),
		tea.WithFPS(frames))
	go func() {
		if err := out.pump(func() { program.Send(tea.ClearScreen()) }); err != nil {
			stop(err)
		}
	}()
	_, err := program.Run()
	gone := context.Cause(inside)
	out.finish()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case gone != nil:
		return fmt.Errorf("the screen is gone: %w", gone)
	case errors.Is(err, tea.ErrProgramPanic):
		return fmt.Errorf("the room broke down, which is a fault of this program: %w", err)
	case err != nil:
		return fmt.Errorf("the keys are gone: %w", err)
	}
	return nil
}
