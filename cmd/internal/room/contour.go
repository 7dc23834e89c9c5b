package room

import (
	"strconv"
	"strings"
)

// A head is a note as it is drawn.
type head struct {
	step int    // how high, in steps of the scale
	name string // with sharps and flats
}

// parseNote reads a written pitch such as "Bb4".
func (g *glyphs) parseNote(s string) (head, bool) {
	if s == "" {
		return head{}, false
	}
	letter := strings.IndexByte("CDEFGAB", s[0])
	octave := strings.IndexAny(s, "-0123456789")
	if letter < 0 || octave < 1 {
		return head{}, false
	}
	n, err := strconv.Atoi(s[octave:])
	if err != nil || n < -1 || n > 9 {
		return head{}, false
	}
	name := s[:1]
	for _, r := range s[1:octave] {
		switch r {
		case 'b', '♭':
			name += g.flat
		case '#', '♯':
			name += g.sharp
		default:
			return head{}, false
		}
	}
	return head{7*n + letter, name}, true
}

// tallest is how many rows the line of the notes has at most.
const tallest = 8

// drawContour draws notes as high as they are written, one after another, with their names
// below: how the figure moves, without lines. Rows are steps of the scale where there is
// room for them.
func (r *room) drawContour(a area, notes []string) {
	var heads []head
	for _, n := range notes {
		if h, ok := r.g.parseNote(n); ok {
			heads = append(heads, h)
		}
	}
	if len(heads) == 0 || a.height < 2 {
		return
	}
	each := 4
	if len(heads)*each > a.width {
		each = 3
	}
	cut := false
	if most := a.width/each - 1; len(heads) > most+1 {
		heads, cut = heads[:max(most, 1)], true
	}
	low, high := heads[0].step, heads[0].step
	for _, h := range heads {
		low, high = min(low, h.step), max(high, h.step)
	}
	steps := high - low
	rows := min(steps+1, a.height-1, tallest)
	// Where there are fewer rows than steps, a head is half a row high.
	levels, halves := rows, steps+1 > rows
	if halves {
		levels = min(2*rows, steps+1)
	}
	for i, h := range heads {
		y := 0
		if steps > 0 {
			y = ((high-h.step)*(levels-1)*2 + steps) / (2 * steps) // to the nearest
		}
		x, sign := a.x+i*each, r.g.note
		if halves {
			sign, y = r.g.halves[y%2], y/2
		}
		r.canvas.put(x, a.y+y, sign, bold)
		r.canvas.put(x, a.y+rows, h.name, plain)
	}
	if cut {
		r.canvas.put(a.x+len(heads)*each, a.y+rows, r.g.more, plain)
	}
}
