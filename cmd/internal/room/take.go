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
	spare := 0
	if a.height >= 18 {
		spare = 1
	}
	mapped := 0
	if r.covered != nil {
		mapped = min(3, a.height/5) + 1
	}
	// labels, beats, section, next, and the map
	rows := a.height - 4 - 2*spare - mapped
	measure, beat := r.song.number, r.song.beat
	z, fits := fitting(a.width, rows, 6, measure, beat)
	if !fits {
		r.drawSmallTake(a, b, count)
		return
	}
	field := z.wide(measure) + 6 + z.wide(beat)
	x := a.x + (a.width-field)/2
	beatX := x + z.wide(measure) + 6
	if count {
		beatX = x + (field-z.wide(beat))/2
		r.canvas.put(beatX, a.y, r.countWords(b), bold)
	} else {
		r.canvas.put(x, a.y, "measure", plain)
		r.canvas.put(beatX, a.y, "beat", plain)
		number := itoa(b.Number)
		if b.Number == 0 {
			number = "-"
			r.canvas.put(x, a.y, "upbeat ", plain)
		}
		r.canvas.large(x+z.wide(measure)-z.wide(number), a.y+1, z, number, r.g)
	}
	if b.Beat > 0 && !(count && b.Number == 0) {
		text := itoa(b.Beat)
		r.canvas.large(beatX+z.wide(beat)-z.wide(text), a.y+1, z, text, r.g)
	}
	a = a.below(1 + z.rows() + spare)
	r.beats(area{x, a.y, max(field, a.width/2), 1}, b)
	a = a.below(1 + spare)
	r.say(a.x, a.y, r.whereWords(b, count), a.width, bold)
	r.say(a.x, a.y+1, r.nextWords(), a.width, plain)
	if mapped > 0 {
		r.drawMap(a.below(3), b.Measure)
	}
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
			return "next: the end, " + inMeasures(n+1)
		}
		return "the last measure"
	}
	b, now := t.Beats[turn], t.Beats[i]
	words := s.section(b.Measure)
	place := "measure " + itoa(b.Number)
	if b.Number == 0 {
		place = "the upbeat"
	}
	if now.Measure >= 0 && b.Measure < t.Beats[turn-1].Measure {
		place = "back to " + place
	}
	if words = join(words, place); b.Pass == 2 && now.Pass != b.Pass {
		words += ", second time"
	}
	if s.ordinal[i] == 0 {
		return "then: " + words
	}
	return "next: " + words + ", " + inMeasures(s.ordinal[turn]-s.ordinal[i])
}

func inMeasures(n int) string {
	if n == 1 {
		return "in 1 measure"
	}
	return "in " + itoa(n) + " measures"
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
