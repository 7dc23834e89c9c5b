package room

import (
	"strings"
	"time"

	"onward/cmd/internal/session"
)

// The places without a take: one waits, looks, plays from the head, rests.

func (r *room) drawMaking(a area) {
	words := "The page is being made: " + lowerFirst(r.summary(&r.state.Choice)) + "."
	if r.keeping {
		words = "The take goes into the journal."
	}
	a = r.paragraph(a, words, bold)
	if n := int((r.now - r.since) / time.Second); n >= 2 {
		r.paragraph(a.below(1), itoa(n)+" seconds", plain)
	}
}

// digitRows is how high the digits of a clock are that stands above words.
func digitRows(a area) int {
	switch {
	case a.height >= 30:
		return 10
	case a.height >= 18:
		return 8
	}
	return 5
}

// drawLookOver counts down, and tells what a good reader would look for on this page.
func (r *room) drawLookOver(a area) {
	p := r.state.Page
	beside := r.clock(a, digitRows(a))
	a = a.below(beside.height + 1)
	if p == nil {
		return
	}
	beside = r.paragraph(beside, "The count-in comes by itself.", bold)
	beside = r.paragraph(beside, p.Words, plain)
	if p.File != "" {
		r.paragraph(beside, "The page: "+p.File, plain)
	}
	r.lines(a, r.hints(p.Hints, a.width))
}

// hints are the things to look for, each beside its word.
func (r *room) hints(all []session.Hint, columns int) []string {
	const word = 12
	var lines []string
	for _, h := range all {
		name := r.g.cut(r.g.clean(h.Word), word-1)
		for i, text := range wrap(r.g.clean(h.Text), columns-word) {
			if i > 0 {
				name = ""
			}
			lines = append(lines, pad(name, word)+text)
		}
	}
	return lines
}

// pad makes s so many columns wide.
func pad(s string, columns int) string {
	for n := columns - width(s); n > 0; n-- {
		s += " "
	}
	return s
}

// drawExercise shows how it goes, a line at a time apart from the next, and what is left.
func (r *room) drawExercise(a area) {
	p := r.state.Page
	beside := r.clock(a, digitRows(a))
	a = a.below(beside.height + 1)
	if p == nil {
		return
	}
	if r.left() == 0 && p.Minutes > 0 {
		beside = r.paragraph(beside, "The time is over. ENTER goes on.", bold)
	}
	beside = r.paragraph(beside, p.Words, plain)
	if p.File != "" {
		r.paragraph(beside, "The page: "+p.File, plain)
	}
	r.drawPlayed(a, groups(p.Lines))
}

// groups are lines with those that belong to each: they begin with a blank.
func groups(lines []string) (all [][]string) {
	for _, line := range lines {
		if n := len(all); n > 0 && strings.HasPrefix(line, " ") {
			all[n-1] = append(all[n-1], line)
			continue
		}
		all = append(all, []string{line})
	}
	return all
}

// drawPlayed shows how an exercise goes: what is played now in large letters, with all that
// belongs to it, the rest by its first lines.
func (r *room) drawPlayed(a area, all [][]string) {
	r.scroll = max(min(r.scroll, len(all)-1), 0)
	r.rest = len(all) > 1
	if len(all) == 0 {
		return
	}
	first := max(r.scroll-1, 0)
	inner := area{a.x + 2, a.y, a.width - 2, a.height}
	for i := first; i < len(all) && inner.height > 0; i++ {
		if i != r.scroll {
			inner = r.paragraph(inner, all[i][0], plain)
			continue
		}
		if i > first {
			inner = inner.below(1)
		}
		now := r.sayLarge(area{a.x, inner.y, a.width, inner.height}, all[i][0])
		inner = inner.below(now.y - inner.y)
		for _, line := range all[i][1:] {
			inner = r.paragraph(inner, line, bold)
		}
		inner = inner.below(1)
	}
}

// restWords are shown where the rest says nothing of its own (teaching sources: as long as
// you play).
var restWords = []string{"As long as you played.", "Where it hurts, or when the lip tires, stop for today."}

func (r *room) drawRest(a area) {
	beside := r.clock(a, max(min(a.height-9, 15), 5))
	a = a.below(beside.height + 1)
	large, lines := "Rest", restWords
	if p := r.state.Page; p != nil && len(p.Lines) > 0 {
		lines = p.Lines
	}
	if r.left() == 0 {
		large, lines = "Rested", append([]string{"ENTER goes on."}, lines...)
	}
	a.height -= 2 // the words come first
	a = r.sayLarge(a, large).below(1)
	a.height += 2
	for _, line := range lines {
		a = r.paragraph(a, line, plain)
	}
}

func (r *room) drawRecord(a area) {
	if strings.TrimSpace(strings.Join(r.state.Record, "")) == "" {
		r.paragraph(a, "There is nothing in the journal yet.", plain)
		return
	}
	lines := make([]string, len(r.state.Record))
	for i, line := range r.state.Record {
		lines[i] = r.g.cut(r.g.clean(line), a.width)
	}
	r.lines(a, lines)
}
