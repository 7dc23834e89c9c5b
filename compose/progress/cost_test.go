package progress_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/progress"
)

// What slips under a pressure counts in part against the pressure: it says less of ordinary
// reads than the same slips without, and more of the next read under it.
func TestSlipsUnderPressureCountAgainstIt(t *testing.T) {
	l := rungs(t)
	plain := settled(t, 6, 20)
	pressed := slices.Clone(plain)
	for i := range 4 {
		bad := take(l, 20+i, 6, 7)
		plain = append(plain, bad)
		bad.Pressure = []string{"cold"}
		pressed = append(pressed, bad)
	}
	ask := after(plain)
	without, _ := progress.Read(plain, l).Rung(ask)
	with, _ := progress.Read(pressed, l).Rung(ask)
	if with <= without {
		t.Errorf("7 of 16 slipped four times: believed on rung %.2f where it was under pressure, %.2f where not; want more", with, without)
	}
	m, page := progress.Read(pressed, l), take(l, 0, 6, 0).Measures
	for i := range page {
		page[i].Load *= 1.1
	}
	ordinary, _ := m.Tempo(ask, progress.Proposal{Rung: 6, Percent: 100}, page)
	cold, _ := m.Tempo(ask, progress.Proposal{Rung: 6, Percent: 100, Pressure: []string{"cold"}}, page)
	panel, _ := m.Tempo(ask, progress.Proposal{Rung: 6, Percent: 100, Pressure: []string{"panel"}}, page)
	if !(cold < panel && panel < ordinary) {
		t.Errorf("tempo under the pressure that slipped %d %%, under another %d %%, without %d %%: want them to rise in this order", cold, panel, ordinary)
	}
}

// Pressures and weak keys cost something: the tempo of a read with them is such that it
// still comes out as aimed at.
func TestTempoBearsPressureAndKeys(t *testing.T) {
	l := rungs(t)
	flats := figure.Family{Signs: -2}
	for _, weak := range []bool{false, true} {
		history := settled(t, 6, 20)
		with := 0
		for i := range 40 {
			p := progress.Read(history, l).Next(after(history))
			if p.Expected < progress.Aimed && p.Percent > 70 {
				t.Errorf("read %d: rung %d at %d %% with %v in %v: %.3f right, want %.2f or a slower tempo", i, p.Rung, p.Percent, p.Pressure, p.Key, p.Expected, progress.Aimed)
			}
			one := take(l, len(history), p.Rung, 2)
			one.Pressure = p.Pressure
			for j := range one.Measures {
				if weak && (p.Key != nil || i < 8 && i%2 == 0) {
					one.Measures[j].Key = flats
					one.Measures[j].Rhythm = j%4 == i%4
				}
			}
			if p.Pressure != nil || p.Key != nil {
				with++
			}
			history = append(history, one)
		}
		if with < 5 {
			t.Errorf("weak keys %v: %d of 40 reads had a pressure or a key: too few to tell much", weak, with)
		}
	}
}

// The first read in a style counts as the style that is known: the page gives no more that
// is new, until a take in it says so.
func TestFirstReadInAStyle(t *testing.T) {
	l := rungs(t)
	history := settled(t, 6, 20)
	m, ask := progress.Read(history, l), after(history)
	march, sure := m.Rung(ask)
	ask.Style = "lyrical"
	song, unsure := m.Rung(ask)
	if math.Abs(song-march) > 1.5 || unsure <= sure {
		t.Errorf("believed on rung %.2f ± %.2f in a style not read yet, %.2f ± %.2f in the other: want about the same and less sure", song, unsure, march, sure)
	}
	if p := m.Next(ask); p.Rung < 5 || p.Percent < 85 {
		t.Errorf("the first read in a style: %+v, want rung 5 or 6 at nearly the page's tempo", p)
	}
}

// While the level is looked for, what is not known of it holds nobody back: who had 13 of
// 16 right reads the same rung or the one below at nearly the page's tempo. Once it is found, that counts.
func TestLookingForTheLevel(t *testing.T) {
	l := rungs(t)
	for _, rung := range []int{2, 5, 9} {
		var history []progress.Take
		for i := range 12 {
			history = append(history, take(l, i, rung, 3))
			p := progress.Read(history, l).Next(after(history))
			if i == 2 && (p.Rung < rung-1 || p.Rung > rung || p.Percent < 95) {
				t.Errorf("rung %d, three takes with 13 of 16 right: rung %d at %d %%, want it or %d at 95 %% or more", rung, p.Rung, p.Percent, rung-1)
			}
			if i > 2 && p.Expected < progress.Aimed && p.Percent > 70 {
				t.Errorf("rung %d, %d takes with 13 of 16 right: %.3f right expected at %d %%, want %.2f", rung, i+1, p.Expected, p.Percent, progress.Aimed)
			}
		}
	}
}

// What a read is likely to be in is what the latest were in: weak keys of long ago do not
// make the rung lower.
func TestUsualKeysAreTheLatest(t *testing.T) {
	l := rungs(t)
	var history []progress.Take
	for i := range 12 {
		bad := take(l, i, 6, 7)
		for j := range bad.Measures {
			bad.Measures[j].Key = figure.Family{Signs: -2}
		}
		history = append(history, bad)
	}
	for i := range 20 {
		history = append(history, take(l, 12+i, 6, 2+i%2))
	}
	if at, _ := progress.Read(history, l).Rung(after(history)); at < 5.8 || at > 7.5 {
		t.Errorf("believed on rung %.2f after 20 takes of rung 6 as aimed at in usual keys, want about 6", at)
	}
}

// The reasons are true: a pause is named after a pause alone, two new figures where there
// are two.
func TestReasonsAreTrue(t *testing.T) {
	l := rungs(t)
	for _, slips := range []int{0, 2, 6, 9} {
		history := settled(t, 6, 20)
		for i := range 3 {
			history = append(history, take(l, 20+i, 6, slips))
		}
		for _, days := range []int{1, 2, 5, 60} {
			ask := after(history)
			ask.Now = history[len(history)-1].At.AddDate(0, 0, days)
			p := progress.Read(history, l).Next(ask)
			why := strings.Join(p.Why, " ")
			if paused := strings.Contains(why, "After a pause"); paused && (days <= 2 || p.Rung > 6) || paused != (days == 60) && slips == 2 {
				t.Errorf("%d slips, after %d days, rung %d: %q", slips, days, p.Rung, why)
			}
			slow := strings.Contains(why, "a little slower than the page")
			if slow && p.Percent > 95 || !slow && p.Rung == 6 && p.Percent < 95 && p.Pressure == nil {
				t.Errorf("%d slips, after %d days: %d %%, and %q", slips, days, p.Percent, why)
			}
			if two := strings.Contains(why, "two new figures"); two != (p.New == 2) {
				t.Errorf("%d slips: %d new figures, and %q", slips, p.New, why)
			}
		}
	}
}

// A take of one measure teaches as any does.
func TestATakeOfOneMeasure(t *testing.T) {
	l := rungs(t)
	short := take(l, 10, 6, 1)
	short.Measures = short.Measures[:1]
	history := settled(t, 6, 10)
	before, _ := progress.Read(history, l).Rung(after(history))
	history = append(history, short)
	if got, _ := progress.Read(history, l).Rung(after(history)); got >= before {
		t.Errorf("after one measure that slipped: believed on rung %.2f, want less than %.2f", got, before)
	}
}

// Whoever reads the highest rung with nothing wrong is believed beyond it, and stays on it;
// so on the lowest with all wrong.
func TestEndsOfTheLadder(t *testing.T) {
	l := rungs(t)
	for _, c := range []struct{ rung, slips int }{{12, 0}, {1, 16}} {
		var history []progress.Take
		for i := range 12 {
			history = append(history, take(l, i, c.rung, c.slips))
		}
		m, ask := progress.Read(history, l), after(history)
		if at, _ := m.Rung(ask); c.rung == 12 && at <= 12 || c.rung == 1 && at >= 1 {
			t.Errorf("%d of 16 slipped on rung %d: believed on rung %.1f, want beyond", c.slips, c.rung, at)
		}
		if p := m.Next(ask); p.Rung != c.rung {
			t.Errorf("%d of 16 slipped on rung %d: rung %d next", c.slips, c.rung, p.Rung)
		}
	}
}
