package room

import (
	"time"

	"onward/cmd/internal/session"
)

// The places without a take: one waits, looks, plays from the head, rests.

func (r *room) drawMaking(a area) {
	words := "The page is being made: " + r.summary(&r.state.Choice) + "."
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
	r.drawPlayed(a, p.Lines)
}

// drawPlayed shows how an exercise goes, the line that is played in large letters.
func (r *room) drawPlayed(a area, lines []string) {
	r.scroll = max(min(r.scroll, len(lines)-1), 0)
	r.rest = len(lines) > 1
	heights := make([]int, len(lines))
	for i, line := range lines {
		line = r.g.clean(line)
		if heights[i] = len(wrap(line, a.width-2)); i == r.scroll {
			if large, ok := r.g.largeLines(line, a.width); ok {
				heights[i] = letterRows*len(large) + 1
			}
		}
	}
	first, total := 0, 0
	for i := range min(r.scroll+1, len(lines)) {
		for total += heights[i]; total > a.height && first < i; first++ {
			total -= heights[first]
		}
	}
	for i := first; i < len(lines) && a.height > 0; i++ {
		if i == r.scroll {
			a = r.sayLarge(a, lines[i])
			if i > first || heights[i] > 1 {
				a = a.below(1)
			}
			continue
		}
		below := r.paragraph(area{a.x + 2, a.y, a.width - 2, a.height}, lines[i], plain)
		a = a.below(below.y - a.y)
	}
}

func (r *room) drawRest(a area) {
	beside := r.clock(a, max(min(a.height-9, 15), 5))
	a = a.below(beside.height + 1)
	if r.left() == 0 {
		a = r.sayLarge(a.above(2), "Rested").below(1)
		a = r.paragraph(a, "ENTER goes on.", bold)
	} else {
		a = r.sayLarge(a.above(2), "Rest").below(1)
		a = r.paragraph(a, "As long as you played.", bold)
	}
	a.height += 2
	if p := r.state.Page; p != nil {
		a = r.paragraph(a, p.Words, plain)
		for _, line := range p.Lines {
			a = r.paragraph(a, line, plain)
		}
	}
	r.paragraph(a, "Where it hurts, or when the lip tires, stop for today.", plain)
}

func (r *room) drawRecord(a area) {
	if len(r.state.Record) == 0 {
		r.paragraph(a, "There is nothing in the journal yet.", plain)
		return
	}
	lines := make([]string, len(r.state.Record))
	for i, line := range r.state.Record {
		lines[i] = r.g.cut(r.g.clean(line), a.width)
	}
	r.lines(a, lines)
}
