package room

import (
	"github.com/charmbracelet/x/ansi"
)

// A weight is how a cell is written. No weight says anything that plain text does not.
type weight uint8

const (
	plain   weight = 0
	bold    weight = 1
	reverse weight = 2
)

// A cell is one column of one row.
type cell struct {
	text   string // what stands there, "" for nothing
	weight weight
	tail   bool // the right half of what is two columns wide
}

// A canvas is the screen as columns and rows, counted from 0 at the top left. What is put
// outside it is cut off.
type canvas struct {
	width, height int
	cells         []cell
	bytes         []byte // of the text last made, kept for the next
}

// largest is the most columns or rows that are drawn: no terminal is larger, and a terminal
// that says so is wrong.
const largest = 1000

// clear makes the canvas empty, with so many columns and rows.
func (c *canvas) clear(width, height int) {
	c.width, c.height = min(max(width, 1), largest), min(max(height, 1), largest)
	n := c.width * c.height
	if cap(c.cells) < n {
		c.cells = make([]cell, n)
	}
	c.cells = c.cells[:n]
	clear(c.cells)
}

// put writes s, which was cleaned, from column x of row y on, and reports the column after it.
func (c *canvas) put(x, y int, s string, w weight) int {
	for len(s) > 0 {
		n, columns := 1, 1
		if s[0] >= 0x80 || len(s) > 1 && s[1] >= 0x80 { // else plain letters, and no accent follows
			_, columns, n, _ = ansi.DecodeSequence(s, ansi.NormalState, nil)
			if n == 0 {
				break
			}
		}
		c.set(x, y, s[:n], columns, w)
		x += columns
		s = s[n:]
	}
	return x
}

// set puts one letter into its cell, or two cells where it is wide.
func (c *canvas) set(x, y int, s string, columns int, w weight) {
	if columns < 1 || y < 0 || y >= c.height || x < 0 || x+columns > c.width {
		return
	}
	at := y*c.width + x
	if c.cells[at].tail { // what stood on the left is cut in half
		c.cells[at-1] = cell{}
	}
	for i := range columns {
		c.cells[at+i] = cell{weight: w, tail: i > 0}
	}
	c.cells[at].text = s
	if next := at + columns; next%c.width != 0 && next < len(c.cells) && c.cells[next].tail {
		c.cells[next] = cell{}
	}
}

// fill writes s, which is one column wide, all over a rectangle.
func (c *canvas) fill(x, y, width, height int, s string) {
	for row := y; row < y+height; row++ {
		for column := x; column < x+width; column++ {
			c.set(column, row, s, 1, plain)
		}
	}
}

// turns are the sequences that begin a weight; each first ends the one before.
var turns = [...]string{plain: "\x1b[0m", bold: "\x1b[0;1m", reverse: "\x1b[0;7m", bold | reverse: "\x1b[0;1;7m"}

// text is the canvas row by row, without blanks at the ends of rows; weighted says whether
// with sequences for the weights.
func (c *canvas) text(weighted bool) string {
	b := c.bytes[:0]
	for y := range c.height {
		if y > 0 {
			b = append(b, '\n')
		}
		row := c.cells[y*c.width : (y+1)*c.width]
		end := len(row)
		for end > 0 && (row[end-1].text == "" || row[end-1].text == " ") && !row[end-1].tail && row[end-1].weight&reverse == 0 {
			end--
		}
		now := plain
		for i := range row[:end] {
			cell := &row[i]
			if weighted && cell.weight != now {
				now = cell.weight
				b = append(b, turns[now]...)
			}
			switch {
			case cell.text != "":
				b = append(b, cell.text...)
			case !cell.tail:
				b = append(b, ' ')
			}
		}
		if now != plain {
			b = append(b, turns[plain]...)
		}
	}
	c.bytes = b
	return string(b)
}
