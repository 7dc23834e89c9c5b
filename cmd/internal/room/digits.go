package room

import "strconv"

// A size is how large a digit is drawn: strokes and the holes between them, in rows and in
// columns. A column is about half as wide as a row is high.
type size struct{ strokeRows, holeRows, strokeColumns, holeColumns int }

// sizes are those of digits, the largest first: 25, 20, 15, 10, 8 and 5 rows high.
var sizes = []size{{5, 5, 10, 10}, {4, 4, 8, 8}, {3, 3, 6, 6}, {2, 2, 4, 4}, {2, 1, 4, 3}, {1, 1, 2, 2}}

func (z size) rows() int    { return 3*z.strokeRows + 2*z.holeRows }
func (z size) columns() int { return 2*z.strokeColumns + z.holeColumns }

// gap is the room between two digits.
func (z size) gap() int { return max(z.strokeColumns/2, 1) }

// wide is how many columns a number or time takes.
func (z size) wide(s string) int {
	total := 0
	for i := range len(s) {
		if i > 0 {
			total += z.gap()
		}
		if s[i] == ':' {
			total += z.strokeColumns
			continue
		}
		total += z.columns()
	}
	return total
}

// fitting is the largest size at which all of these stand side by side in so many columns and
// rows, apart columns between them; false where not even the smallest does.
func fitting(columns, rows, apart int, all ...string) (size, bool) {
	for _, z := range sizes {
		total := -apart
		for _, s := range all {
			total += z.wide(s) + apart
		}
		if z.rows() <= rows && total <= columns {
			return z, true
		}
	}
	return size{}, false
}

// strokes of a digit, by bit: top, upper left, upper right, middle, lower left, lower right, bottom.
var strokes = map[byte]uint{'0': 0b1110111, '2': 0b1011101, '3': 0b1101101, '4': 0b0101110, '5': 0b1101011,
	'6': 0b1111011, '7': 0b0100101, '8': 0b1111111, '9': 0b1101111, '-': 0b0001000}

// large draws a number ("12", "-") or a time ("4:30") with its top left at x, y.
func (c *canvas) large(x, y int, z size, s string, g *glyphs) {
	for i := range len(s) {
		switch s[i] {
		case ':':
			c.fill(x, y+z.strokeRows, z.strokeColumns, z.strokeRows, g.block)
			c.fill(x, y+z.rows()-2*z.strokeRows, z.strokeColumns, z.strokeRows, g.block)
			x += z.strokeColumns + z.gap()
			continue
		case '1':
			c.fill(x+(z.columns()-z.strokeColumns)/2, y, z.strokeColumns, z.rows(), g.block)
		default:
			c.strokes(x, y, z, strokes[s[i]], g.block)
		}
		x += z.columns() + z.gap()
	}
}

func (c *canvas) strokes(x, y int, z size, which uint, block string) {
	half := z.strokeRows + z.holeRows
	right := x + z.strokeColumns + z.holeColumns
	for bit, r := range [7][4]int{
		{x, y, z.columns(), z.strokeRows},
		{x, y, z.strokeColumns, half + z.strokeRows},
		{right, y, z.strokeColumns, half + z.strokeRows},
		{x, y + half, z.columns(), z.strokeRows},
		{x, y + half, z.strokeColumns, half + z.strokeRows},
		{right, y + half, z.strokeColumns, half + z.strokeRows},
		{x, y + 2*half, z.columns(), z.strokeRows},
	} {
		if which&(1<<bit) != 0 {
			c.fill(r[0], r[1], r[2], r[3], block)
		}
	}
}

// seconds is a time as it is shown large: "45", or from a minute on "1:05".
func seconds(n int) string {
	if n < 60 {
		return strconv.Itoa(n)
	}
	s := strconv.Itoa(n % 60)
	if len(s) < 2 {
		s = "0" + s
	}
	return strconv.Itoa(n/60) + ":" + s
}
