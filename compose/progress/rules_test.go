package progress_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"onward/compose/figure"
	"onward/compose/progress"
)

// settled is a history of a player who reads the rung as aimed at, 14 of 16 right.
func settled(t testing.TB, rung, takes int) []progress.Take {
	l := rungs(t)
	var history []progress.Take
	for i := range takes {
		history = append(history, take(l, i, rung, 2+i%2))
	}
	return history
}

// after is the ask on the day after the history.
func after(history []progress.Take) progress.Ask {
	return progress.Ask{Style: "march", Now: history[len(history)-1].At.Add(24 * time.Hour)}
}

func TestReadIsTheTakesOneByOne(t *testing.T) {
	l := rungs(t)
	history := settled(t, 5, 12)
	m := progress.New(l)
	for _, one := range history {
		m.Add(one)
	}
	ask := after(history)
	want := progress.Read(history, l).Next(ask)
	for range 3 { // asking changes nothing
		if got := m.Next(ask); !reflect.DeepEqual(got, want) {
			t.Fatalf("got %+v, want %+v", got, want)
		}
	}
}

func TestAStopSlowsTheTempoBeforeTheRung(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 20)
	before := progress.Read(history, l).Next(after(history))
	stop := func(rung, percent int) {
		one := take(l, len(history), rung, 0)
		one.Percent, one.StoppedAt = percent, 9
		history = append(history, one)
	}
	stop(before.Rung, before.Percent)
	p := progress.Read(history, l).Next(after(history))
	if p.Rung != before.Rung || p.Percent > before.Percent-10 || p.Pressure != nil || p.New != 0 {
		t.Errorf("after a stop: got %+v, want rung %d slower than %d %%, nothing new", p, before.Rung, before.Percent)
	}
	stop(p.Rung, 80)
	stop(p.Rung, 70)
	if q := progress.Read(history, l).Next(after(history)); q.Rung != p.Rung-1 || q.Percent > 90 {
		t.Errorf("after stops at 80 and 70 %%: got %+v, want rung %d at 90 %% or slower", q, p.Rung-1)
	}
}

func TestOneRungUpAtATime(t *testing.T) {
	l := rungs(t)
	history := settled(t, 4, 20)
	for i := range 15 { // all right, and stays where it is easy
		history = append(history, take(l, 20+i, 4, 0))
	}
	if at, _ := progress.Read(history, l).Rung(after(history)); at < 5.5 {
		t.Fatalf("believed on rung %.1f, want more for the test to tell something", at)
	}
	for rung := 4; rung < 7; rung++ {
		p := progress.Read(history, l).Next(after(history))
		if p.Rung != rung+1 {
			t.Fatalf("from rung %d to %d, want one up", rung, p.Rung)
		}
		history = append(history, take(l, len(history), p.Rung, 0))
	}
}

func TestWhoPlaysALowRungForFunIsNotHeldThere(t *testing.T) {
	l := rungs(t)
	history := settled(t, 8, 20)
	history = append(history, take(l, 20, 2, 0))
	if p := progress.Read(history, l).Next(after(history)); p.Rung < 7 {
		t.Errorf("after one read of rung 2: got rung %d, want 7 or more", p.Rung)
	}
}

func TestAPauseGivesAnEasierReadAndLessCertainty(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 20)
	m := progress.Read(history, l)
	ask := after(history)
	at, sure := m.Rung(ask)
	soon := m.Next(ask)
	for _, days := range []int{7, 14, 60, 2000} {
		ask.Now = history[len(history)-1].At.AddDate(0, 0, days)
		late := m.Next(ask)
		lateAt, lateSure := m.Rung(ask)
		if late.Rung*late.Percent >= soon.Rung*soon.Percent || late.Rung < soon.Rung-1 {
			t.Errorf("after %d days: rung %d at %d %%, want easier than %d at %d %%, by a rung at most", days, late.Rung, late.Percent, soon.Rung, soon.Percent)
		}
		if lateAt >= at || lateSure <= sure {
			t.Errorf("after %d days: believed rung %.1f ± %.1f, want less and less certain than %.1f ± %.1f", days, lateAt, lateSure, at, sure)
		}
	}
}

func TestPressureRisesWithComfortAndFallsWithABreak(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 20)
	var offered []string
	next := func() progress.Proposal { return progress.Read(history, l).Next(after(history)) }
	for range 60 {
		p := next()
		one := take(l, len(history), p.Rung, 2)
		if slices.Contains(p.Why, "") || len(p.Why) < 2 {
			t.Fatalf("reasons %q for %+v: want a sentence each", p.Why, p)
		}
		if p.Pressure != nil {
			if len(history[len(history)-1].Pressure) > 0 {
				t.Fatalf("pressure twice running: %v after %v", p.Pressure, history[len(history)-1].Pressure)
			}
			if one.Pressure = p.Pressure; !slices.Contains(offered, p.Pressure[0]) {
				offered = append(offered, p.Pressure[0])
			}
		}
		history = append(history, one)
	}
	if !slices.Equal(offered, progress.Pressures) {
		t.Fatalf("offered in this order: %v, want %v", offered, progress.Pressures)
	}
	one := take(l, len(history), 6, 2)
	one.Pressure, one.StoppedAt = []string{"panel"}, 5
	history = append(history, one)
	if p := next(); p.Pressure != nil {
		t.Errorf("after a break: got %v, want no pressure", p.Pressure)
	}
	for i := range 12 {
		if p := next(); p.Pressure != nil {
			if p.Pressure[0] != "cover" || i < 3 {
				t.Errorf("after a break before the panel and %d comfortable takes: got %v, want cover after three", i, p.Pressure)
			}
			return
		}
		history = append(history, take(l, len(history), 6, 2))
	}
	t.Error("no pressure was offered again in 12 comfortable takes")
}

func TestPressureIsNotAskedOfWhoStruggles(t *testing.T) {
	l := rungs(t)
	var history []progress.Take
	for i := range 30 {
		history = append(history, take(l, i, 5, 5))
		if p := progress.Read(history, l).Next(after(history)); p.Pressure != nil || p.New != 0 {
			t.Fatalf("after %d takes with 11 of 16 right: got %+v, want no pressure and nothing new", i+1, p)
		}
	}
}

// What the page turned out to be decides the tempo in the end.
func TestAHarderPageIsSlower(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 20)
	m, ask := progress.Read(history, l), after(history)
	p := m.Next(ask)
	page := slices.Clone(history[0].Measures)
	usual, expected := m.Tempo(ask, p, page)
	if usual != p.Percent || expected < progress.Least {
		t.Errorf("the usual page: %d %% with %.2f right, want the %d %% proposed", usual, expected, p.Percent)
	}
	for i := range page {
		page[i].Load *= 1.3
	}
	if hard, _ := m.Tempo(ask, p, page); hard >= usual || hard < 70 {
		t.Errorf("a page of 1.3 times the load: %d %%, want slower than %d %%, not below 70", hard, usual)
	}
	for i := range page {
		page[i].Load = 0.1
	}
	if easy, expected := m.Tempo(ask, p, page); easy != p.Percent || expected < 0.95 {
		t.Errorf("an easy page: %d %% with %.2f right, want %d %% and nearly all", easy, expected, p.Percent)
	}
	if percent, expected := m.Tempo(ask, p, nil); percent != p.Percent || expected != 1 {
		t.Errorf("no page: %d %%, %v", percent, expected)
	}
}

func TestWeakFiguresAndKeysAreWanted(t *testing.T) {
	l := rungs(t)
	turn := figure.Figure{Shape: "turn", Cell: "four sixteenths"}
	scale := figure.Figure{Shape: "five up the scale", Cell: "two eighths"}
	flats := figure.Family{Signs: -2}
	history := settled(t, 6, 30)
	for i := range history {
		keys := figure.Family{}
		if i%3 == 0 {
			keys = flats
		}
		for j := range history[i].Measures {
			m := &history[i].Measures[j]
			m.Key, m.Pitch = keys, false
			if m.Figures = []figure.Figure{scale}; j%4 == 0 {
				m.Figures = append(m.Figures, turn)
				m.Pitch = (i+j/4)%2 == 0
			}
			m.Rhythm = keys == flats && j%4 == 1
		}
	}
	m := progress.Read(history, l)
	p := m.Next(after(history))
	if len(p.Wanted) == 0 || p.Wanted[0] != turn || slices.Contains(p.Wanted, scale) {
		t.Errorf("wanted: got %v, want the turn first and not the scale", p.Wanted)
	}
	if !slices.Equal(p.WeakKeys, []figure.Family{flats}) {
		t.Errorf("weak keys: got %v, want %v", p.WeakKeys, flats)
	}
	asked := 0
	for i := range 12 {
		p := progress.Read(history, l).Next(after(history))
		one := take(l, len(history), p.Rung, 1)
		if p.Key != nil {
			asked++
			for j := range one.Measures {
				one.Measures[j].Key = *p.Key
				one.Measures[j].Rhythm = j%5 == i%5
			}
		}
		history = append(history, one)
	}
	if asked < 2 || asked > 5 {
		t.Errorf("%d of 12 reads were to be in the weak keys, want about one in three", asked)
	}
}

func TestHalfForgottenFiguresComeBack(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 10)
	ask := after(history)
	forgotten := figure.Figure{Shape: "turn", Cell: "four sixteenths"}
	ask.Known = []figure.Known{
		{Figure: forgotten, Share: 0.2, Times: 9},
		{Figure: figure.Figure{Shape: "by heart", Cell: "half"}, Share: 0.9, Times: 30},
		{Figure: figure.Figure{Shape: "seen once", Cell: "half"}, Share: 0.1, Times: 1},
	}
	if p := progress.Read(history, l).Next(ask); !slices.Equal(p.Wanted, []figure.Figure{forgotten}) {
		t.Errorf("wanted: got %v, want %v", p.Wanted, forgotten)
	}
}

// Takes that nothing can be made of change nothing, and nothing of them is NaN.
func TestOddTakesAreBorne(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 10)
	ask := after(history)
	want := progress.Read(history, l).Next(ask)
	rests := take(l, 9, 6, 3)
	for i := range rests.Measures {
		rests.Measures[i].Load = 0
	}
	strange := take(l, 9, 6, 3)
	strange.Rung = 99
	none := take(l, 9, 6, 0)
	none.Measures = nil
	for _, odd := range []progress.Take{rests, strange, none} {
		if got := progress.Read(append(slices.Clone(history), odd), l).Next(ask); !reflect.DeepEqual(got, want) {
			t.Errorf("after an odd take: got %+v, want %+v", got, want)
		}
	}
	early := take(l, -400, 6, 3)
	early.Percent = 0
	if got := progress.Read(append(slices.Clone(history), early), l).Next(ask); !(got.Expected > 0.5 && got.Expected < 1) {
		t.Errorf("after a take out of order: got %+v", got)
	}
}

// One take alone moves the rung by one at most, and stays where it came out as aimed at; no
// style is proposed higher than was read before it was tried.
func TestOneTakeAloneIsNotBelievedFar(t *testing.T) {
	l := rungs(t)
	for rung := 1; rung <= 12; rung++ {
		for slips := 0; slips <= 16; slips++ {
			history := []progress.Take{take(l, 0, rung, slips)}
			ask := after(history)
			p := progress.Read(history, l).Next(ask)
			if p.Rung < rung-1 || p.Rung > rung+1 {
				t.Errorf("rung %d, %d of 16 slipped: rung %d next", rung, slips, p.Rung)
			}
			if slips == 2 || slips == 3 {
				if p.Rung != rung {
					t.Errorf("rung %d, %d of 16 slipped: rung %d next, want it again", rung, slips, p.Rung)
				}
			}
			ask.Style = "lyrical"
			if q := progress.Read(history, l).Next(ask); q.Rung > rung {
				t.Errorf("march on rung %d, %d of 16 slipped: a first song on rung %d", rung, slips, q.Rung)
			}
		}
	}
}

// Numbers are told where they mean something.
func TestWordsHaveNoEmptyNumbers(t *testing.T) {
	l := rungs(t)
	words := func(history ...progress.Take) string {
		ask := progress.Ask{Style: "march", Rung: 3}
		if len(history) > 0 {
			ask = after(history)
		}
		return strings.Join(progress.Read(history, l).Next(ask).Why, " ")
	}
	if got := words(); strings.Contains(got, "of 100") {
		t.Errorf("before the first take: %q", got)
	}
	if got := words(take(l, 0, 1, 16), take(l, 1, 1, 16)); strings.Contains(got, "of 100") || !strings.Contains(got, "rather than stop") {
		t.Errorf("after nothing came out: %q", got)
	}
}
