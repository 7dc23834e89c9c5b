package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the goldens again")

// now is a Wednesday.
var now = time.Date(2026, 11, 25, 20, 0, 0, 0, time.UTC)

// three weeks of a player: eight takes.
func three() *Summary {
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, time.UTC) }
	figures := []Met{
		{"three notes up the scale, on two eighths", "F major", []int{0, 1, 2, 3, 4, 5}},
		{"three notes up the chord, on four eighths", "E-flat major", []int{6, 7}},
	}
	loads := []float64{1, 1, 1, 1, 1, 1, 2, 2}
	var takes []Take
	add := func(start time.Time, long time.Duration, style string, rung, percent, stopped int, slips ...int) {
		takes = append(takes, Take{Started: start, Ended: start.Add(long), Style: style, Rung: rung, Percent: percent, Measures: 8,
			Marked: true, Slipped: slips, StoppedAt: stopped, Loads: loads, Figures: figures})
	}
	add(at(1, 12, 0), time.Hour, "march", 9, 100, -1) // before the weeks that are asked for
	add(at(10, 12, 0), 2*time.Minute, "march", 3, 100, -1, 6)
	add(at(10, 12, 4), 3*time.Minute, "march", 3, 100, -1, 6, 7)
	add(at(17, 12, 0), 4*time.Minute, "march", 4, 80, 6)
	add(at(23, 23, 58), 5*time.Minute, "lyrical", 2, 100, -1)
	add(at(24, 12, 0), 90*time.Second, "march", 4, 100, -1, 7)
	add(at(25, 12, 0), 2*time.Minute, "march", 5, 100, -1, 6, 7)
	takes = append(takes,
		Take{Started: at(25, 12, 3), Ended: at(25, 12, 5), Style: "piece", Percent: 100, StoppedAt: -1},
		Take{Started: at(26, 12, 0), Ended: at(26, 12, 5), Style: "march", Rung: 12, Percent: 100, StoppedAt: -1}) // not yet
	return Summarize(takes, Question{Player: "Ann", Now: now, Weeks: 3, Next: &Next{Style: "march", Rung: 5, Coverage: 0.85, New: 1, Percent: 90,
		Pressure: []string{"cover"}, Why: []string{"You read 79 % of the last takes right.", "That is just under the aim."}}})
}

// golden compares text with testdata/name.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || got != string(want) {
		t.Errorf("%s: %v; got\n%s\nwant\n%s", path, err, got, want)
	}
}

func text(t testing.TB, s *Summary, columns int) string {
	t.Helper()
	var b strings.Builder
	if err := s.WriteText(&b, columns); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestText(t *testing.T) {
	golden(t, "three.txt", text(t, three(), Columns))
	golden(t, "narrow.txt", text(t, three(), Narrow))
	golden(t, "empty.txt", text(t, Summarize(nil, Question{Now: now, Weeks: 1}), Columns))
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", "  ")
	if err := e.Encode(three()); err != nil {
		t.Fatal(err)
	}
	golden(t, "three.json", b.String())
}

// The numbers of three, by hand.
func TestSummarize(t *testing.T) {
	s := three()
	got := fmt.Sprintf("%d takes, %.1f minutes, %.1f rest, %d running of %d, %d marked, %d of %d", s.Takes, s.Minutes, s.Rest, s.Streak, s.Longest, s.Marked, s.Right, s.Of)
	// Of the 8 measures each: 7, 6, 6 of 7 played, 8, 7 and 6.
	if want := "7 takes, 19.5 minutes, 3.0 rest, 3 running of 3, 6 marked, 40 of 47"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if d := s.Weeks[2].Days[0]; d.Date != "2026-11-23" || d.Minutes != 5 || d.Takes != 1 {
		t.Errorf("a take over midnight is not its first day's: %+v", d)
	}
	if h := s.Styles[0].Heard[2]; h.Load != 0.8 { // six measures of load 1, at 80 %
		t.Errorf("load %v, want 0.8", h.Load)
	}
	if h := s.Styles[0].Heard[0]; h.Load != math.Round(8000./7)/1000 {
		t.Errorf("load %v, want 8/7", h.Load)
	}
	if len(s.Figures) != 1 || s.Figures[0] != (Weak{"three notes up the chord, on four eighths", 7, 11}) {
		t.Errorf("weak %+v", s.Figures)
	}
}

// Days are those of the player's place, and a week has seven though the clock is changed in
// it (the European Union's rule: on the last Sunday of October at 1:00 UTC, Directive
// 2000/84/EC).
func TestDaysAreOfThePlace(t *testing.T) {
	place, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Skip("no time zones are here: ", err)
	}
	start := time.Date(2026, 10, 31, 23, 30, 0, 0, time.UTC) // Sunday there
	s := Summarize([]Take{{Started: start, Ended: start.Add(time.Minute), Style: "march", Rung: 1, Percent: 100}},
		Question{Now: time.Date(2026, 11, 2, 1, 0, 0, 0, place), Weeks: 3})
	if d := s.Weeks[1].Days[6]; d.Date != "2026-11-01" || d.Takes != 1 {
		t.Errorf("Sunday: %+v", d)
	}
	if s.Streak != 1 || s.Weeks[0].Days[0].Date != "2026-10-19" || s.Weeks[2].Days[0].Date != "2026-11-02" {
		t.Errorf("streak %d, weeks from %s to %s", s.Streak, s.Weeks[0].Days[0].Date, s.Weeks[2].Days[0].Date)
	}
}

// anySummary is of takes drawn at random, names with letters that pages and terminals mind.
var anySummary = rapid.Custom(func(t *rapid.T) *Summary {
	name := rapid.SampledFrom([]string{"march", "lyrical", "<b>&\"'", strings.Repeat("long ", 30), "ünï ♭", "", "\x1b[2J\x00", "x]]>", "a-name-that-is-longer-than-its-column"})
	take := rapid.Custom(func(t *rapid.T) Take {
		measures := rapid.IntRange(0, 40).Draw(t, "measures")
		start := now.Add(-time.Duration(rapid.Int64Range(0, int64(60*24*time.Hour)).Draw(t, "ago")))
		index := rapid.SliceOfN(rapid.IntRange(-1, 45), 0, 10)
		return Take{Started: start, Ended: start.Add(time.Duration(rapid.IntRange(-1, 5000).Draw(t, "seconds")) * time.Second),
			Style: name.Draw(t, "style"), Rung: rapid.IntRange(0, 12).Draw(t, "rung"), Percent: rapid.IntRange(25, 100).Draw(t, "percent"),
			Measures: measures, Marked: rapid.Bool().Draw(t, "marked"), Slipped: index.Draw(t, "slipped"),
			StoppedAt: rapid.IntRange(-1, 45).Draw(t, "stopped"), Loads: rapid.SliceOfN(rapid.Float64Range(0, 20), 0, 45).Draw(t, "loads"),
			Figures: []Met{{name.Draw(t, "figure"), name.Draw(t, "key"), index.Draw(t, "where")}}}
	})
	q := Question{Player: name.Draw(t, "player"), Now: now, Weeks: rapid.IntRange(1, 30).Draw(t, "weeks")}
	if rapid.Bool().Draw(t, "proposed") {
		q.Next = &Next{Style: name.Draw(t, "next"), Rung: 1, Percent: 100, Why: []string{name.Draw(t, "why")}}
	}
	return Summarize(rapid.SliceOfN(take, 0, 30).Draw(t, "takes"), q)
})

// No line but the title is wider than a terminal; sums agree.
func TestTextFits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := anySummary.Draw(rt, "summary")
		columns := rapid.SampledFrom([]int{Narrow, Columns}).Draw(rt, "columns")
		for i, line := range strings.Split(text(t, s, columns), "\n") {
			if strings.ContainsFunc(line, unicode.IsControl) && i > 0 {
				rt.Errorf("a terminal would obey %q", line)
			}
			if n := utf8.RuneCountInString(line); n > columns && i > 0 {
				rt.Errorf("%d wide: %q", n, line)
			}
		}
		var sum, styles Total
		for _, w := range s.Weeks {
			for _, d := range w.Days {
				sum.Takes += d.Takes
				sum.plus(d.Share)
			}
		}
		for _, y := range s.Styles {
			styles.Takes += y.Takes
			styles.plus(y.Share)
		}
		if all := (Total{Takes: s.Takes, Share: s.Share}); sum != all || styles != all || s.Streak > s.Longest {
			rt.Errorf("days %+v, styles %+v, all %+v, streak %d of %d", sum, styles, all, s.Streak, s.Longest)
		}
	})
}

// elements reads a page as XML, which it is, too, and reports how often each element stands
// in it and every attribute.
func elements(page string) (count map[string]int, attributes []xml.Attr, err error) {
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict = true
	count = map[string]int{}
	for {
		token, err := d.Token()
		if err == io.EOF {
			return count, attributes, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if e, ok := token.(xml.StartElement); ok {
			count[e.Name.Local]++
			attributes = append(attributes, e.Attr...)
		}
	}
}

// outside finds what a page would fetch or run.
var outside = regexp.MustCompile(`(?i)https?:|//|url\(|@import|\bsrc=|\bhref=|<script|\bon\w+=|<link|<iframe|<image|<use`)

func TestPage(t *testing.T) {
	var b strings.Builder
	if err := three().WritePage(&b); err != nil {
		t.Fatal(err)
	}
	count, _, err := elements(b.String())
	if err != nil {
		t.Fatal(err)
	}
	if count["svg"] != 4 || count["details"] != 4 || count["table"] != 6 || count["path"] < 20 || count["text"] < 20 {
		t.Errorf("elements %v", count)
	}
	for _, want := range []string{"<title>Journal of Ann: 3 weeks to 25 November 2026</title>", "three notes up the chord, on four eighths",
		"E-flat major", "aim, 80 to 90 %", `aria-label="Minutes a day. 20 min in 7 takes`, "prefers-color-scheme: dark", "@media print", "stroke:var(--s0)", "fill:var(--band)"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q", want)
		}
	}
	if left := regexp.MustCompile(`style="[^"]*#[0-9A-Fa-f]{6}`).FindString(b.String()); left != "" {
		t.Errorf("a colour that is not the page's: %s", left)
	}
	var empty strings.Builder
	if err := Summarize(nil, Question{Now: now, Weeks: 1}).WritePage(&empty); err != nil {
		t.Fatal(err)
	}
	if count, _, err := elements(empty.String()); err != nil || count["svg"] != 0 || strings.Count(empty.String(), "nothing to show yet") != 6 {
		t.Errorf("an empty page: %v, %v", count, err)
	}
}

// Whatever was played, the page is well-formed, and asks for nothing from elsewhere.
func TestPageStandsAlone(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var b strings.Builder
		if err := anySummary.Draw(rt, "summary").WritePage(&b); err != nil {
			rt.Fatal(err)
		}
		if found := outside.FindString(b.String()); found != "" {
			rt.Errorf("%q in the page", found)
		}
		_, attributes, err := elements(b.String())
		if err != nil {
			rt.Fatal(err)
		}
		ids := map[string]bool{}
		for _, a := range attributes {
			if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
				rt.Errorf("%s=%q", a.Name.Local, a.Value)
			}
			if a.Name.Local == "id" && ids[a.Value] {
				rt.Errorf("id %q twice", a.Value)
			}
			ids[a.Value] = ids[a.Value] || a.Name.Local == "id"
		}
	})
}
