package room

import (
	"slices"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// A deed is something the player did at a place. Deeds are done one after another, in the
// order of the keys.
type deed struct {
	place  session.Place
	action session.Action
	begun  bool
}

// A doneMsg is that the first deed was done, or could not be.
type doneMsg struct {
	state session.State
	err   error
}

// inTake reports whether the band plays or counts.
func inTake(p session.Place) bool { return p == session.CountIn || p == session.Take }

// fits reports whether the deed was meant for this place.
func (d *deed) fits(p session.Place) bool { return d.place == p || inTake(d.place) && inTake(p) }

// foresee changes the state as the session will, where the player should see it at once.
func (d *deed) foresee(st *session.State) {
	if !d.fits(st.Place) {
		return
	}
	a := &d.action
	switch a.Do {
	case session.DoChoose:
		st.Choice = *a.Choice
	case session.DoStep:
		if st.Offer != nil && a.Step < len(st.Offer.Plan) {
			st.Step, st.Choice = a.Step, st.Offer.Proposal
			if a.Step >= 0 {
				st.Choice = st.Offer.Plan[a.Step].Choice
			}
		}
	case session.DoMark:
		if a.Measure < len(st.Marks) {
			st.Marks = slices.Clone(st.Marks)
			st.Marks[a.Measure] = a.Mark
		}
	case session.DoStopped:
		st.Stopped = a.Measure
	case session.DoKept:
		st.Stopped = session.Kept
	}
}

// do has the session do this, after all that was pressed before.
func (r *room) do(a session.Action) tea.Cmd {
	d := deed{place: r.state.Place, action: a}
	r.deeds = append(r.deeds, d)
	d.foresee(&r.state)
	if len(r.deeds) > 1 {
		return nil // its turn comes
	}
	return r.begin()
}

// next takes the first deed as done and begins the one after it.
func (r *room) next() tea.Cmd {
	if len(r.deeds) > 0 && r.deeds[0].begun {
		r.deeds = r.deeds[1:]
	}
	r.overlay()
	return r.begin()
}

// tries is how often a deed is tried when the practice goes on just then.
const tries = 5

// begin has the session do the first deed. Where the practice has gone on to another place
// meanwhile, the deed is dropped: it was not meant for that.
func (r *room) begin() tea.Cmd {
	if len(r.deeds) == 0 {
		return nil
	}
	r.deeds[0].begun = true
	p, d := r.practice, r.deeds[0]
	return func() tea.Msg {
		var err error
		for range tries {
			st := p.State()
			if !d.fits(st.Place) {
				return doneMsg{st, nil}
			}
			d.action.Version = st.Version
			if err = p.Do(d.action); err == nil || p.State().Version == st.Version {
				break
			}
		}
		return doneMsg{p.State(), err}
	}
}
