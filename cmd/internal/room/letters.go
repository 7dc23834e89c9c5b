package room

import (
	"strings"
	"unicode"
)

// pictures are capital letters, five points high, row by row.
var pictures = map[rune]string{
	'A': ".#./#.#/###/#.#/#.#", 'B': "##./#.#/##./#.#/##.", 'C': ".##/#../#../#../.##", 'D': "##./#.#/#.#/#.#/##.",
	'E': "###/#../##./#../###", 'F': "###/#../##./#../#..", 'G': ".##./#.../#.##/#..#/.##.", 'H': "#.#/#.#/###/#.#/#.#",
	'I': "#/#/#/#/#", 'J': "..#/..#/..#/#.#/.#.", 'K': "#.#/#.#/##./#.#/#.#", 'L': "#../#../#../#../###",
	'M': "#...#/##.##/#.#.#/#...#/#...#", 'N': "#..#/##.#/#.##/#..#/#..#", 'O': ".##./#..#/#..#/#..#/.##.",
	'P': "##./#.#/##./#../#..", 'Q': ".##./#..#/#..#/#.#./.#.#", 'R': "##./#.#/##./#.#/#.#", 'S': ".##/#../.#./..#/##.",
	'T': "###/.#./.#./.#./.#.", 'U': "#..#/#..#/#..#/#..#/.##.", 'V': "#.#/#.#/#.#/#.#/.#.", 'W': "#...#/#...#/#.#.#/##.##/#...#",
	'X': "#.#/#.#/.#./#.#/#.#", 'Y': "#.#/#.#/.#./.#./.#.", 'Z': "###/..#/.#./#../###",
	'0': ".#./#.#/#.#/#.#/.#.", '1': ".#./##./.#./.#./###", '2': "##./..#/.#./#../###", '3': "##./..#/.#./..#/##.",
	'4': "#.#/#.#/###/..#/..#", '5': "###/#../##./..#/##.", '6': ".##/#../###/#.#/###", '7': "###/..#/.#./.#./.#.",
	'8': "###/#.#/###/#.#/###", '9': "###/#.#/###/..#/##.", '♭': "#../#../##./#.#/##.", '♯': ".#.#./#####/.#.#./#####/.#.#.",
	',': "../../../.#/#.", '.': "././././#", ':': "./#/./#/.", ';': "../.#/../.#/#.", '-': ".../.../###/.../...",
	'–': ".../.../###/.../...", '(': ".#/#./#./#./.#", ')': "#./.#/.#/.#/#.", '/': "..#/..#/.#./#../#..",
	'+': ".../.#./###/.#./...", '=': ".../###/.../###/...", '\'': "#/#/././.", '’': "#/#/././.", '"': "#.#/#.#/.../.../...",
	'%': "#..#/..#./.#../#..#/....", '!': "#/#/#/./#", '?': "##./..#/.#./.../.#.", '×': ".../#.#/.#./#.#/...", ' ': "././././.",
}

// letterRows is how many rows a line of large letters takes, with the space below it.
const letterRows = 3

// picture is a letter's picture, a capital's for a small one.
func picture(letter rune) (string, bool) {
	if p, ok := pictures[letter]; ok {
		return p, true
	}
	p, ok := pictures[unicode.ToUpper(letter)]
	return p, ok
}

// letterWidth is how many columns words take in large letters; false where some letter has
// no picture.
func (g *glyphs) letterWidth(s string) (int, bool) {
	total := -1
	for _, letter := range s {
		p, ok := picture(letter)
		if !ok {
			return 0, false
		}
		total += strings.IndexByte(p, '/') + 1
	}
	return max(total, 0), !g.ascii
}

// letters draws words in large letters, two points to a cell one above the other.
func (c *canvas) letters(x, y int, s string) {
	for _, letter := range s {
		p, _ := picture(letter)
		wide := strings.IndexByte(p, '/')
		point := func(column, row int) bool { return row < 5 && p[row*(wide+1)+column] == '#' }
		for row := range letterRows {
			for column := range wide {
				switch upper, lower := point(column, 2*row), point(column, 2*row+1); {
				case upper && lower:
					c.set(x+column, y+row, "█", 1, plain)
				case upper:
					c.set(x+column, y+row, "▀", 1, plain)
				case lower:
					c.set(x+column, y+row, "▄", 1, plain)
				}
			}
		}
		x += wide + 1
	}
}

// largeLines breaks words, which were cleaned, into lines of large letters for so many
// columns; false where a word is too long, or has letters without a picture.
func (g *glyphs) largeLines(words string, columns int) ([]string, bool) {
	var lines []string
	line := ""
	for _, word := range strings.Fields(words) {
		if w, ok := g.letterWidth(word); !ok || w > columns {
			return nil, false
		}
		if line == "" {
			line = word
			continue
		}
		if w, _ := g.letterWidth(line + " " + word); w <= columns {
			line += " " + word
			continue
		}
		lines, line = append(lines, line), word
	}
	return append(lines, line), line != ""
}

// sayLarge writes words in large letters where they fit in the area, else bold, and reports
// what is left of the area.
func (r *room) sayLarge(a area, words string) area {
	words = r.g.clean(words)
	lines, ok := r.g.largeLines(words, a.width)
	if !ok || len(lines)*letterRows > a.height {
		return r.paragraph(a, words, bold)
	}
	for _, line := range lines {
		r.canvas.letters(a.x, a.y, line)
		a = a.below(letterRows)
	}
	return a
}
