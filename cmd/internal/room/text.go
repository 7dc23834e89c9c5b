package room

import (
	"strings"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"
)

// width is how many columns s takes.
func width(s string) int { return ansi.StringWidth(s) }

// clean makes words that came from outside, such as a page's title, fit to be shown: in one
// line, with nothing in them that a terminal would obey.
func (g *glyphs) clean(s string) string {
	if !strings.ContainsFunc(s, g.odd) {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		switch {
		case !g.odd(r):
			b.WriteRune(r)
		case r == '\n' || r == '\t' || r == '\r' || r == '\u00a0':
			b.WriteByte(' ')
		case g.ascii:
			b.WriteString(plainLetters[r])
			if plainLetters[r] == "" && r >= ' ' && r != 0x7f && (r < 0x80 || r > 0x9f) {
				b.WriteByte('?')
			}
		}
	}
	return b.String()
}

// odd reports whether the terminal cannot simply show r.
func (g *glyphs) odd(r rune) bool {
	return r < ' ' || r >= 0x7f && r <= 0x9f || r == utf8.RuneError ||
		r >= 0x200b && r <= 0x200f || r >= 0x2028 && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || // directions
		g.ascii && r >= 0x80
}

// plainLetters are what stands for letters that an ASCII terminal does not have.
var plainLetters = map[rune]string{
	'♭': "b", '♯': "#", '♮': "n", '–': "-", '—': "-", '…': "...", '’': "'", '‘': "'", '“': `"`, '”': `"`, '×': "x",
	'→': "->", '←': "<-", '·': "-", '•': "-", 'ä': "ae", 'ö': "oe", 'ü': "ue", 'Ä': "Ae", 'Ö': "Oe", 'Ü': "Ue",
	'ß': "ss", 'à': "a", 'á': "a", 'â': "a", 'ã': "a", 'å': "a", 'ç': "c", 'è': "e", 'é': "e", 'ê': "e", 'ë': "e",
	'ì': "i", 'í': "i", 'î': "i", 'ï': "i", 'ñ': "n", 'ò': "o", 'ó': "o", 'ô': "o", 'õ': "o", 'ø': "o", 'ù': "u",
	'ú': "u", 'û': "u", 'É': "E", 'È': "E", 'À': "A", '½': "1/2", '¼': "1/4", '°': "o",
}

// cut shortens s to so many columns, and shows that it did.
func (g *glyphs) cut(s string, columns int) string {
	if columns <= 0 {
		return ""
	}
	if width(s) <= columns {
		return s
	}
	if columns <= width(g.more) {
		return ansi.Truncate(s, columns, "")
	}
	return ansi.Truncate(s, columns, g.more)
}

// wrap breaks s into lines of so many columns at most, between words where it can.
func wrap(s string, columns int) []string {
	columns = max(columns, 2) // the widest letter
	var lines []string
	line, room := "", columns
	for _, word := range strings.Fields(s) {
		for {
			w := width(word)
			if line != "" && w+1 <= room {
				line, room = line+" "+word, room-w-1
				break
			}
			if line != "" {
				lines, line, room = append(lines, line), "", columns
			}
			if w <= columns {
				line, room = word, columns-w
				break
			}
			head := ansi.Truncate(word, columns, "")
			if head == "" {
				break // nothing of it can be shown
			}
			lines, word = append(lines, head), word[len(head):]
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
