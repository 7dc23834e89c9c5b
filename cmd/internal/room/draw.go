package room

import (
	"strconv"
	"strings"

	"onward/cmd/internal/session"
)

// An area is a part of the canvas.
type area struct{ x, y, width, height int }

// below is the area without its first rows.
func (a area) below(rows int) area {
	rows = max(min(rows, a.height), 0)
	return area{a.x, a.y + rows, a.width, a.height - rows}
}

// above is the area without its last rows.
func (a area) above(rows int) area {
	a.height = max(a.height-rows, 0)
	return a
}

// View is the screen.
func (r *room) View() string { return r.draw().text(true) }

// placeWords are the places, as the player is told them.
var placeWords = map[session.Place]string{session.Choose: "choose", session.Making: "one moment", session.LookOver: "look over",
	session.CountIn: "count-in", session.Take: "take", session.Slips: "slips", session.Meaning: "what it means",
	session.Exercise: "exercise", session.Rest: "rest", session.Record: "the record"}

// draw draws the screen: a line that says where one is, the place, and a line of keys.
func (r *room) draw() *canvas {
	c := &r.canvas
	c.clear(r.width, r.height)
	a := area{1, 0, c.width - 2, c.height}
	r.head(a)
	a = a.below(1).above(1)
	if c.height >= 16 {
		a = a.below(1)
	}
	r.rest = false
	if words := r.warning(); words != "" && !inTake(r.state.Place) {
		lines := wrap(words, a.width)
		lines = lines[:min(len(lines), max(a.height/4, 1))]
		a = a.above(len(lines))
		for i, line := range lines {
			c.put(a.x, a.y+a.height+i, line, bold)
		}
	}
	if r.help {
		r.drawHelp(a)
	} else {
		r.drawPlace(a)
	}
	r.foot()
	return c
}

func (r *room) drawPlace(a area) {
	switch r.state.Place {
	case session.Choose:
		r.drawChoose(a)
	case session.Making:
		r.drawMaking(a)
	case session.LookOver:
		r.drawLookOver(a)
	case session.CountIn, session.Take:
		r.drawTake(a)
	case session.Slips:
		r.drawSlips(a)
	case session.Meaning:
		r.drawMeaning(a)
	case session.Exercise:
		r.drawExercise(a)
	case session.Rest:
		r.drawRest(a)
	case session.Record:
		r.drawRecord(a)
	}
}

// head says what is played, and where in the practice one is.
func (r *room) head(a area) {
	st := &r.state
	where := placeWords[st.Place]
	if p := st.Page; st.Place == session.Exercise && p != nil && (p.Kind == session.WarmUp || p.Kind == session.Drill) {
		where = string(p.Kind)
	}
	if o := st.Offer; o != nil && st.Step >= 0 && st.Step < len(o.Plan) {
		where += r.g.clean(" " + r.g.dot + " step " + itoa(st.Step+1) + " of " + itoa(len(o.Plan)))
	}
	where = r.g.cut(where, a.width)
	title := "Onward"
	if st.Page != nil && st.Page.Title != "" && st.Place != session.Choose && st.Place != session.Record && st.Place != session.Making {
		title = st.Page.Title
	}
	r.say(a.x, 0, title, a.width-width(where)-2, bold)
	r.canvas.put(a.x+a.width-width(where), 0, where, bold)
}

// say writes words that came from outside, cut to so many columns, and reports the column
// after them.
func (r *room) say(x, y int, words string, columns int, w weight) int {
	return r.canvas.put(x, y, r.g.cut(r.g.clean(words), columns), w)
}

// warning is what must be said now: that a key must be pressed again, or what went wrong.
func (r *room) warning() string {
	switch {
	case r.again != "":
		return "Press it again to " + r.again + "."
	case r.notice != "":
		return r.g.clean(r.notice)
	case inTake(r.state.Place): // nothing to be done about it now
		return ""
	}
	return r.g.clean(r.state.Problem)
}

// keyName is a key as the player is told it.
func (g *glyphs) keyName(shown string) string {
	switch shown {
	case "UPDOWN":
		return g.upDown
	case "LEFTRIGHT":
		return g.leftRight
	}
	return shown
}

// foot tells the keys of the place, the first ones where there is no room for all, and on
// the right the help. In a take it has the warning, so that nothing else moves.
func (r *room) foot() {
	c := &r.canvas
	x, y, end := 1, c.height-1, c.width-1
	if words := r.warning(); words != "" && inTake(r.state.Place) {
		r.say(x, y, words, end-x, bold)
		return
	}
	for i := range bindings {
		b := &bindings[i]
		if b.words == "" || !b.in(r.state.Place) || b.when != nil && !b.when(r) {
			continue
		}
		name := r.g.keyName(b.shown)
		need := width(name) + 1 + len(b.words)
		if x+need > end {
			continue
		}
		if b.shown == "?" {
			end -= need
			c.put(end, y, name, bold)
			c.put(end+2, y, b.words, plain)
			end -= 3
			continue
		}
		x = c.put(x, y, name, bold)
		x = c.put(x+1, y, b.words, plain) + 3
	}
}

// drawHelp tells all keys of the place.
func (r *room) drawHelp(a area) {
	c := &r.canvas
	y := a.y
	c.put(a.x, y, "Keys", bold)
	y++
	for i := range bindings {
		b := &bindings[i]
		if !b.in(r.state.Place) || y >= a.y+a.height {
			continue
		}
		c.put(a.x, y, r.g.keyName(b.shown), bold)
		r.say(a.x+12, y, b.help, a.width-12, plain)
		y++
	}
	if y < a.y+a.height {
		r.say(a.x, y, "The arrows are h j k l too, and ESC is q.", a.width, plain)
	}
}

// paragraph writes words in lines of the area, and reports what is left of it.
func (r *room) paragraph(a area, words string, w weight) area {
	for _, line := range wrap(r.g.clean(words), a.width) {
		if a.height <= 0 {
			break
		}
		r.canvas.put(a.x, a.y, line, w)
		a = a.below(1)
	}
	return a
}

// lines writes lines that may be longer than the area, from the scroll on.
func (r *room) lines(a area, lines []string) {
	r.scroll = max(min(r.scroll, len(lines)-a.height), 0)
	for i := range min(a.height, len(lines)-r.scroll) {
		r.canvas.put(a.x, a.y+i, lines[r.scroll+i], plain)
	}
	if hidden := len(lines) - r.scroll - a.height; hidden > 0 && a.height > 0 {
		r.rest = true
		more := " " + itoa(hidden+1) + " more lines "
		y := a.y + a.height - 1
		for x := range a.width {
			r.canvas.put(a.x+x, y, " ", plain)
		}
		r.canvas.put(a.x, y, strings.TrimSpace(r.g.more+more), plain)
	}
}

// clock draws what is left of a place large, and reports the area beside it.
func (r *room) clock(a area, rows int) area {
	text := seconds(r.left())
	whole := r.whole
	if len(whole) < len(text) {
		whole = text
	}
	z, fits := fitting(a.width*3/5, min(rows, a.height), 0, whole)
	if !fits {
		r.canvas.put(a.x, a.y, text, bold)
		x := len(whole) + 2
		return area{a.x + x, a.y, a.width - x, 1}
	}
	field := z.wide(whole)
	r.canvas.large(a.x+field-z.wide(text), a.y, z, text, r.g)
	return area{a.x + field + 3, a.y, a.width - field - 3, z.rows()}
}

func itoa(n int) string { return strconv.Itoa(n) }
