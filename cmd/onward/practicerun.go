package main

import (
	"context"
	"errors"
	"os/signal"
	"syscall"

	"onward/cmd/internal/session"
	"onward/compose"
)

// runPractice leads the player through a practice on the screens that there are: straight
// to a read where the flags say which, else to what the journal proposes. day is the plan
// that is followed, nil for none.
func runPractice(ctx context.Context, e *env, o *readOptions, day *dayPlan) (err error) {
	p, err := openPractice(ctx, e, o)
	if err != nil {
		return err
	}
	defer func() {
		if shut := p.close(); err == nil {
			err = shut
		}
	}()
	p.day = day
	inside, out := untilHangup(ctx)
	defer out()
	p.refuse = out
	s := session.New(ctx, p, e.clock, e.wait)
	if o.beside(e) {
		down, err := o.putUp(ctx, e, s)
		if down != nil {
			defer down()
		}
		if err != nil {
			return err
		}
	}
	if err := p.enter(s); err != nil {
		return err
	}
	if err = e.room(inside, s); err != nil {
		playOut(ctx, s)
	}
	if quit := s.Do(session.Action{Do: session.DoQuit}); err == nil {
		err = quit
	}
	s.Wait()
	if p.refused != nil {
		return p.refused
	}
	return err
}

// untilHangup is ctx, done also when the terminal is closed, which ends nothing before stop
// is called; unless that is ignored, as under nohup.
func untilHangup(ctx context.Context) (gone context.Context, stop context.CancelFunc) {
	if signal.Ignored(syscall.SIGHUP) {
		return context.WithCancel(ctx)
	}
	return signal.NotifyContext(ctx, syscall.SIGHUP)
}

// begun sees what came of the first thing that the session asked for: where the flags ask for
// what cannot be had, nothing else can either, and the practice is over before it began.
func (p *practice) begun(err error) {
	p.begin.Do(func() {
		if p.refuse != nil && err != nil && exitCode(err) == exitRequest {
			p.refused = err
			p.refuse()
		}
	})
}

// playOut waits for the end of a take that is under way when the screen is gone: the band
// does not stop for that.
func playOut(ctx context.Context, s *session.Session) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	for st := range s.Watch(ctx) {
		if st.Place != session.CountIn && st.Place != session.Take {
			return
		}
	}
}

// enter takes the session's first step.
func (p *practice) enter(s *session.Session) error {
	if !p.o.direct || p.day != nil {
		return s.Do(session.Action{Do: session.DoOffer})
	}
	c := session.Choice{Kind: session.Read, Style: p.styleAsked(), Rung: p.o.Rung, Instrument: p.o.Instrument,
		Percent: p.o.Slower.value(), Pressure: append([]string{}, p.o.kinds()...), LookOver: p.o.LookOver}
	if err := s.Do(session.Action{Do: session.DoChoose, Choice: &c}); err != nil {
		return err
	}
	return s.Do(session.Action{Do: session.DoStart})
}

// makesRead are the flags that say which read is wanted.
var makesRead = []string{"style", "rung", "key", "meter", "form", "measures", "tempo", "seed", "figures", "coverage", "traps", "new", "again"}

// unasked makes the read without what only the journal proposed, where the composer cannot
// have both that and the rest.
func unasked(o *requestOptions, c session.Choice, err error) (again bool) {
	var refused *compose.RequestError
	if !errors.As(err, &refused) || c.Key == "" && c.Coverage == 0 {
		return false
	}
	if o.Key == c.Key {
		o.Key = ""
	}
	if o.Coverage != nil && *o.Coverage == c.Coverage {
		o.Coverage = nil
	}
	return true
}
