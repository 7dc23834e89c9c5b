package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"
)

// Columns is how wide the text usually is, Narrow how wide where there is less room.
const (
	Columns = 80
	Narrow  = 58
)

const fieldWidth = 11

// hardSpace stands for a space at which no line is broken.
const hardSpace = "\x00"

// bars are from nearly nothing to the most.
var bars = []rune("▁▂▃▄▅▆▇█")

// bar is the bar of a value among values up to most; a dot for nothing.
func bar(value, most float64) string {
	if value <= 0 || most <= 0 {
		return "·"
	}
	return string(bars[min(len(bars)-1, max(0, int(math.Ceil(value/most*float64(len(bars))))-1))])
}

// WriteText writes the summary, no line wider than so many columns, which are Narrow at
// least.
func (s *Summary) WriteText(w io.Writer, columns int) error {
	var b strings.Builder
	field := func(word, text string) { writeField(&b, word, text, columns) }
	b.WriteString(s.Title() + "\n\n")
	s.writeWeeks(&b, columns)
	b.WriteString("\n")
	field("streak", s.streakWords())
	field("playing", s.playingWords())
	field("right", s.rightWords())
	for i := range s.Styles {
		y := &s.Styles[i]
		field(y.Name, y.rungWords())
		if len(y.Heard) > 0 {
			field("", y.picture())
		}
	}
	for i, weak := range s.Figures {
		field([]string{"weak", ""}[min(i, 1)], weak.String())
	}
	for i, weak := range s.Keys {
		field([]string{"keys", ""}[min(i, 1)], weak.String())
	}
	field("next", s.Next.words())
	_, err := io.WriteString(w, b.String())
	return err
}

// Title says whose weeks these are, and which.
func (s *Summary) Title() string {
	whose := "Your journal"
	if s.Player != "" {
		whose = "Journal of " + s.Player
	}
	return fmt.Sprintf("%s: %s to %s", whose, plural(len(s.Weeks), "week"), s.Made.Format("2 January 2006"))
}

// writeWeeks draws a line for each week, a bar and the minutes for each day.
func (s *Summary) writeWeeks(b *strings.Builder, columns int) {
	week, day, sums := 10, 6, [...]int{9, 7, 8}
	if columns < Columns {
		week, day, sums = 7, 5, [...]int{4, 6, 6}
	}
	most := 0.0
	for _, w := range s.Weeks {
		for _, d := range w.Days {
			most = max(most, d.Minutes)
		}
	}
	fmt.Fprintf(b, "%-*s", week, "week of")
	for _, d := range []string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"} {
		fmt.Fprintf(b, "%*s", day, d)
	}
	minutes := "minutes"
	if len(minutes) >= sums[0] {
		minutes = "min"
	}
	fmt.Fprintf(b, "%*s%*s%*s\n", sums[0], minutes, sums[1], "takes", sums[2], "right")
	for _, w := range s.Weeks {
		fmt.Fprintf(b, "%-*s", week, shortDay(w.Days[0].Date))
		for _, d := range w.Days {
			minutes := ""
			if d.Takes > 0 {
				minutes = fmt.Sprintf("%.0f", math.Ceil(d.Minutes))
			}
			fmt.Fprintf(b, "%*s %s", day-2, minutes, bar(d.Minutes, most))
		}
		share := ""
		if w.Of > 0 {
			share = fmt.Sprintf("%.0f %%", w.Percent())
		}
		b.WriteString(strings.TrimRight(fmt.Sprintf("%*.0f%*d%*s", sums[0], w.Minutes, sums[1], w.Takes, sums[2], share), " ") + "\n")
	}
}

// shortDay says a date as "23 Nov".
func shortDay(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.Format("2 Jan")
}

func (s *Summary) streakWords() string {
	switch {
	case s.Longest == 0:
		return "none yet: a few minutes a day count"
	case s.Streak == 0:
		return fmt.Sprintf("none now; the longest was %s", plural(s.Longest, "day"))
	case s.Streak < s.Longest:
		return fmt.Sprintf("%s running; the longest was %s", plural(s.Streak, "day"), plural(s.Longest, "day"))
	}
	return plural(s.Streak, "day") + " running, the longest so far"
}

func (s *Summary) playingWords() string {
	words := fmt.Sprintf("%s in %s, and %s of rest between them", minutes(s.Minutes), plural(s.Takes, "take"), minutes(s.Rest))
	if s.Minutes >= 10 && s.Rest < s.Minutes/2 {
		words += ": rest as long as you play"
	}
	return words
}

func (s *Summary) rightWords() string {
	if s.Of == 0 {
		return "not marked yet: say after a take which measures slipped"
	}
	words := fmt.Sprintf("%.0f %% of %s, in %s that %s marked", s.Percent(), plural(s.Of, "measure"), plural(s.Marked, "take"),
		map[bool]string{true: "is", false: "are"}[s.Marked == 1])
	return words + fmt.Sprintf("; the aim is %.0f to %.0f %%", Aim[0], Aim[1])
}

// rungWords says how the rung went, and what share came out right.
func (y *Style) rungWords() string {
	var words []string
	for i, r := range y.Rungs {
		if i == 0 {
			words = append(words, fmt.Sprintf("rung %d", r.Rung))
			continue
		}
		words = append(words, fmt.Sprintf("%d from %s", r.Rung, shortDay(r.Date)))
	}
	if len(words) == 0 {
		words = []string{"printed pieces have no rung"}
	}
	const shown = 8
	if over := len(words) - shown; over > 0 {
		words = append([]string{fmt.Sprintf("rung %d at first, … ", y.Rungs[0].Rung)}, words[over:]...)
	}
	text := strings.Join(words, ", ") + "; " + plural(y.Takes, "take")
	if y.Of > 0 {
		text += fmt.Sprintf(", %.0f %% right", y.Percent())
	}
	return text
}

// pictured is how many of the latest takes are drawn.
const pictured = 40

// picture draws what share of each take came out right.
func (y *Style) picture() string {
	latest := y.Heard[max(0, len(y.Heard)-pictured):]
	var b strings.Builder
	for _, h := range latest {
		b.WriteString(bar(max(h.Percent(), 1), 100))
	}
	return b.String() + " right, take by take"
}

// String says how often it slipped.
func (w Weak) String() string {
	return fmt.Sprintf("%s: slipped %d of %d times", w.Words, w.Slipped, w.Of)
}

// words say what was proposed.
func (n *Next) words() string {
	if n == nil {
		return "nothing is proposed yet: mark a take, and the next read follows from it"
	}
	words := fmt.Sprintf("%s, rung %d", n.Style, n.Rung)
	if n.Coverage > 0 {
		words += fmt.Sprintf(", %.0f %% of the notes in figures you know", 100*n.Coverage)
	}
	if n.New > 0 {
		words += ", " + plural(n.New, "new figure")
	}
	if n.Percent != 100 {
		words += fmt.Sprintf(", at %d %% of the tempo", n.Percent)
	}
	if len(n.Pressure) > 0 {
		words += ", with " + strings.Join(n.Pressure, " and ")
	}
	if len(n.Why) > 0 {
		words += ". " + strings.Join(n.Why, " ")
	}
	return words
}

// minutes says a time: "50 min", "3 h 20 min".
func minutes(m float64) string {
	n := int(math.Round(m))
	if n < 60 {
		return fmt.Sprintf("%d min", n)
	}
	return fmt.Sprintf("%d h %d min", n/60, n%60)
}

// plural says how many: "1 day", "3 days".
func plural(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// writeField writes a text after its word, broken into lines; a longer word has a line of its
// own.
func writeField(b *strings.Builder, word, text string, columns int) {
	margin := strings.Repeat(" ", fieldWidth)
	if clipped := []rune(word); len(clipped) >= fieldWidth {
		b.WriteString(string(clipped[:min(len(clipped), columns)]) + "\n")
		word = ""
	}
	line := fmt.Sprintf("%-*s", fieldWidth, word)
	for _, part := range strings.Fields(strings.ReplaceAll(text, " %", hardSpace+"%")) {
		part = strings.ReplaceAll(part, hardSpace, " ")
		switch n := len([]rune(line)); {
		case n == fieldWidth:
			line += part
		case n+1+len([]rune(part)) > columns:
			b.WriteString(line + "\n")
			line = margin + part
		default:
			line += " " + part
		}
	}
	b.WriteString(line + "\n")
}
