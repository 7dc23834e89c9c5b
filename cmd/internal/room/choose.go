package room

import (
	"slices"
	"strconv"
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// A line of the choice is a step of the day, or something to change.
type line struct {
	kind  lineKind
	index int // of the step, or of the pressure; -1 for no step
}

type lineKind int

const (
	stepLine lineKind = iota
	styleLine
	rungLine
	instrumentLine
	tempoLine
	lookOverLine
	minutesLine
	pressureLine
)

// choice are the lines there are now.
func (r *room) choice() []line {
	st := &r.state
	o := st.Offer
	if o == nil {
		return nil
	}
	var all []line
	for i := range o.Plan {
		all = append(all, line{stepLine, i})
	}
	if len(o.Plan) > 0 {
		all = append(all, line{stepLine, -1})
	}
	if st.Choice.Kind == session.Read {
		all = append(all, line{kind: styleLine}, line{kind: rungLine})
	}
	if st.Choice.Kind != session.Pause {
		all = append(all, line{kind: instrumentLine})
	}
	if st.Choice.Kind != session.Read {
		return append(all, line{kind: minutesLine})
	}
	all = append(all, line{kind: tempoLine}, line{kind: lookOverLine})
	for i := range o.Pressures {
		all = append(all, line{pressureLine, i})
	}
	return all
}

// firstLine is the step of the day, or else the first thing to change.
func (r *room) firstLine() int {
	return max(slices.Index(r.choice(), line{stepLine, r.state.Step}), 0)
}

// current is the line that keys change.
func (r *room) current() (line, bool) {
	all := r.choice()
	if len(all) == 0 {
		return line{}, false
	}
	return all[min(max(r.line, 0), len(all)-1)], true
}

// start starts what is chosen, or asks the journal again.
func (r *room) start(string) tea.Cmd {
	if r.state.Offer != nil {
		return r.do(session.Action{Do: session.DoStart})
	}
	if r.state.Problem != "" {
		return r.do(session.Action{Do: session.DoOffer})
	}
	return nil
}

// moveLine goes to another line; coming to a step of the day chooses it.
func (r *room) moveLine(key string) tea.Cmd {
	r.line = max(min(r.line+towards(key, up, down), len(r.choice())-1), 0)
	if l, ok := r.current(); ok && l.kind == stepLine && l.index != r.state.Step {
		return r.do(session.Action{Do: session.DoStep, Step: l.index})
	}
	return nil
}

// startStep starts a step of the day by its number.
func (r *room) startStep(key string) tea.Cmd {
	step := int(key[0] - '1')
	if r.state.Offer == nil || step >= len(r.state.Offer.Plan) {
		return nil
	}
	r.line = step
	return tea.Batch(r.do(session.Action{Do: session.DoStep, Step: step}), r.do(session.Action{Do: session.DoStart}))
}

// lookOvers are the look-overs to choose from. A few seconds are what a rehearsal gives
// (common practice); 30 s is South Carolina's, 60 s a Virginia district's rule.
var lookOvers = []time.Duration{5 * time.Second, 10 * time.Second, 20 * time.Second, 30 * time.Second, 45 * time.Second, 60 * time.Second, 90 * time.Second}

const (
	percentStep             = 5
	leastPercent            = 25
	mostPercent             = 100
	leastMinutes, mostMinut = 1, 60
)

// changeLine changes what the line is about, one on or back.
func (r *room) changeLine(key string) tea.Cmd {
	l, ok := r.current()
	by := towards(key, left, right)
	o := r.state.Offer
	if !ok || by == 0 {
		return nil
	}
	c := r.state.Choice
	switch l.kind {
	case stepLine:
		return nil
	case styleLine:
		c = r.inStyle(c, by)
	case rungLine:
		c.Rung = max(min(c.Rung+by, len(o.Rungs)), 1)
	case instrumentLine:
		if i := next(o.Instruments, c.Instrument, by); i >= 0 {
			c.Instrument = o.Instruments[i].ID
		}
	case tempoLine:
		c.Percent = max(min(c.Percent+by*percentStep, mostPercent), leastPercent)
	case lookOverLine:
		c.LookOver = nextLookOver(c.LookOver, by)
	case minutesLine:
		c.Minutes = max(min(c.Minutes+by, mostMinut), leastMinutes)
	case pressureLine:
		c.Pressure = toggled(c.Pressure, o.Pressures[l.index].ID)
	}
	return r.do(session.Action{Do: session.DoChoose, Choice: &c})
}

// inStyle is what is proposed for the next style, for the same player under the same pressure.
func (r *room) inStyle(c session.Choice, by int) session.Choice {
	o := r.state.Offer
	i := next(o.Styles, c.Style, by)
	if i < 0 {
		return c
	}
	other, proposed := o.ByStyle[o.Styles[i].ID]
	if proposed && other.Kind == session.Read {
		other.Instrument, other.Pressure, other.LookOver = c.Instrument, c.Pressure, c.LookOver
		c = other
	}
	c.Style = o.Styles[i].ID
	return c
}

// next is the index after or before the one with this ID, around the ends; -1 for none.
func next(all []session.Named, id string, by int) int {
	if len(all) == 0 {
		return -1
	}
	i := slices.IndexFunc(all, func(n session.Named) bool { return n.ID == id })
	if i < 0 {
		return 0
	}
	return (i + by + len(all)) % len(all)
}

func nextLookOver(now time.Duration, by int) time.Duration {
	if by > 0 {
		for _, d := range lookOvers {
			if d > now {
				return d
			}
		}
		return now
	}
	for _, d := range slices.Backward(lookOvers) {
		if d < now {
			return d
		}
	}
	return now
}

// toggled is the list with id, or without it.
func toggled(list []string, id string) []string {
	if i := slices.Index(list, id); i >= 0 {
		return slices.Delete(slices.Clone(list), i, i+1)
	}
	return append(slices.Clone(list), id)
}

// label is how wide the names of the lines are.
const label = 12

func (r *room) drawChoose(a area) {
	st := &r.state
	if st.Offer == nil {
		if st.Problem == "" {
			r.paragraph(a, "The journal is asked what comes next.", plain)
			return
		}
		r.paragraph(a, "ENTER asks the journal again.", plain)
		return
	}
	a = r.paragraph(a, "ENTER starts: "+lowerFirst(r.summary(&st.Choice)), bold).below(1)
	why := r.why()
	all := r.choice()
	// On a wide screen the reasons stand beside the lines, else below them.
	if a.width >= 100 {
		half := a.width/2 - 2
		r.reasons(area{a.x + half + 4, a.y, half, a.height}, why)
		r.drawLines(area{a.x, a.y, half, a.height}, all)
		return
	}
	need := 0
	for _, sentence := range why {
		need += len(wrap(r.g.clean(sentence), a.width))
	}
	room := max(a.height-len(all)-1, min(need, a.height/4))
	lines := area{a.x, a.y, a.width, max(min(len(all), a.height-room-1), 1)}
	r.drawLines(lines, all)
	r.reasons(a.below(lines.height+1), why)
}

// why are the reasons for what is chosen.
func (r *room) why() []string {
	st := &r.state
	why := st.Offer.Why
	if st.Step >= 0 && st.Step < len(st.Offer.Plan) {
		why = []string{st.Offer.Plan[st.Step].Why}
	}
	if st.Stand != "" {
		why = append([]string{"The stand: " + st.Stand}, why...)
	}
	return why
}

func (r *room) reasons(a area, why []string) {
	for _, sentence := range why {
		a = r.paragraph(a, sentence, plain)
	}
}

// drawLines draws the lines around the one that keys change.
func (r *room) drawLines(a area, all []line) {
	now := min(max(r.line, 0), len(all)-1)
	first := max(min(now-a.height/2, len(all)-a.height), 0)
	for i := range min(len(all)-first, a.height) {
		l := all[first+i]
		w := plain
		if first+i == now {
			w = bold
			r.canvas.put(a.x, a.y+i, r.g.here, w)
		}
		r.drawLine(area{a.x + 2, a.y + i, a.width - 2, 1}, l, first+i == now, w)
	}
	if hidden := len(all) - first - a.height; hidden > 0 && a.height > 1 {
		r.canvas.put(a.x+a.width-width(r.g.more), a.y+a.height-1, r.g.more, bold)
	}
}

func (r *room) drawLine(a area, l line, here bool, w weight) {
	st := &r.state
	o, c := st.Offer, &st.Choice
	if l.kind == stepLine {
		r.drawStep(a, l.index, w)
		return
	}
	name, value := "", ""
	switch l.kind {
	case styleLine:
		name, value = "style", r.g.clean(nameAndWords(o.Styles, c.Style))
	case rungLine:
		name, value = "rung", itoa(c.Rung)
		if c.Rung >= 1 && c.Rung <= len(o.Rungs) && o.Rungs[c.Rung-1].Words != "" {
			value += "  " + r.g.clean(o.Rungs[c.Rung-1].Words)
		}
	case instrumentLine:
		name, value = "instrument", r.g.clean(named(o.Instruments, c.Instrument))
	case tempoLine:
		name, value = "tempo", itoa(c.Percent)+" % of the page's"
	case lookOverLine:
		name, value = "look-over", seconds(int(c.LookOver/time.Second))+" s"
		if c.LookOver >= time.Minute {
			value = seconds(int(c.LookOver/time.Second)) + " min"
		}
		if c.Under("cold") {
			value = "none: cold"
		}
	case minutesLine:
		name, value = "minutes", itoa(c.Minutes)
	case pressureLine:
		p := o.Pressures[l.index]
		name = "[ ] "
		if c.Under(p.ID) {
			name = "[x] "
		}
		r.say(a.x+4, a.y, name+nameAndWords(o.Pressures, p.ID), a.width-4, w)
		return
	}
	a.x, a.width = a.x+4, a.width-4
	r.canvas.put(a.x, a.y, name, w)
	if here {
		value = r.g.left + " " + value + " " + r.g.right
	} else {
		value = "  " + value
	}
	r.canvas.put(a.x+label, a.y, r.g.cut(value, a.width-label), w)
}

// drawStep draws a step of the day: number, tick if done, title, minutes.
func (r *room) drawStep(a area, i int, w weight) {
	o := r.state.Offer
	if i < 0 {
		r.say(a.x, a.y, "    outside the plan: "+r.summary(&o.Proposal), a.width, w)
		return
	}
	step := &o.Plan[i]
	number := strconv.Itoa(i + 1)
	r.canvas.put(a.x+1-min(len(number)-1, 1), a.y, number, w)
	if step.Done {
		r.canvas.put(a.x+2, a.y, r.g.done, w)
	}
	minutes := ""
	if step.Minutes > 0 {
		minutes = itoa(step.Minutes) + " min"
	}
	title := step.Title
	if title == "" {
		title = r.summary(&step.Choice)
	}
	if step.Done {
		title += " (done)"
	}
	r.say(a.x+4, a.y, title, a.width-4-len(minutes)-1, w)
	r.canvas.put(a.x+a.width-len(minutes), a.y, minutes, w)
}

// named are the words of the one with this ID, or the ID.
func named(all []session.Named, id string) string {
	for _, n := range all {
		if n.ID == id && n.Words != "" {
			return n.Words
		}
	}
	return id
}

// nameAndWords are the ID and its words, which may begin with it.
func nameAndWords(all []session.Named, id string) string {
	words := named(all, id)
	if strings.HasPrefix(strings.ToLower(words), strings.ToLower(id)) {
		return words
	}
	return id + ": " + words
}

// summary says in a line what a choice is.
func (r *room) summary(c *session.Choice) string {
	var parts []string
	add := func(s string) {
		if s != "" {
			parts = append(parts, s)
		}
	}
	switch c.Kind {
	case session.Read:
		add("Read: " + c.Style)
		add("rung " + itoa(c.Rung))
		if c.Percent != mostPercent && c.Percent != 0 {
			add(itoa(c.Percent) + " % tempo")
		}
		add(strings.Join(c.Pressure, ", "))
	case session.WarmUp:
		add("Warm-up")
	case session.Drill:
		add("Drill")
		add(strings.Join(c.Figures, ", "))
	case session.Pause:
		add("Rest")
	default:
		return "nothing yet"
	}
	if c.Minutes > 0 && c.Kind != session.Read {
		add(itoa(c.Minutes) + " min")
	}
	return strings.Join(parts, ", ")
}
