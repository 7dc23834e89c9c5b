package room

import (
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

func (r *room) marked() session.Mark {
	if r.cell < len(r.state.Marks) {
		return r.state.Marks[r.cell]
	}
	return session.Mark{}
}

// setMark marks the measure.
func (r *room) setMark(m session.Mark) tea.Cmd {
	if len(r.state.Marks) == 0 {
		return nil
	}
	return r.do(session.Action{Do: session.DoMark, Measure: r.cell, Mark: m})
}

// mark is what turns these marks of the measure on, or all of them off if they are on.
func mark(pitch, rhythm bool) func(*room, string) tea.Cmd {
	return func(r *room, _ string) tea.Cmd {
		m := r.marked()
		on := pitch && !m.Pitch || rhythm && !m.Rhythm
		if pitch {
			m.Pitch = on
		}
		if rhythm {
			m.Rhythm = on
		}
		return r.setMark(m)
	}
}

// cycle are the marks in the order in which one key goes through them.
var cycle = []session.Mark{{}, {Pitch: true}, {Rhythm: true}, {Pitch: true, Rhythm: true}}

// cycleMark goes to the next mark, or the one before.
func (r *room) cycleMark(key string) tea.Cmd {
	now, by := r.marked(), towards(key, up, down)
	for i, m := range cycle {
		if m == now {
			return r.setMark(cycle[(i+by+len(cycle))%len(cycle)])
		}
	}
	return nil
}

// moveCell goes along the measures.
func (r *room) moveCell(key string) tea.Cmd {
	r.cell = max(min(r.cell+towards(key, left, right), len(r.state.Marks)-1), 0)
	return nil
}

// nextSection goes to the first measure of the next section, after the last to the first.
func (r *room) nextSection(string) tea.Cmd {
	for i := r.cell + 1; i < len(r.state.Marks); i++ {
		if r.song.begins(i) {
			r.cell = i
			return nil
		}
	}
	r.cell = 0
	return nil
}

// together is how soon digits follow each other that are one number.
const together = 1200 * time.Millisecond

// typeNumber goes to the measure whose number is typed.
func (r *room) typeNumber(key string) tea.Cmd {
	number := int(key[0] - '0')
	if before := r.number(r.cell); r.now-r.typed < together && r.typedNumber > 0 && before >= 0 {
		number += r.typedNumber * 10
	}
	if number > r.song.last {
		number = int(key[0] - '0')
	}
	r.typed, r.typedNumber = r.now, number
	for i := range r.state.Marks {
		if r.number(i) == number {
			r.cell = i
			break
		}
	}
	return nil
}

// number is the printed number of a measure, -1 where there is none.
func (r *room) number(i int) int {
	if p := r.state.Page; p != nil && i >= 0 && i < len(p.Measures) {
		return p.Measures[i].Number
	}
	return -1
}

// stopped says that the player stopped at this measure, or, said again, kept going.
func (r *room) stopped(string) tea.Cmd {
	switch {
	case len(r.state.Marks) == 0:
		return nil
	case r.state.Stopped == r.cell:
		return r.do(session.Action{Do: session.DoKept})
	}
	return r.do(session.Action{Do: session.DoStopped, Measure: r.cell})
}

// measureWords name a measure by its printed number.
func (r *room) measureWords(i int) string {
	switch n := r.number(i); {
	case n < 0:
		return "measure " + itoa(i+1)
	case n == 0:
		return "the upbeat"
	default:
		return "measure " + itoa(n)
	}
}

// markWords say what slipped.
func markWords(m session.Mark) string {
	switch {
	case m.Pitch && m.Rhythm:
		return "pitch and rhythm"
	case m.Pitch:
		return "pitch"
	case m.Rhythm:
		return "rhythm"
	}
	return "as written"
}

// markSign is a mark in two columns.
func markSign(m session.Mark) string {
	switch {
	case m.Pitch && m.Rhythm:
		return "pr"
	case m.Pitch:
		return "p "
	case m.Rhythm:
		return "r "
	}
	return "  "
}

// keptWords say whether the player kept going.
func (r *room) keptWords() string {
	if r.state.Stopped == session.Kept {
		return "kept going"
	}
	return "stopped at " + r.measureWords(r.state.Stopped)
}

func (r *room) drawSlips(a area) {
	st := &r.state
	slipped := 0
	for _, m := range st.Marks {
		if m.Slipped() {
			slipped++
		}
	}
	words := "Mark the measures that slipped; " + r.keptWords()
	if slipped > 0 {
		words = itoa(slipped) + " of " + itoa(len(st.Marks)) + " slipped; " + r.keptWords()
	}
	r.say(a.x, a.y, words, a.width, plain)
	a = a.below(1)
	if len(st.Marks) > 0 {
		here := r.measureWords(r.cell)
		if s := r.song.section(r.cell); s != "" {
			here += ", " + s
		}
		here += ": " + markWords(r.marked())
		if a.height > 24 { // there is room to read it from afar
			a = r.sayLarge(a.below(1), here)
		} else {
			r.say(a.x, a.y, here, a.width, bold)
			a = a.below(1)
		}
	}
	if a.height > 10 {
		a = a.below(1)
	}
	if t := st.Take; t != nil && len(t.Words) > 0 && a.height > 4 {
		lines := wrap(r.g.clean(strings.Join(t.Words, " ")), a.width)
		lines = lines[:min(len(lines), a.height/4)]
		a = a.above(len(lines))
		for i, line := range lines {
			r.canvas.put(a.x, a.y+a.height+i, line, plain)
		}
	}
	r.drawCells(a)
}

// drawCells draws the measures, so many to a line that phrases of four stay together; a
// section begins a line of its own, under its name.
func (r *room) drawCells(a area) {
	each := len(r.song.number) + 5 // "[ 12pr]" and a blank
	perLine := max(a.width/each, 1)
	if perLine > 4 {
		perLine -= perLine % 4
	}
	type row struct {
		name        string
		first, last int // measures, last not in it
	}
	var rows []row
	for i := 0; i < len(r.state.Marks); {
		if name := r.song.section(i); r.song.begins(i) && name != "" {
			rows = append(rows, row{name: name, first: i, last: i})
		}
		first := i
		length := perLine
		if r.number(i) == 0 { // an upbeat stands ahead of its line
			if length++; length*each > a.width && r.sectionLength(i)*each > a.width {
				length = 1
			}
		}
		for i++; i < len(r.state.Marks) && i-first < length && !r.song.begins(i); i++ {
		}
		rows = append(rows, row{first: first, last: i})
	}
	at := 0
	for i, row := range rows {
		if row.first <= r.cell && r.cell < row.last {
			at = i
		}
	}
	top := max(min(at-a.height/2, len(rows)-a.height), 0)
	for y := range min(a.height, len(rows)-top) {
		row := rows[top+y]
		if row.name != "" {
			r.say(a.x, a.y+y, row.name, a.width, plain)
			continue
		}
		for i := row.first; i < row.last; i++ {
			r.drawCell(a.x+(i-row.first)*each, a.y+y, i)
		}
	}
}

// sectionLength is how many measures there are from i to the section's end.
func (r *room) sectionLength(i int) int {
	n := 1
	for i+n < len(r.state.Marks) && !r.song.begins(i+n) {
		n++
	}
	return n
}

// drawCell draws a measure with its mark; "!" where the player stopped.
func (r *room) drawCell(x, y, i int) {
	number := itoa(max(r.number(i), 0))
	if r.number(i) < 0 {
		number = itoa(i + 1)
	}
	before := " "
	if i == r.state.Stopped {
		before = "!"
	}
	text := strings.Repeat(" ", max(len(r.song.number)-len(number), 0)) + number
	m := r.state.Marks[i]
	w := plain
	if m.Slipped() {
		w = bold
	}
	after := " "
	if i == r.cell {
		w = reverse
		before, after = "[", "]"
		if i == r.state.Stopped {
			before = "!"
		}
	}
	r.canvas.put(x, y, before+text+markSign(m)+after, w)
}
