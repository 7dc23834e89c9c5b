package room

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Digits are as large as they are said to be, and none looks like another.
func TestDigits(t *testing.T) {
	for _, z := range sizes {
		seen := map[string]string{}
		for _, s := range []string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "-", ":", "10", "1:05"} {
			var c canvas
			c.clear(z.wide(s)+4, z.rows()+2)
			c.large(2, 1, z, s, &full)
			text := c.text(false)
			if other := seen[text]; other != "" {
				t.Errorf("%d rows: %q looks like %q", z.rows(), s, other)
			}
			seen[text] = s
			lines := strings.Split(text, "\n")
			for i, line := range lines {
				if (i == 0 || i == len(lines)-1) && line != "" || width(line) > z.wide(s)+2 || strings.HasPrefix(line, "█") || strings.HasPrefix(line, " █") {
					t.Fatalf("%d rows: %q stands outside its place:\n%s", z.rows(), s, text)
				}
			}
		}
	}
}

func TestFitting(t *testing.T) {
	for _, c := range []struct {
		columns, rows, want int
		all                 []string
	}{
		{118, 31, 25, []string{"99", "9"}}, {78, 15, 15, []string{"99", "9"}}, {78, 14, 10, []string{"99", "9"}},
		{58, 14, 10, []string{"999", "9"}}, {57, 14, 8, []string{"999", "9"}}, {58, 14, 5, []string{"9999", "9"}}, {30, 4, 0, []string{"9"}}, {5, 40, 0, []string{"9"}},
	} {
		z, fits := fitting(c.columns, c.rows, 6, c.all...)
		if got := z.rows(); got != c.want || fits != (c.want > 0) {
			t.Errorf("%q in %d columns, %d rows: %d rows high, want %d", c.all, c.columns, c.rows, got, c.want)
		}
	}
}

func TestSeconds(t *testing.T) {
	for n, want := range map[int]string{0: "0", 59: "59", 60: "1:00", 65: "1:05", 600: "10:00", 3599: "59:59"} {
		if got := seconds(n); got != want {
			t.Errorf("%d s: %q, want %q", n, got, want)
		}
	}
}

// Letters are five points high, as wide in each row, and none looks like another but the
// two dashes and the two apostrophes.
func TestPictures(t *testing.T) {
	seen := map[string]rune{}
	for letter, p := range pictures {
		rows := strings.Split(p, "/")
		for _, row := range rows {
			if len(rows) != 5 || len(row) != len(rows[0]) || strings.Trim(row, "#.") != "" {
				t.Errorf("%q is not a picture five points high: %q", letter, p)
			}
		}
		other, had := seen[p]
		if had && !strings.ContainsRune("-–'’", letter) {
			t.Errorf("%q looks like %q", letter, other)
		}
		seen[p] = letter
	}
}

func TestLargeLines(t *testing.T) {
	for _, c := range []struct {
		words   string
		columns int
		want    string
	}{
		{"Trio", 80, "Trio"}, {"first strain", 80, "first strain"}, {"first strain", 30, "first|strain"},
		{"first strain", 15, ""}, {"行進曲", 80, ""}, {"", 80, ""}, {"A♭ and F♯", 80, "A♭ and F♯"},
	} {
		lines, ok := full.largeLines(c.words, c.columns)
		if got := strings.Join(lines, "|"); ok != (c.want != "") || ok && got != c.want {
			t.Errorf("%q in %d columns: %q, %v; want %q", c.words, c.columns, got, ok, c.want)
		}
		if _, ok := simple.largeLines(c.words, c.columns); ok {
			t.Errorf("%q in blocks on an ASCII terminal", c.words)
		}
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		words   string
		columns int
		want    []string
	}{
		{"a read at sight", 7, []string{"a read", "at", "sight"}}, {"a read at sight", 9, []string{"a read at", "sight"}},
		{"  much   room  ", 40, []string{"much room"}}, {"", 10, nil}, {"sightreading", 5, []string{"sight", "readi", "ng"}},
		{"行進曲 march", 5, []string{"行進", "曲", "march"}}, {"行進曲", 1, []string{"行", "進", "曲"}},
	} {
		if got := wrap(c.words, c.columns); !slices.Equal(got, c.want) {
			t.Errorf("%q in %d columns: %q, want %q", c.words, c.columns, got, c.want)
		}
	}
}

func TestCut(t *testing.T) {
	for _, c := range []struct {
		words   string
		columns int
		want    string
	}{
		{"march", 5, "march"}, {"march", 4, "mar…"}, {"march", 0, ""}, {"行進曲", 6, "行進曲"}, {"行進曲", 5, "行進…"}, {"行進曲", 4, "行…"},
		{"e\u0301tude", 3, "e\u0301t…"},
	} {
		if got := full.cut(c.words, c.columns); got != c.want {
			t.Errorf("%q to %d columns: %q, want %q", c.words, c.columns, got, c.want)
		}
	}
}

func TestClean(t *testing.T) {
	for _, c := range []struct{ words, want, ascii string }{
		{"March", "March", "March"}, {"a\x1b[2Jb", "a[2Jb", "a[2Jb"}, {"two\nlines", "two lines", "two lines"}, {"B♭ – grüßen", "B♭ – grüßen", "Bb - gruessen"},
		{"\u202eback", "back", "?back"}, {"\u009b2J", "2J", "2J"}, {"行", "行", "?"},
	} {
		if got := full.clean(c.words); got != c.want {
			t.Errorf("%q: %q, want %q", c.words, got, c.want)
		}
		if got := simple.clean(c.words); got != c.ascii {
			t.Errorf("%q in ASCII: %q, want %q", c.words, got, c.ascii)
		}
	}
}

// A higher note stands higher, or as high where there are too few rows; the next step stands
// higher where there are rows enough, which there are twice as many of with half notes heads.
func TestContour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steps := rapid.SliceOfN(rapid.IntRange(28, 45), 1, 12).Draw(t, "steps")
		height := rapid.IntRange(2, 12).Draw(t, "rows")
		var notes []string
		for _, s := range steps {
			notes = append(notes, fmt.Sprintf("%c%d", "CDEFGAB"[s%7], s/7))
		}
		r := newRoom(&frozen{}, nil, Options{Environ: []string{"LANG=C.UTF-8"}, Width: 60, Height: height})
		r.canvas.clear(60, height)
		r.drawContour(area{0, 0, 60, height}, notes)
		high := make([]int, len(steps)) // in half rows, from the top
		for i := range steps {
			high[i] = -1
			for y := range height {
				switch r.canvas.cells[y*60+i*4].text {
				case "●", "▀":
					high[i] = 2 * y
				case "▄":
					high[i] = 2*y + 1
				}
			}
			if high[i] < 0 {
				t.Fatalf("%q has no head:\n%s", notes[i], r.canvas.text(false))
			}
		}
		span := slices.Max(steps) - slices.Min(steps)
		for i := range steps {
			for k := range steps {
				higher := steps[i] > steps[k]
				if higher && high[i] > high[k] || steps[i] == steps[k] && high[i] != high[k] ||
					higher && high[i] == high[k] && span+1 <= 2*min(height-1, tallest) {
					t.Fatalf("%q and %q:\n%s", notes[i], notes[k], r.canvas.text(false))
				}
			}
		}
	})
}

func TestParseNote(t *testing.T) {
	for s, want := range map[string]head{"C4": {28, "C"}, "Bb3": {27, "B♭"}, "F##5": {38, "F♯♯"}, "G-1": {-3, "G"}} {
		if got, ok := full.parseNote(s); !ok || got != want {
			t.Errorf("%q: %+v, %v; want %+v", s, got, ok, want)
		}
	}
	for _, s := range []string{"", "H4", "C", "4", "Cx4", "C4x", "C99"} {
		if got, ok := full.parseNote(s); ok {
			t.Errorf("%q is taken for %+v", s, got)
		}
	}
}
