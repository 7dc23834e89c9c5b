package main

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"syscall"
	"testing"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/midi/live"
)

// A terminal that is closed in a take takes its screen with it, and not the take: that is
// played to its end, and the journal has it.
func TestTakeOfAClosedTerminal(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
	}{{"room", []string{"read", "--rung", "3", "--seed", "5"}}, {"lines", []string{"read", "--plain", "--rung", "3", "--seed", "5"}}} {
		t.Run(c.name, func(t *testing.T) {
			s := newStage(t)
			hung := make(chan os.Signal, 1)
			signal.Notify(hung, syscall.SIGHUP) // the test itself goes on
			defer signal.Stop(hung)
			hangUp := func() {
				syscall.Kill(os.Getpid(), syscall.SIGHUP)
				<-hung
			}
			held := make(chan struct{})
			begin := s.begin
			s.env.begin = func(ctx context.Context, r *live.Roll, sink, note string) (take, error) {
				taken, err := begin(ctx, r, sink, note)
				if c.name == "lines" {
					hangUp()
				}
				time.AfterFunc(200*time.Millisecond, func() { close(held) })
				return heldTake{taken, ctx, held}, err
			}
			s.env.room = func(ctx context.Context, p *session.Session) error {
				for st := range p.Watch(ctx) {
					if st.Place == session.CountIn || st.Place == session.Take {
						break
					}
				}
				hangUp()
				select {
				case <-ctx.Done():
					return ctx.Err()
				case <-time.After(10 * time.Second):
					return errors.New("the room was never told")
				}
			}
			if code, _, err := s.run(c.args...); code != exitInterrupted {
				t.Errorf("exit %d: %s", code, err)
			}
			j, err := journal.Open(t.Context(), "journal.db", s.now)
			if err != nil {
				t.Fatal(err)
			}
			defer j.Close()
			if takes, err := j.Takes(t.Context(), 1); err != nil || len(takes) != 1 || takes[0].Outcome != journal.KeptGoing {
				t.Errorf("takes %+v, %v", takes, err)
			}
		})
	}
}
