package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/room"
	"onward/cmd/internal/session"
	"onward/cmd/internal/stand"
	"onward/midi/live"
	"onward/midi/port"

	"golang.org/x/term"
)

// An env is the world that the verbs work in: all that they ask of the machine.
type env struct {
	in       io.Reader
	out, err io.Writer
	// terminal says that out is a terminal, on which a line may be written over.
	terminal bool
	now      func() time.Time
	// clock is a clock that goes on while the machine sleeps, from a zero of its own.
	clock func() time.Duration
	// wait returns after d, or with ctx's error when that is done before.
	wait func(ctx context.Context, d time.Duration) error
	// random draws a number from 0 to n-1, for a seed that nobody gave.
	random func(n uint64) uint64
	// journalAt reports the usual place of the journal.
	journalAt func() (string, error)
	player    string // who plays, as --player says it
	// ports lists the MIDI ports.
	ports func() ([]port.Info, error)
	// sinks opens what a take is played on.
	sinks sinks
	// room shows a practice on the terminal until it is over; nil where there is none.
	room func(ctx context.Context, s *session.Session) error
	// browse opens a page in a browser; nil where none can be opened.
	browse func(address string) error
	// paper is what is usual where the player is; printer engraves pages for paper, nil where
	// nothing can.
	paper   stand.Paper
	printer func(ctx context.Context, paper stand.Paper) (printer, error)
	// keys reads the terminal key by key until done is called; errNoTerminal where in
	// is none.
	keys func() (pressed <-chan key, done func(), err error)
	// begin starts a take in a process of its own, which keeps it by the note; see keepBeside.
	begin func(ctx context.Context, r *live.Roll, sink, note string) (take, error)
	// takesUp says that the journal is opened for the first time in this invocation.
	takesUp bool
}

// A take is a take under way; see live.Take.
type take interface {
	Beats() <-chan int
	Started() (at time.Duration, ok bool)
	StartedAt() time.Time
	Wait() (live.Report, error)
}

// thisMachine is the env of the real program.
func thisMachine() *env {
	e := &env{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		terminal:  term.IsTerminal(int(os.Stdout.Fd())),
		now:       time.Now,
		clock:     live.SystemClock().Now,
		wait:      wait,
		random:    rand.Uint64N,
		journalAt: journal.DefaultPath,
		ports:     port.List,
		sinks:     realSinks{},
		keys:      terminalKeys,
		begin:     beginAlone,
		browse:    browser(),
		paper:     stand.PaperOf(os.Getenv),
		printer:   startPrinter,
	}
	if e.terminal && term.IsTerminal(int(os.Stdin.Fd())) && os.Getenv("TERM") != "dumb" {
		e.room = func(ctx context.Context, s *session.Session) error {
			return room.Run(ctx, s, room.Options{In: os.Stdin, Out: os.Stdout})
		}
	}
	return e
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// openJournal opens the journal at path, the usual one where path is "", as the player has
// it who was asked for. That a player is new is said.
func (e *env) openJournal(ctx context.Context, path string) (*journal.Journal, error) {
	if path == "" {
		usual, err := e.journalAt()
		if err != nil {
			return nil, asked(err, "")
		}
		path = usual
	}
	all, err := journal.Open(ctx, path, e.now)
	if err != nil {
		return nil, err
	}
	if e.takesUp {
		e.takesUp = false
		e.takeUp(ctx, all)
	}
	own, fresh, err := all.As(ctx, e.player)
	if err == nil && fresh {
		err = e.welcome(ctx, own)
	}
	if err != nil {
		all.Close()
		return nil, err
	}
	return own, nil
}

// takeUp adds the takes that lie beside the journal to it, and says so.
func (e *env) takeUp(ctx context.Context, j *journal.Journal) {
	for _, up := range j.TakeUp(ctx) {
		switch {
		case up.Err == nil:
			fmt.Fprintf(e.err, "a take that had ended without entering the journal is in it now, out of %s\n", up.Path)
		case up.Aside != "":
			fmt.Fprintf(e.err, "onward: %v: a take that cannot be taken up; it lies aside now, as %s\n", up.Err, up.Aside)
		default:
			fmt.Fprintf(e.err, "onward: %v: the take in %s could not be taken up now; the next start tries again\n", up.Err, up.Path)
		}
	}
}

// withJournal opens the journal as openJournal does, for what is asked of it.
func (e *env) withJournal(ctx context.Context, path string, do func(*journal.Journal) error) error {
	j, err := e.openJournal(ctx, path)
	if err != nil {
		return err
	}
	err = do(j)
	if shut := j.Close(); err == nil {
		err = shut
	}
	return err
}

// welcome says that the player is not in the journal yet, and who is.
func (e *env) welcome(ctx context.Context, j *journal.Journal) error {
	known, err := j.Players(ctx)
	if err != nil {
		return err
	}
	words := "the journal has no other"
	if len(known) > 0 {
		names := make([]string, len(known))
		for i, p := range known {
			names[i] = p.Name
		}
		words = "the journal has " + strings.Join(names, ", ")
	}
	_, err = fmt.Fprintf(e.err, "%s is a new player, added with the first read, warm-up or exercise; %s\n", j.Player(), words)
	return err
}
