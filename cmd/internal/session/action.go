package session

import (
	"context"
	"slices"
)

// An Action is what a player does.
type Action struct {
	Do Verb `json:"do"`
	// Choice is for DoChoose: what is chosen now.
	Choice *Choice `json:"choice,omitempty"`
	// Measure is an index into the page's measures, for DoMark and DoStopped.
	Measure int  `json:"measure,omitempty"`
	Mark    Mark `json:"mark,omitzero"` // for DoMark: what the measure's mark is now
	// Step is for DoStep: an index into the day's plan, -1 for the journal's proposal outside it.
	Step int `json:"step,omitempty"`
	// Version, if not 0, is the state that the player saw: an action on one that was left is
	// refused, so that two screens do not do a thing twice.
	Version int `json:"version,omitempty"`
}

// A Verb names an action.
type Verb string

// The actions, and where they may be done.
const (
	DoOffer   Verb = "offer"   // anywhere but in a take: go and choose
	DoChoose  Verb = "choose"  // choose: something else
	DoStep    Verb = "step"    // choose: this step of the day's plan, or none
	DoStart   Verb = "start"   // choose: make it. meaning: the next read
	DoGo      Verb = "go"      // look-over: the count-in now. exercise, rest: on
	DoLeave   Verb = "leave"   // count-in, take: out of it
	DoMark    Verb = "mark"    // slips
	DoStopped Verb = "stopped" // slips: stopped at the measure
	DoKept    Verb = "kept"    // slips: kept going
	DoKeep    Verb = "keep"    // slips: that is all
	DoDrill   Verb = "drill"   // meaning: what slipped
	DoAgain   Verb = "again"   // meaning: this page once more, where that is allowed
	DoRecord  Verb = "record"  // choose, meaning
	DoQuit    Verb = "quit"    // anywhere; in a take it is to leave
)

// allowed are the places of each action; DoOffer and DoQuit go by rules of their own.
var allowed = map[Verb][]Place{
	DoChoose: {Choose}, DoStep: {Choose}, DoStart: {Choose, Meaning}, DoGo: {LookOver, Exercise, Rest}, DoLeave: {CountIn, Take},
	DoMark: {Slips}, DoStopped: {Slips}, DoKept: {Slips}, DoKeep: {Slips}, DoDrill: {Meaning}, DoAgain: {Meaning},
	DoRecord: {Choose, Meaning}, DoOffer: {Choose, Making, LookOver, Meaning, Exercise, Rest, Record, Slips},
	DoQuit: {Choose, Making, LookOver, CountIn, Take, Slips, Meaning, Exercise, Rest, Record},
}

// May reports whether the action can be done in this state.
func (st *State) May(v Verb) bool {
	switch {
	case !slices.Contains(allowed[v], st.Place):
		return false
	case v == DoAgain:
		return !st.Choice.Under("panel")
	case v == DoDrill:
		return st.Lesson != nil && st.Lesson.Drill != nil
	}
	return true
}

// Do does what the player asks for, or refuses it with an *ActionError and changes nothing.
// What lasts goes on after Do has returned.
func (s *Session) Do(a Action) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	st := &s.state
	if a.Version != 0 && a.Version != st.Version && a.Do != DoMark {
		return refuse("the practice has gone on since: look again")
	}
	if !st.May(a.Do) {
		return refuse("%s is not for the %s", a.Do, st.Place)
	}
	switch a.Do {
	case DoMark, DoStopped:
		if a.Measure < 0 || a.Measure >= len(st.Marks) {
			return refuse("measure %d: the page has %d", a.Measure, len(st.Marks))
		}
	case DoChoose:
		if a.Choice == nil {
			return refuse("choose what?")
		}
	case DoStep:
		switch {
		case st.Offer == nil:
			return refuse("the journal was not asked yet")
		case a.Step < -1 || a.Step >= len(st.Offer.Plan):
			return refuse("step %d: the plan has %d, counted from 0", a.Step, len(st.Offer.Plan))
		}
	}
	s.act(a)
	return nil
}

// act does an action that is allowed. s.mu is held.
func (s *Session) act(a Action) {
	set := func(do func(*State)) { s.change(func(st *State) { st.Problem = ""; do(st) }) }
	switch a.Do {
	case DoOffer:
		s.work(s.offer)
	case DoChoose:
		set(func(st *State) { st.Choice = *a.Choice })
	case DoStep:
		set(func(st *State) { st.take(a.Step) })
	case DoStart:
		c := s.state.Choice
		if s.state.Place == Meaning {
			c = s.state.Lesson.Next
		}
		s.begin(c)
	case DoDrill:
		s.begin(*s.state.Lesson.Drill)
	case DoAgain:
		page, c := s.state.Page, s.state.Choice
		s.work(func(ctx context.Context) { s.repeat(ctx, page, c) })
	case DoGo:
		if s.state.Place == LookOver {
			s.work(s.play)
			return
		}
		set(func(st *State) { st.done(st.Step); st.Place = Making })
		s.work(s.offer)
	case DoLeave:
		s.stop()
	case DoMark:
		set(func(st *State) {
			st.Marks = slices.Clone(st.Marks)
			st.Marks[a.Measure] = a.Mark
		})
	case DoStopped:
		set(func(st *State) { st.Stopped = a.Measure })
	case DoKept:
		set(func(st *State) { st.Stopped = Kept })
	case DoKeep:
		set(func(st *State) { st.Place = Making })
		s.work(s.keep)
	case DoRecord:
		s.work(s.record)
	case DoQuit:
		s.stop()
		set(func(st *State) { st.Over = true })
	}
}

// begin makes what is chosen. s.mu is held.
func (s *Session) begin(c Choice) {
	s.change(func(st *State) { st.Choice, st.Place, st.Problem = c, Making, "" })
	s.work(func(ctx context.Context) { s.make(ctx, c) })
}

// repeat plays the page once more.
func (s *Session) repeat(ctx context.Context, page *Page, c Choice) {
	s.mu.Lock()
	perform := s.perform
	s.mu.Unlock()
	s.present(ctx, c, page, perform)
}
