package room

import (
	"slices"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// A practice is what the room needs of a session.
type practice interface {
	State() session.State
	Do(session.Action) error
	Clock() time.Duration
}

// A room is what is on the screen. Update alone changes it.
type room struct {
	practice practice
	states   <-chan session.State
	g        *glyphs
	canvas   canvas

	width, height int
	told          session.State // as the session told it last
	state         session.State // told, and what was pressed since
	deeds         []deed        // pressed and not yet done; the first is under way
	now           time.Duration // on the session's clock, when the screen was last looked at
	tick          int           // the number of the tick that is waited for
	since         time.Duration // when this place was come to
	ready         time.Duration // until then the forward key does nothing
	again         string        // the key that leaves if pressed again, "" for none
	until         time.Duration // by when it must be
	notice        string        // what could not be done
	help          bool
	keeping       bool // making is of the lesson, not of a page

	line        int           // choose: which line the keys change
	cell        int           // slips: which measure
	typed       time.Duration // when a digit was typed, and the number so far
	typedNumber int
	figure      int    // meaning: which of the figures
	pick        int    // meaning: what the forward key does
	scroll      int    // of what is longer than the screen
	rest        bool   // there is more than the screen shows
	whole       string // what the clock showed when the place was come to

	song    song
	covered []bool // of the page's measures, in a take under cover
	place   int    // the index of the beat in the take, -1 ahead of it
}

func newRoom(p practice, states <-chan session.State, o Options) *room {
	r := &room{practice: p, states: states, g: glyphsFor(o.Environ), width: o.Width, height: o.Height, place: -1}
	if r.width <= 0 || r.height <= 0 {
		r.width, r.height = 80, 24
	}
	r.now, r.told = p.Clock(), p.State()
	r.state = r.told
	r.enter("")
	return r
}

// A stateMsg is a state of the session, or that there will be no more.
type stateMsg struct {
	state session.State
	open  bool
}

// A tickMsg is that it is time to look again.
type tickMsg struct{ number int }

// Init starts to watch, and asks for an offer where nobody has.
func (r *room) Init() tea.Cmd {
	all := []tea.Cmd{r.watch()}
	if r.told.Place == session.Choose && r.told.Offer == nil && r.told.Problem == "" && r.told.Choice.Kind == "" {
		all = append(all, r.do(session.Action{Do: session.DoOffer}))
	}
	return tea.Batch(append(all, r.look())...)
}

func (r *room) watch() tea.Cmd {
	states := r.states
	return func() tea.Msg {
		st, open := <-states
		return stateMsg{st, open}
	}
}

// Update takes up what happened.
func (r *room) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		r.width, r.height = max(msg.Width, 1), max(msg.Height, 1)
		return r, nil
	case tickMsg:
		if msg.number != r.tick {
			return r, nil
		}
		return r, r.look()
	case tea.KeyMsg:
		return r, r.pressed(msg)
	case stateMsg:
		if !msg.open {
			return r, tea.Quit
		}
		r.see(msg.state)
		if r.told.Over {
			return r, tea.Quit
		}
		return r, tea.Batch(r.watch(), r.look())
	case doneMsg:
		r.see(msg.state)
		if msg.err != nil {
			r.notice = msg.err.Error()
		}
		return r, tea.Batch(r.next(), r.look())
	}
	return r, nil
}

// see takes up what the session tells; what is older than what was told is not news.
func (r *room) see(st session.State) {
	if st.Version < r.told.Version {
		return
	}
	before := r.told.Place
	r.told = st
	r.now = r.practice.Clock()
	r.overlay()
	if st.Place != before {
		r.enter(before)
	}
	r.song.of(&r.state)
	r.cell = max(min(r.cell, len(r.state.Marks)-1), 0)
}

// overlay is what was told, with what was pressed since and the session has not heard of.
func (r *room) overlay() {
	r.deeds = slices.DeleteFunc(r.deeds, func(d deed) bool { return !d.begun && !d.fits(r.told.Place) })
	r.state = r.told
	for _, d := range r.deeds {
		d.foresee(&r.state)
	}
}

// quiet is how long the forward key does nothing in a new place, so that one long press, or
// one too many, is not taken for a choice.
const quiet = 700 * time.Millisecond

// enter makes a place that was come to as it is at first.
func (r *room) enter(before session.Place) {
	r.since, r.ready = r.now, r.now+quiet
	st := &r.state
	r.scroll, r.help, r.whole = 0, false, seconds(r.left())
	if !(before == session.CountIn && st.Place == session.Take) {
		r.again, r.notice = "", ""
	}
	r.song.of(st)
	switch st.Place {
	case session.Choose:
		r.line = r.firstLine()
	case session.Making:
		r.keeping = before == session.Slips
	case session.Slips:
		r.cell = 0
		if st.Stopped != session.Kept {
			r.cell = max(st.Stopped, 0)
		}
	case session.Meaning:
		r.figure, r.pick = 0, 0
	case session.CountIn, session.Take:
		r.place, r.covered = -1, nil
	}
}

// look finds what the clock says of this place, and waits for it to say something else.
func (r *room) look() tea.Cmd {
	r.now = r.practice.Clock()
	if r.again != "" && r.now >= r.until {
		r.again = ""
	}
	wait := r.untilNews()
	r.tick++
	if wait <= 0 {
		return nil
	}
	number := r.tick
	return tea.Tick(max(wait, time.Second/frames), func(time.Time) tea.Msg { return tickMsg{number} })
}

// glance is the longest wait where time goes on: the session's clock goes on while the
// machine sleeps, timers do not.
const glance = 250 * time.Millisecond

// untilNews is how long nothing on the screen changes by itself, 0 for ever.
func (r *room) untilNews() time.Duration {
	wait := time.Duration(0)
	switch st := &r.state; st.Place {
	case session.LookOver, session.Exercise, session.Rest:
		if left := st.Ends.At - r.now; st.Ends.Set && left > 0 {
			wait = min((left-1)%time.Second+1, glance)
		}
	case session.Making:
		wait = time.Second - (r.now-r.since)%time.Second
	case session.CountIn, session.Take:
		wait = glance
		if t := st.Take; t != nil {
			if next := r.find(); next < len(t.Beats) {
				wait = min(t.Start+t.Beats[next].At-r.now, glance)
			}
		}
	}
	if r.again != "" && (wait == 0 || r.until-r.now < wait) {
		wait = r.until - r.now
	}
	return wait
}

// left is how many seconds of the place are left, rounded up.
func (r *room) left() int {
	if !r.state.Ends.Set || r.state.Ends.At <= r.now {
		return 0
	}
	return int((r.state.Ends.At - r.now + time.Second - 1) / time.Second)
}
