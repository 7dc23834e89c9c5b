package room

import (
	"slices"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// A binding is a key, or several that do the same, at some places, with its help.
type binding struct {
	places []session.Place
	keys   []string // as the terminal names them
	shown  string   // as the player is told them; see glyphs.keyName
	words  string   // in the last line, short; "" for help alone
	help   string   // in the help
	do     func(r *room, key string) tea.Cmd
	when   func(r *room) bool // whether it is told in the last line now; nil for always
}

func at(places ...session.Place) []session.Place { return places }

var (
	forward = []string{"enter", " ", "ctrl+j"}
	up      = []string{"up", "k"}
	down    = []string{"down", "j"}
	left    = []string{"left", "h"}
	right   = []string{"right", "l"}
	back    = []string{"q", "esc"}
)

func (r *room) canStart() bool   { return r.state.Offer != nil || r.state.Problem != "" }
func (r *room) canChange() bool  { return r.state.Offer != nil }
func (r *room) isLonger() bool   { return r.scroll > 0 || r.rest }
func (r *room) hasFigures() bool { return r.state.Lesson != nil && len(r.state.Lesson.Figures) > 1 }

// bindings are all keys, in the order in which they are told.
var bindings = []binding{
	{at(session.Choose, session.LookOver, session.Slips, session.Meaning, session.Exercise, session.Rest, session.Record), []string{"?"}, "?", "help", "this help; any key closes it", (*room).toggleHelp, nil},
	{at(session.Choose), forward, "ENTER", "start", "start what is chosen; SPACE is ENTER everywhere", (*room).start, (*room).canStart},
	{at(session.LookOver), forward, "ENTER", "count-in now", "do not wait: the count-in now", act(session.DoGo), nil},
	{at(session.Exercise, session.Rest), forward, "ENTER", "done", "done: on with the practice", act(session.DoGo), nil},
	{at(session.Slips), forward, "ENTER", "done", "that is all: into the journal", act(session.DoKeep), nil},
	{at(session.Meaning), forward, "ENTER", "do it", "do what is picked", (*room).doPick, nil},
	{at(session.Record), forward, "ENTER", "back", "back to choose", act(session.DoOffer), nil},

	{at(session.Choose), slices.Concat(up, down), "UPDOWN", "line", "another line", (*room).moveLine, (*room).canChange},
	{at(session.Choose), slices.Concat(left, right), "LEFTRIGHT", "change", "change the line", (*room).changeLine, (*room).canChange},
	{at(session.Choose), digitKeys, "1-9", "", "start this step of the day", (*room).startStep, nil},
	{at(session.Choose), []string{"w"}, "w", "weeks", "the record of your weeks", act(session.DoRecord), nil},

	{at(session.Slips), slices.Concat(right, left), "LEFTRIGHT", "measure", "another measure", (*room).moveCell, nil},
	{at(session.Slips), slices.Concat(down, up), "UPDOWN", "mark", "mark it: pitch, rhythm, both, none", (*room).cycleMark, nil},
	{at(session.Slips), []string{"s"}, "s", "stopped", "you stopped playing here; again: you kept going", (*room).stopped, nil},
	{at(session.Slips), []string{"p"}, "p", "pitch", "pitch slipped, or did not", mark(true, false), nil},
	{at(session.Slips), []string{"r"}, "r", "rhythm", "rhythm slipped, or did not", mark(false, true), nil},
	{at(session.Slips), []string{"b"}, "b", "both", "both slipped, or neither did", mark(true, true), nil},
	{at(session.Slips), []string{"tab"}, "TAB", "", "the next section", (*room).nextSection, nil},
	{at(session.Slips), append([]string{"0"}, digitKeys...), "0-9", "", "the measure with this number", (*room).typeNumber, nil},

	{at(session.Meaning), slices.Concat(up, down), "UPDOWN", "pick", "pick what is next", (*room).movePick, nil},
	{at(session.Meaning), slices.Concat(left, right), "LEFTRIGHT", "figure", "another figure", (*room).moveFigure, (*room).hasFigures},
	{at(session.LookOver, session.Record), slices.Concat(up, down), "UPDOWN", "more", "what does not fit on the screen", (*room).moveScroll, (*room).isLonger},
	{at(session.Exercise), slices.Concat(down, up), "UPDOWN", "line", "another line in large letters", (*room).moveScroll, (*room).isLonger},

	{at(session.CountIn, session.Take), append([]string{"ctrl+c"}, back...), "ESC ESC", "leave: kept as a stop", "leave the take", twice("leave: the take is kept as a stop", session.DoLeave), nil},
	{at(session.Slips), back, "ESC ESC", "", "go; the take stays unmarked", twice("go and leave the take unmarked", session.DoOffer), nil},
	{at(session.Choose), back, "ESC ESC", "end", "end the practice", twice("end the practice", session.DoQuit), nil},
	{at(session.Making, session.LookOver, session.Meaning, session.Exercise, session.Rest, session.Record), back, "ESC", "back", "back to choose", act(session.DoOffer), nil},
	{at(session.Choose, session.Slips), []string{"ctrl+c"}, "CTRL-C", "", "end the practice, if pressed twice", twice("end the practice", session.DoQuit), nil},
	{at(session.Making, session.LookOver, session.Meaning, session.Exercise, session.Rest, session.Record), []string{"ctrl+c"}, "CTRL-C", "", "end the practice", act(session.DoQuit), nil},
}

var digitKeys = []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}

// isForward reports whether the key goes on.
func isForward(key string) bool { return slices.Contains(forward, key) }

// pressed does what the keys are bound to. What a slow line brings in one piece is taken
// key by key.
func (r *room) pressed(msg tea.KeyMsg) tea.Cmd {
	if msg.Paste {
		return nil
	}
	if msg.Type != tea.KeyRunes || msg.Alt || len(msg.Runes) < 2 {
		return r.press(msg.String())
	}
	var all []tea.Cmd
	for _, key := range msg.Runes {
		all = append(all, r.press(string(key)))
	}
	return tea.Batch(all...)
}

// press does what a key is bound to at this place.
func (r *room) press(key string) tea.Cmd {
	r.now = r.practice.Clock()
	r.notice = ""
	if isForward(key) {
		ready := r.ready
		r.ready = r.now + quiet
		if r.now < ready {
			return nil
		}
	}
	if r.help { // any key closes it, and does nothing else
		r.help = false
		return nil
	}
	again := r.again
	for i := range bindings {
		b := &bindings[i]
		if !slices.Contains(b.keys, key) || !b.in(r.state.Place) {
			continue
		}
		cmd := b.do(r, key)
		if r.again == again { // it was not the key that leaves
			r.again = ""
		}
		return tea.Batch(cmd, r.look())
	}
	return nil
}

func (b *binding) in(p session.Place) bool { return slices.Contains(b.places, p) }

// act is what has the session do this.
func act(v session.Verb) func(*room, string) tea.Cmd {
	return func(r *room, _ string) tea.Cmd { return r.do(session.Action{Do: v}) }
}

// grace is how soon a key that leaves must be pressed again.
const grace = 2 * time.Second

// twice is what has the session do this when it is pressed a second time in time.
func twice(words string, v session.Verb) func(*room, string) tea.Cmd {
	return func(r *room, _ string) tea.Cmd {
		if r.again == words && r.now < r.until {
			r.again = ""
			return r.do(session.Action{Do: v})
		}
		r.again, r.until = words, r.now+grace
		return nil
	}
}

func (r *room) toggleHelp(string) tea.Cmd {
	r.help = !r.help
	return nil
}

// moveScroll goes through what is longer than the screen; the drawing knows where it ends.
func (r *room) moveScroll(key string) tea.Cmd {
	r.scroll = max(r.scroll+towards(key, up, down), 0)
	return nil
}

// towards is -1 for a key of the first, 1 for one of the second.
func towards(key string, first, second []string) int {
	switch {
	case slices.Contains(first, key):
		return -1
	case slices.Contains(second, key):
		return 1
	}
	return 0
}
