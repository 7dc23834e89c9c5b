package room

import (
	"strings"

	"onward/cmd/internal/session"
)

// drawTake shows measure and beat large, where in the piece that is, and what is next. In
// the count-in it is the count that is large.
func (r *room) drawTake(a area) {
	t := r.state.Take
	if t == nil {
		return
	}
	count := r.state.Place == session.CountIn
	var b session.Beat
	if r.place >= 0 && r.place < len(t.Beats) {
		b = t.Beats[r.place]
		count = b.Measure < 0
	} else if len(t.Beats) > 0 {
		b.Of = t.Beats[0].Of
	}
	l := r.layTake(a)
	if !l.large {
		r.drawSmallTake(a, b, count)
		return
	}
	z, spare := l.size, l.spare
	measure, beat := r.song.number, r.song.beat
	field := z.wide(measure) + 6 + z.wide(beat)
	x := a.x + (a.width-field)/2
	beatX := x + z.wide(measure) + 6
	if count {
		beatX = x + (field-z.wide(beat))/2
		r.canvas.put(beatX, a.y, r.countWords(b), bold)
	} else {
		number, what := itoa(b.Number), "measure"
		if b.Number == 0 {
			number, what = "-", "upbeat"
		}
		r.canvas.put(x+z.wide(measure)-len(what), a.y, what, plain)
		r.canvas.put(beatX+z.wide(beat)-len("beat"), a.y, "beat", plain)
		r.canvas.large(x+z.wide(measure)-z.wide(number), a.y+1, z, number, r.g)
	}
	if b.Beat > 0 && !(count && b.Number == 0) {
		text := itoa(b.Beat)
		r.canvas.large(beatX+z.wide(beat)-z.wide(text), a.y+1, z, text, r.g)
	}
	a = a.below(1 + z.rows() + spare)
	r.beats(area{x, a.y, max(field, a.width/2), 1}, b)
	a = a.below(1 + spare)
	r.sayLarge(area{a.x, a.y, a.width, l.where}, r.whereWords(b, count))
	a = a.below(l.where)
	r.say(a.x, a.y, r.nextWords(), a.width, plain)
	if l.mapped > 0 {
		r.drawMap(a.below(2), b.Measure)
	}
}

// A layout is what rows a take's screen has for what; it stays the same all through a take.
type layout struct {
	large  bool // there is room for digits
	size   size
	spare  int // blank rows above and below the line of beats
	where  int // rows of the section
	mapped int // rows of the map, with the blank one above it
}

// layTake gives the digits what they need first, then the section, then the map.
func (r *room) layTake(a area) layout {
	l := layout{where: 1}
	if r.state.Choice.Under("cover") {
		l.mapped = min(3, a.height/8) + 1
	}
	if a.height >= 18 {
		l.spare = 1
	}
	if a.height >= 17 {
		l.where = letterRows
	}
	// beside these there are rows for the labels, the beats and what is next
	l.size, l.large = fitting(a.width, a.height-3-2*l.spare-l.where-l.mapped, 6, r.song.number, r.song.beat)
	return l
}

// drawSmallTake says the same in words where nothing large has room.
func (r *room) drawSmallTake(a area, b session.Beat, count bool) {
	where := "measure " + itoa(b.Number)
	if b.Number == 0 {
		where = "upbeat"
	}
	if count {
		where = r.countWords(b)
	}
	if b.Beat > 0 {
		where += ", beat " + itoa(b.Beat)
	}
	a = r.paragraph(a, where, bold)
	a = r.paragraph(a, r.whereWords(b, count), plain)
	r.paragraph(a, r.nextWords(), plain)
}

// countWords say which measure of the count-in it is.
func (r *room) countWords(b session.Beat) string {
	switch {
	case b.Measure >= 0 || r.place < 0:
		return "count-in"
	case b.Number == 0:
		return "the chord"
	case r.song.counts > 1:
		return "count-in, " + itoa(b.Number) + " of " + itoa(r.song.counts)
	}
	return "count-in"
}

// beats draws the beats of the measure side by side, the one that is now filled.
func (r *room) beats(a area, b session.Beat) {
	const most = 16
	if b.Of < 1 || b.Of > most {
		return
	}
	each := a.width / b.Of
	for i := range b.Of {
		s := r.g.rule
		if i+1 == b.Beat {
			s = r.g.block
		}
		r.canvas.fill(a.x+i*each, a.y, max(each-1, 1), 1, s)
	}
}

// whereWords say the section, and which time it is.
func (r *room) whereWords(b session.Beat, count bool) string {
	if count {
		return ""
	}
	words := r.song.section(b.Measure)
	switch {
	case b.Pass == 2:
		words = join(words, "second time")
	case b.Pass > 2:
		words = join(words, itoa(b.Pass)+" times")
	}
	return words
}

func join(words, more string) string {
	if words == "" {
		return more
	}
	return words + ", " + more
}

// nextWords say what comes next, and in how many measures.
func (r *room) nextWords() string {
	s, t := &r.song, r.state.Take
	i := max(r.place, 0)
	if i >= len(s.turn) {
		return ""
	}
	turn := s.turn[i]
	if turn == len(t.Beats) {
		if n := s.ordinal[len(s.ordinal)-1] - s.ordinal[i]; n > 0 {
			return "in " + itoa(n+1) + " measures: the end"
		}
		return "the last measure"
	}
	b, now := t.Beats[turn], t.Beats[i]
	place := "measure " + itoa(b.Number)
	if b.Number == 0 {
		place = "the upbeat"
	}
	switch before := t.Beats[turn-1].Measure; {
	case now.Measure < 0:
	case b.Measure < before:
		place = "back to " + place
	case b.Measure > before+1: // as over a first ending
		place = "on to " + place
	}
	if b.Pass == 2 && now.Pass != b.Pass {
		place += ", second time"
	}
	if section := s.section(b.Measure); now.Measure < 0 || section != s.section(now.Measure) {
		place = join(section, place)
	}
	switch n := s.ordinal[turn] - s.ordinal[i]; {
	case s.ordinal[i] == 0:
		return "then: " + place
	case n <= 1:
		return "next: " + place
	default:
		return "in " + itoa(n) + " measures: " + place
	}
}

// drawMap draws the measures around the one that is played; those covered are hidden.
func (r *room) drawMap(a area, now int) {
	p := r.state.Page
	if p == nil || a.height <= 0 {
		return
	}
	each := len(r.song.number) + 2
	line := max(a.width/each, 1)
	if line > 8 {
		line -= line % 4
	}
	first := max(now/line-a.height/2, 0) * line
	for i := first; i < min(len(p.Measures), first+line*a.height); i++ {
		x, y := a.x+(i-first)%line*each, a.y+(i-first)/line
		text, w := itoa(p.Measures[i].Number), plain
		if i < len(r.covered) && r.covered[i] {
			text = strings.Repeat(r.g.hidden, each-2)
		}
		if i == now {
			w = bold
			r.canvas.put(x, y, r.g.here, w)
		}
		r.canvas.put(x+each-1-width(text), y, text, w)
	}
}
