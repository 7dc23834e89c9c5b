package room

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"onward/cmd/internal/session"
)

// toSlips goes through a read up to the slips, without look-over.
func (p *player) toSlips() {
	p.Helper()
	p.press("enter")
	p.pass(time.Second)
	p.press("enter")
	p.pass(time.Minute)
	p.at(session.Slips)
}

func TestChoosing(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.sees("ENTER starts: read: march, rung 5", "you played 78 % of the measures right", "▶     style       ◀ march ▶")
		p.golden("choose")
		p.press("right")
		p.sees("read: lyrical, rung 6", "6  Minor")
		p.press("down", "left", "j", "l", "down", "left", "h", "down", "right")
		p.sees("rung 5, 90 % tempo", "◀ 45 s ▶", "trombone")
		p.press("down", "right", "down", "right", "right", "down", "right")
		p.sees("[x] panel", "[ ] cover", "[x] drop-out", "panel, drop-out")
		p.press("?")
		p.sees("Keys", "change the line", "the record of your weeks")
		p.golden("help")
		p.press("?", "enter")
		c := p.studio.made[0]
		if c.Style != "lyrical" || c.Rung != 5 || c.Instrument != "trombone" || c.Percent != 90 || c.LookOver != 45*time.Second ||
			strings.Join(c.Pressure, " ") != "panel drop-out" {
			t.Errorf("made %+v", c)
		}
	})
}

// Any step of a day is started with one key.
func TestAStepByItsNumber(t *testing.T) {
	day(t, &studio{plan: true}, func(p *player) {
		p.press("9")
		p.at(session.Choose)
		p.press("3")
		p.at(session.Exercise)
		if c := p.studio.made; len(c) != 1 || c[0].Kind != session.Drill {
			t.Errorf("made %+v, want the drill", c)
		}
	})
}

// What the journal cannot tell is said, and asked again.
func TestNoOffer(t *testing.T) {
	s := &studio{refuse: errOf("the journal is held by another program")}
	day(t, s, func(p *player) {
		p.sees("the journal is held by another program", "ENTER asks the journal again")
		p.golden("no-offer")
		s.refuse = nil
		p.press("enter")
		p.sees("read: march, rung 5")
		s.refuse = errOf("there is no room left on the disk")
		p.press("enter")
		p.at(session.Choose)
		p.sees("there is no room left on the disk")
	})
}

type errOf string

func (e errOf) Error() string { return string(e) }

// In a take there is nothing to press: the one way out must be meant.
func TestTheWayOutOfATake(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.press("enter")
		p.pass(time.Second)
		p.press("enter")
		p.pass(5 * time.Second)
		p.at(session.Take)
		p.press("enter", "space", "p", "s", "?", "w", "up", "1", "tab")
		p.at(session.Take)
		p.press("esc")
		p.sees("Press it again to leave: the take is kept as a stop.")
		before := p.screen()
		p.pass(2100 * time.Millisecond)
		p.sees("ESC ESC leave")
		if strings.Count(before, "\n") != strings.Count(p.screen(), "\n") {
			t.Error("the warning moved the screen")
		}
		p.press("q")
		p.at(session.Take)
		p.press("x", "esc")
		p.at(session.Slips)
		p.sees("stopped at measure")
		p.press("q")
		p.sees("Press it again to go and leave the take unmarked.")
		p.press("right", "q")
		p.at(session.Slips) // another key came between
		p.press("q")
		p.at(session.Choose)
		if len(p.studio.kept) != 0 {
			t.Errorf("kept %q", p.studio.kept)
		}
	})
}

// One press too many, or a key held down, chooses nothing in the place after.
func TestAKeyHeldDown(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.pass(time.Second)
		for range 100 {
			p.receive(tea.KeyMsg{Type: tea.KeyEnter})
			p.pass(30 * time.Millisecond)
		}
		p.at(session.LookOver)
		p.press("enter")
		p.at(session.CountIn)
	})
}

// Keys that come in one piece, or faster than the session answers, are done in their order.
func TestFastKeys(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.toSlips()
		p.receive(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("ljjljhjj")}) // measures 1, 2, 1
		p.receive(tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune("s")})
		p.sees("measure 1, Introduction: as written", "1 of 25 slipped; stopped at measure 1")
		p.settle()
		p.sees("measure 1, Introduction: as written", "1 of 25 slipped; stopped at measure 1")
		p.press("enter")
		if want := "2 pitch; stopped 1"; p.studio.kept[0] != want {
			t.Errorf("kept %q, want %q", p.studio.kept, want)
		}
	})
}

// What takes long says what it is, and one may go back from it.
func TestMaking(t *testing.T) {
	day(t, &studio{slow: 4 * time.Second}, func(p *player) {
		p.press("enter")
		p.at(session.Making)
		p.pass(2500 * time.Millisecond)
		p.golden("making")
		p.press("esc")
		p.at(session.Choose)
		p.press("enter")
		p.pass(5 * time.Second)
		p.press("enter")
		p.pass(time.Minute)
		p.press("enter")
		p.at(session.Making)
		p.sees("The take goes into the journal.")
		p.pass(5 * time.Second)
		p.at(session.Meaning)
	})
}

// What the other screen did meanwhile is not done twice.
func TestTwoScreens(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.pass(time.Second)
		if err := p.session.Do(session.Action{Do: session.DoStart}); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		p.receive(tea.KeyMsg{Type: tea.KeyEnter}) // the room still shows the choice
		p.settle()
		p.at(session.LookOver)
		if len(p.studio.made) != 1 || p.room.notice != "" || len(p.room.deeds) != 0 {
			t.Errorf("made %d pages, says %q, %d deeds left", len(p.studio.made), p.room.notice, len(p.room.deeds))
		}
		if err := p.session.Do(session.Action{Do: session.DoGo}); err != nil {
			t.Fatal(err)
		}
		p.settle()
		p.at(session.CountIn)
	})
}

func TestMarking(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.toSlips()
		p.sees("Mark the measures that slipped; kept going", "the upbeat, Introduction: as written")
		for _, step := range []struct{ keys, want string }{
			{"p", "pitch"}, {"r", "pitch and rhythm"}, {"p", "rhythm"}, {"b", "pitch and rhythm"}, {"b", "as written"},
			{"down", "pitch"}, {"down", "rhythm"}, {"down", "pitch and rhythm"}, {"down", "as written"}, {"up", "pitch and rhythm"},
		} {
			p.press(step.keys)
			p.sees("the upbeat, Introduction: " + step.want)
		}
		p.press("tab", "s")
		p.sees("measure 5, First strain", "stopped at measure 5", "! 5")
		p.press("s", "tab", "tab", "left", "left")
		p.sees("the upbeat", "kept going")
		p.press("2", "3")
		p.sees("measure 23, Trio")
		p.press("2", "7") // there is no 27
		p.sees("measure 7,")
		p.pass(2 * time.Second)
		p.press("1")
		p.sees("measure 1,")
		p.press("?")
		p.sees("you stopped playing here", "the measure with this number")
		p.golden("help-slips")
		p.press("x")
		p.studio.refuse = errOf("the journal is full")
		p.press("enter")
		p.at(session.Slips)
		p.sees("the journal is full", "the upbeat", "0pr")
	})
}

// Of a panel's take there is no second try.
func TestWaysOn(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.toSlips()
		p.press("enter")
		p.sees("25 of 25 measures right", "▶ next read: march, rung 5: The same rung once more.", "this page again", "trap: measure 18")
		p.golden("meaning-right")
		p.press("down", "enter")
		p.at(session.LookOver)
		if len(p.studio.made) != 1 {
			t.Error("the page was made anew")
		}
	})
	day(t, &studio{}, func(p *player) {
		p.press("down", "down", "down", "down", "down", "right")
		p.toSlips()
		p.press("enter")
		p.at(session.Meaning)
		if strings.Contains(p.screen(), "again") {
			t.Errorf("a panel hears a page twice:\n%s", p.screen())
		}
	})
}

// Under cover the map hides what is behind.
func TestCover(t *testing.T) {
	day(t, &studio{}, func(p *player) {
		p.press("down", "down", "down", "down", "down", "down", "right")
		p.press("enter")
		p.pass(time.Second)
		p.press("enter")
		p.pass(1500 * time.Millisecond)
		p.at(session.CountIn)
		p.sees(" 0   1   2   3   4")
		p.pass(5 * time.Second)
		p.at(session.Take)
		p.sees("░░  ░░", "▶ 4")
		p.golden("take-cover")
	})
}

// What comes next is said as a player would: sections, repeats, endings, the end.
func TestWhatIsNext(t *testing.T) {
	page := &session.Page{}
	for n := range 7 { // an upbeat, then measures 1 to 6; 4 is the first ending, 5 the second
		page.Measures = append(page.Measures, session.Measure{Number: n, Section: "Strain", First: n == 1})
	}
	page.Measures[0].Section = ""
	page.Measures[6] = session.Measure{Number: 6, Section: "Trio", First: true}
	take := &session.Running{}
	for i, m := range []int{-1, 0, 1, 2, 3, 4, 1, 2, 3, 5, 6} {
		b := session.Beat{At: time.Duration(i) * time.Second, Measure: m, Number: max(m, 0), Pass: 1, Beat: 1, Of: 1}
		if i >= 6 && i < 10 {
			b.Pass = 2
		}
		take.Beats = append(take.Beats, b)
	}
	var now time.Duration
	r := newRoom(&frozen{state: session.State{Place: session.Take, Page: page, Take: take}, clock: func() time.Duration { return now }}, nil,
		Options{Environ: []string{"LANG=C.UTF-8"}})
	for i, want := range []string{"then: Strain, the upbeat", "in 5 measures: back to measure 1, second time", "in 4 measures: back to measure 1, second time",
		"in 3 measures: back to measure 1, second time", "in 2 measures: back to measure 1, second time", "next: back to measure 1, second time",
		"in 3 measures: on to measure 5", "in 2 measures: on to measure 5", "next: on to measure 5", "next: Trio, measure 6", "the last measure"} {
		now = take.Beats[i].At
		r.look()
		if got := r.nextWords(); got != want {
			t.Errorf("beat %d: %q, want %q", i, got, want)
		}
	}
}

// A room opened in the midst of a rest has a clock no wider than it needs.
func TestOpenedLate(t *testing.T) {
	now := 1000 * time.Hour
	p := &frozen{clock: func() time.Duration { return now }}
	p.state = session.State{Place: session.Rest, Ends: session.Maybe{At: now + 90*time.Second, Set: true}}
	r := newRoom(p, nil, Options{Environ: []string{"LANG=C.UTF-8"}})
	if r.whole != "1:30" {
		t.Errorf("made for %q, want 1:30", r.whole)
	}
}

// A clock that jumps, as when a lid was shut, shows where the take is then.
func TestLookAgainAfterASleep(t *testing.T) {
	var ahead time.Duration
	synctest.Test(t, func(t *testing.T) {
		start := time.Now()
		take := &session.Running{Beats: beatsOf(march()), End: time.Minute}
		p := &frozen{state: session.State{Place: session.Take, Page: march(), Take: take, Stopped: session.Kept, Step: -1},
			clock: func() time.Duration { return time.Since(start) + ahead }}
		r := newRoom(p, nil, Options{Environ: []string{"LANG=C.UTF-8"}})
		r.look()
		ahead = 20 * time.Second
		if wait := r.untilNews(); wait > glance {
			t.Errorf("looks again after %v, want %v at most", wait, glance)
		}
		r.Update(tickMsg{r.tick})
		if screen := r.draw().text(false); !strings.Contains(screen, "in 4 measures: Trio, measure 13") {
			t.Errorf("after 20 s:\n%s", screen)
		}
	})
}

// Every place at every size, one after another.
func TestResize(t *testing.T) {
	day(t, &studio{plan: true}, func(p *player) {
		all := func() {
			t.Helper()
			for w := 1; w <= 130; w += 7 {
				for h := 1; h <= 45; h += 3 {
					p.receive(tea.WindowSizeMsg{Width: w, Height: h})
					check(t, p.room)
				}
			}
			p.resize(80, 24)
		}
		all()
		p.press("1")
		all()
		p.press("esc", "2")
		all()
		p.press("esc", "4")
		all()
		p.press("enter")
		all()
		p.pass(4 * time.Second)
		all()
		p.pass(time.Minute)
		all()
		p.press("p", "enter")
		p.at(session.Meaning)
		all()
		p.press("q", "w")
		p.at(session.Record)
		all()
	})
}

// long is a page of a thousand measures.
func long(session.Choice) *session.Page {
	p := &session.Page{Kind: session.Read, Title: "A long one"}
	for n := 1; n <= 1000; n++ {
		p.Measures = append(p.Measures, session.Measure{Number: n, Section: "Section " + itoa(n/100+1), First: n%100 == 1})
	}
	return p
}

func TestAThousandMeasures(t *testing.T) {
	day(t, &studio{page: long}, func(p *player) {
		p.press("enter")
		p.pass(time.Second)
		p.press("enter")
		p.pass(987*time.Second + 3*time.Second)
		p.at(session.Take)
		p.golden("take-long")
		p.pass(time.Minute)
		p.at(session.Slips)
		p.press("9", "8", "7", "b")
		p.golden("slips-long")
		p.press("enter")
		p.sees("999 of 1000")
	})
}

// Where the locale is no UTF-8, the screen is ASCII.
func TestASCII(t *testing.T) {
	day(t, &studio{plan: true}, func(p *player) {
		p.room.g = glyphsFor([]string{"LANG=en_US.ISO-8859-1"})
		all := func(name string) {
			t.Helper()
			check(t, p.room)
			compare(t, "ascii-"+name+".txt", p.screen()+"\n")
		}
		all("choose")
		p.press("1")
		all("warm-up")
		p.press("esc", "4")
		all("look-over")
		p.press("enter")
		p.pass(8 * time.Second)
		all("take")
		p.pass(time.Minute)
		p.press("right", "b", "enter")
		all("meaning")
	})
}

func TestTheLocale(t *testing.T) {
	for _, c := range []struct {
		environ []string
		ascii   bool
	}{
		{[]string{"LANG=de_DE.UTF-8"}, false}, {[]string{"LANG=C.utf8"}, false}, {[]string{"LANG=C"}, true},
		{[]string{"LANG=de_DE.UTF-8", "LC_ALL=C"}, true}, {[]string{"LANG=C", "LC_CTYPE=C.UTF-8"}, false},
		{[]string{"LC_ALL=", "LANG=C.UTF-8"}, false},
	} {
		if got := glyphsFor(c.environ).ascii; got != c.ascii {
			t.Errorf("%q: ASCII %v, want %v", c.environ, got, c.ascii)
		}
	}
}

// Every key is told in the help of its place, and no key means two things there.
func TestKeysAreOneTable(t *testing.T) {
	for place := range placeWords {
		seen := map[string]string{}
		told := map[string]bool{}
		for i := range bindings {
			b := &bindings[i]
			if !b.in(place) {
				continue
			}
			if b.help == "" || b.shown == "" || told[b.shown] && b.shown != "UPDOWN" {
				t.Errorf("%s: %q is told wrongly: %q", place, b.shown, b.help)
			}
			told[b.shown] = true
			for _, k := range b.keys {
				if seen[k] != "" {
					t.Errorf("%s: %q means %q and %q", place, k, seen[k], b.help)
				}
				seen[k] = b.help
			}
		}
		if leaves := seen["q"] != "" && seen["esc"] != "" && seen["ctrl+c"] != ""; !leaves {
			t.Errorf("%s: there is no way out", place)
		}
		if _, goes := seen["enter"]; goes == (inTake(place) || place == session.Making) {
			t.Errorf("%s: ENTER goes on: %v", place, goes)
		}
	}
}
