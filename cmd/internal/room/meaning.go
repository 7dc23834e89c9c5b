package room

import (
	"strings"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// A way is how one may go on from what the slips mean.
type way struct {
	do    session.Verb
	words string
}

// ways are how one may go on, first what is proposed: to drill what slipped, else the day's
// plan, else the next read.
func (r *room) ways() []way {
	st := &r.state
	var all []way
	if st.May(session.DoDrill) {
		words := "drill what slipped"
		if d := st.Lesson.Drill; d.Minutes > 0 {
			words += ", " + itoa(d.Minutes) + " min"
		}
		all = append(all, way{session.DoDrill, words})
	}
	if st.Step >= 0 {
		all = append(all, way{session.DoOffer, "on with the day"})
	}
	if st.Lesson != nil {
		all = append(all, way{session.DoStart, "next " + lowerFirst(r.summary(&st.Lesson.Next))})
	}
	if st.May(session.DoAgain) {
		all = append(all, way{session.DoAgain, "this page again"})
	}
	if st.Step < 0 {
		all = append(all, way{session.DoOffer, "choose"})
	}
	return append(all, way{session.DoRecord, "the record"})
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func (r *room) movePick(key string) tea.Cmd {
	r.pick = max(min(r.pick+towards(key, up, down), len(r.ways())-1), 0)
	return nil
}

func (r *room) moveFigure(key string) tea.Cmd {
	if l := r.state.Lesson; l != nil {
		r.figure = max(min(r.figure+towards(key, left, right), len(l.Figures)-1), 0)
	}
	return nil
}

func (r *room) doPick(string) tea.Cmd {
	ways := r.ways()
	return r.do(session.Action{Do: ways[min(r.pick, len(ways)-1)].do})
}

func (r *room) drawMeaning(a area) {
	l := r.state.Lesson
	ways := r.ways()
	rows := min(len(ways), max(a.height/4, 1))
	below := area{a.x, a.y + a.height - rows, a.width, rows}
	if below.y > a.y {
		r.drawWays(below, ways)
		a = a.above(rows + 1)
	}
	if l == nil {
		return
	}
	if l.Of > 0 {
		result := itoa(l.Right) + " of " + itoa(l.Of)
		words := "measures right; " + r.keptWords()
		if a.height > 24 {
			a = r.paragraph(r.sayLarge(a, result).below(1), words, bold).below(1)
		} else {
			a = r.paragraph(a, result+" "+words, bold)
		}
	}
	figures := 0
	if len(l.Figures) > 0 {
		figures = min(10, a.height*2/3)
		if len(l.Lines)+len(l.Traps) == 0 {
			figures = a.height
		}
	}
	words := a.above(figures)
	for _, line := range l.Lines {
		words = r.paragraph(words, line, plain)
	}
	for _, trap := range l.Traps {
		words = r.paragraph(words, "trap: "+trap, plain)
	}
	if figures > 0 { // what the words leave belongs to the figure
		r.drawFigure(area{a.x, words.y, a.width, a.y + a.height - words.y}, l.Figures)
	}
}

func (r *room) drawWays(a area, ways []way) {
	picked := min(r.pick, len(ways)-1)
	first := max(picked-a.height+1, 0)
	for i, way := range ways[first:][:min(len(ways)-first, a.height)] {
		w := plain
		words := way.words
		if first+i == picked {
			w = bold
			r.canvas.put(a.x, a.y+i, r.g.here, w)
			if l := r.state.Lesson; way.do == session.DoStart && l != nil && len(l.Why) > 0 {
				words += ": " + strings.Join(l.Why, " ")
			}
		}
		r.say(a.x+2, a.y+i, words, a.width-2, w)
	}
}

// drawFigure shows one of the figures behind the slips, in words and in music.
func (r *room) drawFigure(a area, figures []session.Behind) {
	at := min(r.figure, len(figures)-1)
	f := &figures[at]
	words := f.Name
	if len(figures) > 1 {
		words = itoa(at+1) + " of " + itoa(len(figures)) + ": " + words
	}
	if f.Rhythm != "" {
		words += " (" + f.Rhythm + ")"
	}
	if len(f.Measures) > 0 {
		words += ": " + numbers(f.Measures)
	}
	if f.Times > len(f.Measures) {
		words += ", " + itoa(f.Times) + " times"
	}
	a = r.paragraph(a, words, bold)
	if a.height > 3 {
		r.drawContour(a.below(min(1, max(a.height-8, 0))), f.Notes)
	}
}

// numbers names measures, of many the first: "measures 3, 9 and 17".
func numbers(all []int) string {
	const most = 6
	words := "measure "
	if len(all) > 1 {
		words = "measures "
	}
	for i, n := range all {
		switch {
		case i == most:
			return words + " and " + itoa(len(all)-i) + " more"
		case i == 0:
		case i == len(all)-1:
			words += " and "
		default:
			words += ", "
		}
		words += itoa(n)
	}
	return words
}
