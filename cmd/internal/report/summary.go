package report

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Aim is the share of measures right, in percent, at which a take is neither too easy nor
// too hard: what the ladder aims at.
var Aim = [2]float64{80, 90}

// restLimit is the longest time between two takes that is rest; a longer one is something
// else.
const restLimit = 30 * time.Minute

// A Question is what is asked of a journal.
type Question struct {
	Player string
	Now    time.Time // days are those of its place
	Weeks  int       // at least 1, this one included; they begin on Mondays
	Next   *Next     // what was proposed last; nil for nothing
}

// A Next is what was proposed.
type Next struct {
	Style    string   `json:"style"`
	Rung     int      `json:"rung"`
	Coverage float64  `json:"coverage"` // 0 to 1
	New      int      `json:"new"`
	Percent  int      `json:"percent"`
	Pressure []string `json:"pressure"`
	Why      []string `json:"why"` // sentences
}

// A Summary is what a journal shows of some weeks.
type Summary struct {
	Player  string    `json:"player,omitempty"`
	Made    time.Time `json:"made"`
	Weeks   []Week    `json:"weeks"` // oldest first
	Takes   int       `json:"takes"`
	Minutes float64   `json:"minutes"` // played
	Rest    float64   `json:"rest"`    // minutes between takes of one sitting
	// Streak is how many days running have a take, up to today or yesterday; Longest is the
	// longest there ever was.
	Streak  int     `json:"streak"`
	Longest int     `json:"longest"`
	Marked  int     `json:"marked"` // takes
	Share           // of the measures of these
	Styles  []Style `json:"styles"` // the most played first
	Figures []Weak  `json:"weak_figures"`
	Keys    []Weak  `json:"weak_keys"`
	Next    *Next   `json:"next"`
}

// A Week begins on Monday.
type Week struct {
	Days [7]Day `json:"days"`
	Total
}

// A Day is what was played on it.
type Day struct {
	Date string `json:"date"` // as 2026-11-25
	Total
}

// A Total is what was played.
type Total struct {
	Minutes float64 `json:"minutes"`
	Takes   int     `json:"takes"`
	Share           // of the measures of marked takes
}

// A Style is what was played in a style.
type Style struct {
	Name  string  `json:"style"`
	Takes int     `json:"takes"`
	Share         // of the measures of marked takes
	Rungs []Step  `json:"rungs"`  // each time the rung was another
	Heard []Heard `json:"played"` // marked takes, oldest first
}

// A Step is the rung from a day on.
type Step struct {
	Date string    `json:"date"`
	Rung int       `json:"rung"`
	At   time.Time `json:"at"`
}

// A Heard take is how one was.
type Heard struct {
	At time.Time `json:"at"`
	Share
	Load float64 `json:"load"` // mean load of the measures that came out right, figures a second; 0 for not known
}

// A Weak thing slips oftener than the rest.
type Weak struct {
	Words   string `json:"words"`
	Slipped int    `json:"slipped"`
	Of      int    `json:"of"`
}

// Summarize says what the takes show, which may be in any order.
func Summarize(takes []Take, q Question) *Summary {
	takes = slices.DeleteFunc(slices.Clone(takes), func(t Take) bool { return t.Started.After(q.Now) }) // a clock was wrong
	for i := range takes {
		takes[i].clean()
	}
	slices.SortStableFunc(takes, func(a, b Take) int { return a.Started.Compare(b.Started) })
	s := &Summary{Player: printable(q.Player), Made: q.Now, Next: q.Next.clean(), Styles: []Style{}}
	s.Streak, s.Longest = streaks(takes, q.Now)
	first := monday(q.Now).AddDate(0, 0, -7*(q.Weeks-1))
	for w := range q.Weeks {
		var week Week
		for d := range week.Days {
			week.Days[d].Date = first.AddDate(0, 0, 7*w+d).Format(time.DateOnly)
		}
		s.Weeks = append(s.Weeks, week)
	}
	inside := slices.DeleteFunc(takes, func(t Take) bool { return t.Started.Before(first) })
	for i := range inside {
		s.add(&inside[i], first)
		if i > 0 {
			if gap := inside[i].Started.Sub(inside[i-1].Ended); gap > 0 && gap <= restLimit {
				s.Rest += gap.Minutes()
			}
		}
	}
	slices.SortStableFunc(s.Styles, func(a, b Style) int { return cmp.Compare(b.Takes, a.Takes) })
	s.Figures = weakest(inside, func(m Met) string { return m.Figure })
	s.Keys = weakest(inside, func(m Met) string { return m.Key })
	return s
}

// clean leaves out of all words what neither a terminal nor a page should get.
func (t *Take) clean() {
	t.Style = printable(t.Style)
	t.Figures = slices.Clone(t.Figures)
	for i := range t.Figures {
		f := &t.Figures[i]
		f.Figure, f.Key = printable(f.Figure), printable(f.Key)
	}
}

// clean likewise.
func (n *Next) clean() *Next {
	if n == nil {
		return nil
	}
	c := *n
	c.Style = printable(n.Style)
	c.Pressure, c.Why = []string{}, []string{}
	for _, p := range n.Pressure {
		c.Pressure = append(c.Pressure, printable(p))
	}
	for _, w := range n.Why {
		c.Why = append(c.Why, printable(w))
	}
	return &c
}

// midnight is the beginning of the day of t.
func midnight(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}

// monday is the beginning of the week of t.
func monday(t time.Time) time.Time {
	return midnight(t).AddDate(0, 0, -(int(t.Weekday())+6)%7)
}

// add counts a take; first is the beginning of the first week.
func (s *Summary) add(t *Take, first time.Time) {
	minutes, share := max(0, t.Ended.Sub(t.Started).Minutes()), t.share()
	here := t.Started.In(first.Location())
	day := int(math.Round(midnight(here).Sub(first).Hours() / 24)) // a day may have 23 hours
	week := &s.Weeks[day/7]
	for _, total := range []*Total{&week.Total, &week.Days[day%7].Total} {
		total.Minutes += minutes
		total.Takes++
		total.plus(share)
	}
	s.Takes++
	s.Minutes += minutes
	s.plus(share)
	style := s.style(t.Style)
	style.Takes++
	style.plus(share)
	if n := len(style.Rungs); t.Rung > 0 && (n == 0 || style.Rungs[n-1].Rung != t.Rung) {
		style.Rungs = append(style.Rungs, Step{here.Format(time.DateOnly), t.Rung, here})
	}
	if share.Of > 0 {
		s.Marked++
		style.Heard = append(style.Heard, Heard{here, share, math.Round(1000*t.loadRight()) / 1000})
	}
}

// style finds the style of the name, or begins it.
func (s *Summary) style(name string) *Style {
	i := slices.IndexFunc(s.Styles, func(y Style) bool { return y.Name == name })
	if i < 0 {
		i = len(s.Styles)
		s.Styles = append(s.Styles, Style{Name: name, Rungs: []Step{}, Heard: []Heard{}})
	}
	return &s.Styles[i]
}

// streaks counts days that follow each other with a take on each: those up to today or
// yesterday, and the longest.
func streaks(takes []Take, now time.Time) (streak, longest int) {
	var last time.Time
	run := 0
	for _, t := range takes {
		day := midnight(t.Started.In(now.Location()))
		switch {
		case run > 0 && day.Equal(last):
			continue
		case run > 0 && day.Equal(last.AddDate(0, 0, 1)):
			run++
		default:
			run = 1
		}
		last = day
		longest = max(longest, run)
	}
	if run > 0 && !last.Before(midnight(now).AddDate(0, 0, -1)) {
		streak = run
	}
	return streak, longest
}

const (
	weakShown = 5 // weak things that are named
	weakMet   = 3 // what was met seldomer says nothing
	weakPrior = 4 // times as the average that are added to what was met, so that few do not weigh much
	// weakSure is by how many standard deviations of chance (binomial) the slips are to be
	// over the average: one thing of ten that are no weaker than the rest is named.
	weakSure = 1.28
)

// weakest lists what slips clearly oftener than the average, the weakest first. what names the thing
// that a figure belongs to.
func weakest(takes []Take, what func(Met) string) []Weak {
	shares := map[string]Share{}
	var all Share
	for i := range takes {
		outcome := takes[i].outcome()
		for _, f := range takes[i].Figures {
			name := what(f)
			s := shares[name]
			for _, m := range f.Measures {
				if m >= 0 && m < len(outcome) {
					s.add(outcome[m])
					all.add(outcome[m])
				}
			}
			shares[name] = s
		}
	}
	if all.Of == 0 {
		return []Weak{}
	}
	average := float64(all.Of-all.Right) / float64(all.Of)
	rate := func(w Weak) float64 { return (float64(w.Slipped) + weakPrior*average) / (float64(w.Of) + weakPrior) }
	weak := []Weak{}
	for name, s := range shares {
		w := Weak{name, s.Of - s.Right, s.Of}
		over, chance := float64(w.Slipped)-average*float64(w.Of), math.Sqrt(float64(w.Of)*average*(1-average))
		if name != "" && w.Of >= weakMet && over > weakSure*chance {
			weak = append(weak, w)
		}
	}
	slices.SortFunc(weak, func(a, b Weak) int { return cmp.Or(cmp.Compare(rate(b), rate(a)), cmp.Compare(a.Words, b.Words)) })
	return weak[:min(len(weak), weakShown)]
}

// printable leaves out control characters.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return -1
		}
		return r
	}, text)
}
