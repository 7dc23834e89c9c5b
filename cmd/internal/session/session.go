package session

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"
)

// A Studio makes what is played, plays it, and keeps what became of it.
type Studio interface {
	// Offer says what there is to choose and what the journal proposes.
	Offer(ctx context.Context) (*Offer, error)
	// Make makes the page of the choice. It is in the journal when Make returns.
	Make(ctx context.Context, c Choice) (*Page, Performance, error)
	// Record is the journal's weeks, line by line.
	Record(ctx context.Context) ([]string, error)
}

// A Performance is a page that can be played with the band.
type Performance interface {
	// Play starts the take. When ctx is done the player leaves it.
	Play(ctx context.Context) (Band, error)
	// Keep puts what became of the take into the journal and says what it means. It may be
	// called again with other marks, but for a panel's take.
	Keep(ctx context.Context, marks []Mark, stopped int) (*Lesson, error)
}

// A Band is a take under way.
type Band interface {
	// Running is when it started, and its beats.
	Running() Running
	// Wait returns when the band is silent, with what to say of it, and whether the player
	// left.
	Wait() (words []string, left bool, err error)
}

// A Session is one practice. Its methods may be called from any goroutine.
type Session struct {
	studio Studio
	// clock is a clock that goes on while the machine sleeps.
	clock func() time.Duration
	// wait returns after d, or with ctx's error when that is done before.
	wait func(ctx context.Context, d time.Duration) error
	ctx  context.Context

	mu       sync.Mutex
	state    State
	watchers map[chan State]bool
	stop     context.CancelFunc // ends what goes on in this place
	perform  Performance
	working  sync.WaitGroup
}

// New makes a session at the place to choose; DoOffer asks the journal what to propose. When
// ctx is done, a take under way is left.
func New(ctx context.Context, s Studio, clock func() time.Duration, wait func(context.Context, time.Duration) error) *Session {
	return &Session{studio: s, clock: clock, wait: wait, ctx: ctx, stop: func() {}, watchers: map[chan State]bool{},
		state: State{Place: Choose, Stopped: Kept, Step: -1}}
}

// Stand says where the practice can be seen engraved.
func (s *Session) Stand(address string) {
	s.always(func(st *State) { st.Stand = address })
}

// Clock is the session's clock, which goes on while the machine sleeps.
func (s *Session) Clock() time.Duration { return s.clock() }

// State is what there is to show now.
func (s *Session) State() State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state
}

// Watch sends the state now and after each change, until ctx is done. A watcher that is
// slow gets the latest state alone: it holds nothing up.
func (s *Session) Watch(ctx context.Context) <-chan State {
	c := make(chan State, 1)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.watchers[c] = true
	c <- s.state
	context.AfterFunc(ctx, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.watchers, c)
		close(c)
	})
	return c
}

// Wait returns when nothing goes on any more: after Quit, and after a take has been kept.
func (s *Session) Wait() { s.working.Wait() }

// change changes the state and tells the watchers. s.mu is held.
func (s *Session) change(do func(*State)) {
	do(&s.state)
	s.state.Version++
	for c := range s.watchers {
		select {
		case <-c:
		default:
		}
		c <- s.state // there is room: change alone sends, under the lock
	}
}

// work does something that lasts, in a goroutine, until it is done or the place is left.
// s.mu is held.
func (s *Session) work(do func(ctx context.Context)) {
	s.stop()
	ctx, stop := context.WithCancel(s.ctx)
	s.stop = stop
	s.working.Add(1)
	go func() {
		defer s.working.Done()
		do(ctx)
	}()
}

// update changes the state unless ctx is done, and reports whether it did.
func (s *Session) update(ctx context.Context, do func(*State)) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if ctx.Err() != nil {
		return false
	}
	s.change(do)
	return true
}

// fail goes back to the choice and says what went wrong.
func (s *Session) fail(ctx context.Context, err error) {
	s.update(ctx, func(st *State) {
		st.Place = Choose
		st.trouble(err)
	})
}

// trouble says what went wrong. Only an error that has words for others, by a method Public,
// says them where others see them.
func (st *State) trouble(err error) {
	st.Problem, st.Public = err.Error(), ""
	var open interface{ Public() string }
	if errors.As(err, &open) {
		st.Public = open.Public()
	}
}

// offer asks the journal what to propose, and goes to choose.
func (s *Session) offer(ctx context.Context) {
	offer, err := s.studio.Offer(ctx)
	if err != nil {
		s.fail(ctx, err)
		return
	}
	s.update(ctx, func(st *State) {
		if st.Offer != nil {
			for i := range min(len(offer.Plan), len(st.Offer.Plan)) {
				offer.Plan[i].Done = offer.Plan[i].Done || st.Offer.Plan[i].Done
			}
		}
		st.Offer, st.Place = offer, Choose
		st.Choice = offer.Proposal
		if len(offer.Plan) > 0 {
			st.nextStep()
		}
	})
}

// nextStep proposes the first step of the plan that is not done.
func (st *State) nextStep() {
	st.Step = -1
	for i := range st.Offer.Plan {
		if !st.Offer.Plan[i].Done {
			st.take(i)
			return
		}
	}
}

// take proposes this step of the plan, or for -1 what the journal proposes outside it.
func (st *State) take(step int) {
	st.Step, st.Choice = step, st.Offer.Proposal
	if step >= 0 {
		st.Choice = st.Offer.Plan[step].Choice
	}
}

// letGoWithin is how long a page that nobody wants any more is waited for.
const letGoWithin = 2 * time.Second

// make makes the page and presents it. When ctx is done and the studio does not come back, it
// is given up: whatever holds it, a drive that is away perhaps, holds up nobody else.
func (s *Session) make(ctx context.Context, c Choice) {
	type made struct {
		page    *Page
		perform Performance
		err     error
	}
	done := make(chan made, 1)
	go func() {
		page, perform, err := s.studio.Make(ctx, c)
		done <- made{page, perform, err}
	}()
	select {
	case m := <-done:
		if m.err != nil {
			s.fail(ctx, m.err)
			return
		}
		s.present(ctx, c, m.page, m.perform)
	case <-ctx.Done():
		select {
		case <-done:
		case <-time.After(letGoWithin):
		}
	}
}

// present lets the player look the page over and starts the take; or shows an exercise.
func (s *Session) present(ctx context.Context, c Choice, page *Page, perform Performance) {
	place, lasts := LookOver, c.LookOver
	switch {
	case c.Kind == Pause:
		place, lasts = Rest, time.Duration(c.Minutes)*time.Minute
	case c.Kind != Read || perform == nil:
		place, lasts = Exercise, time.Duration(page.Minutes)*time.Minute
	case c.Under("cold"):
		lasts = 0
	}
	ends := s.clock() + lasts
	if !s.update(ctx, func(st *State) {
		s.perform = perform // Keep and Play are this page's from here on
		st.Page, st.Take, st.Lesson, st.Marks, st.Stopped = page, nil, nil, nil, Kept
		st.Place, st.Ends = place, Maybe{ends, true}
	}) {
		return
	}
	if s.wait(ctx, ends-s.clock()) != nil {
		return
	}
	if place == LookOver {
		s.play(ctx)
	} // a rest or an exercise ends when the player says so
}

// play plays the take to its end, and goes to the slips.
func (s *Session) play(ctx context.Context) {
	band, err := s.perform.Play(ctx)
	if err != nil {
		s.fail(ctx, err)
		return
	}
	running := band.Running()
	s.always(func(st *State) { st.Place, st.Ends, st.Take = CountIn, Maybe{}, &running })
	s.working.Add(1)
	go func() { // the screens know the beats; the place follows the first measure
		defer s.working.Done()
		first := running.firstMeasure()
		if s.wait(ctx, running.Start+first-s.clock()) == nil {
			s.update(ctx, func(st *State) {
				if st.Place == CountIn {
					st.Place = Take
				}
			})
		}
	}()
	words, left, err := band.Wait()
	now := s.clock()
	s.always(func(st *State) {
		over := running
		over.Words, over.Left = words, left
		st.Take, st.Place = &over, Slips
		st.Marks, st.Stopped = make([]Mark, len(st.Page.Measures)), Kept
		if left {
			st.Stopped = running.measureAt(now - running.Start)
		}
		if err != nil {
			st.trouble(err)
		}
	})
}

// always changes the state even when the place is being left: a take is never lost.
func (s *Session) always(do func(*State)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.change(do)
}

// firstMeasure is when the first measure begins, after the count-in.
func (r *Running) firstMeasure() time.Duration {
	for _, b := range r.Beats {
		if b.Measure >= 0 {
			return b.At
		}
	}
	return r.End
}

// measureAt is the measure that lies at a time from the start, 0 in the count-in.
func (r *Running) measureAt(t time.Duration) int {
	at := 0
	for _, b := range r.Beats {
		if b.At > t {
			break
		}
		at = max(b.Measure, 0)
	}
	return at
}

// keep puts the marks into the journal and goes to what they mean, unless the player has
// gone elsewhere meanwhile.
func (s *Session) keep(ctx context.Context) {
	s.mu.Lock()
	perform, marks, stopped, step := s.perform, s.state.Marks, s.state.Stopped, s.state.Step
	s.mu.Unlock()
	lesson, err := perform.Keep(context.WithoutCancel(ctx), marks, stopped)
	s.always(func(st *State) {
		switch {
		case err != nil && ctx.Err() != nil:
			st.trouble(err)
		case err != nil:
			st.Place = Slips
			st.trouble(err)
		case ctx.Err() != nil:
			st.done(step)
		default:
			st.Lesson, st.Place = lesson, Meaning
			st.done(step)
		}
	})
}

// done marks a step of the plan as done, if it is one.
func (st *State) done(step int) {
	if st.Offer == nil || step < 0 || step >= len(st.Offer.Plan) {
		return
	}
	offer := *st.Offer
	offer.Plan = append([]Step(nil), offer.Plan...)
	offer.Plan[step].Done = true
	st.Offer = &offer
}

// record shows the journal's weeks.
func (s *Session) record(ctx context.Context) {
	lines, err := s.studio.Record(ctx)
	if err != nil {
		s.fail(ctx, err)
		return
	}
	s.update(ctx, func(st *State) { st.Record, st.Place = lines, Record })
}

// An ActionError says that an action is not for this place, or names nothing that is there.
type ActionError struct{ Text string }

func (e *ActionError) Error() string { return e.Text }

func refuse(format string, args ...any) error { return &ActionError{fmt.Sprintf(format, args...)} }
