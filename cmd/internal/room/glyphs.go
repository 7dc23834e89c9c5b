package room

import (
	"runtime"
	"strings"
)

// glyphs are the signs that the screens draw with.
type glyphs struct {
	ascii                                   bool
	block, hidden                           string // of digits; of a measure that is covered
	beat, rest                              string // of a beat that is there, and one to come
	note, here, done, left, right, more     string
	flat, sharp, upDown, leftRight, dot, to string
	rule                                    string
	halves                                  [2]string // a note in the upper half of a row, in the lower
}

var (
	full = glyphs{block: "█", hidden: "░", beat: "●", rest: "○", note: "●", here: "▶", done: "✓", left: "◀", right: "▶", more: "…",
		flat: "♭", sharp: "♯", upDown: "↑↓", leftRight: "←→", dot: "·", to: "–", rule: "─", halves: [2]string{"▀▀", "▄▄"}}
	simple = glyphs{ascii: true, block: "#", hidden: "x", beat: "O", rest: ".", note: "o", here: ">", done: "x", left: "<", right: ">", more: "...",
		flat: "b", sharp: "#", upDown: "up/down", leftRight: "left/right", dot: "-", to: "-", rule: "-", halves: [2]string{"''", ".."}}
)

// glyphsFor are those that a terminal with this environment shows: plain ASCII where its
// locale has another encoding than UTF-8 (POSIX: LC_ALL before LC_CTYPE before LANG).
func glyphsFor(environ []string) *glyphs {
	env := map[string]string{}
	for _, e := range environ {
		if name, value, ok := strings.Cut(e, "="); ok {
			env[name] = value
		}
	}
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if env[name] == "" {
			continue
		}
		value := strings.ToLower(env[name])
		if strings.Contains(value, "utf-8") || strings.Contains(value, "utf8") {
			return &full
		}
		return &simple
	}
	if runtime.GOOS == "windows" { // its console takes any letter, and has no locale to say so
		return &full
	}
	return &simple
}
