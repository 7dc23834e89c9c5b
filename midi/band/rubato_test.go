package band_test

import (
	"strings"
	"testing"
	"time"

	"onward/compose"
	"onward/midi/band"
	"onward/midi/timeline"
	"onward/rhythm"
)

// song is eight measures of 4/4 in two phrases, the first breathing at its fourth beat.
func song(t *testing.T) *compose.Read {
	r := scene(t, "lyrical", "Bb", "I IV V I I IV V I", "4/4 key Bb; tempo 4=60; D4:1 | D4:1 | D4:1 | D4:2. Bb3:4 | D4:1 | D4:1 | D4:1 | C4:2 Bb3:2 |]",
		compose.Section{Name: "Song", Dynamic: "mf", Phrases: []compose.Phrase{
			{First: 0, Measures: 4, Letter: "a", Cadence: "half"}, {First: 4, Measures: 4, Letter: "b", Cadence: "close"}}})
	r.Breaths = []compose.Breath{{Measure: 3, At: rhythm.Offset(3 * rhythm.Quarter), Marked: true}}
	return r
}

// Rubato slows into the breath and into the last note, and moves no event in the score.
func TestRubato(t *testing.T) {
	r := song(t)
	strict := arranged(t, r, band.Options{Guide: true, CountIn: timeline.FullCountIn()})
	free := arranged(t, r, band.Options{Guide: true, CountIn: timeline.FullCountIn(), Rubato: true})
	if len(strict.Tempos) != 1 {
		t.Fatalf("tempos in strict time: %v", strict.Tempos)
	}
	for i, e := range strict.Events {
		if free.Events[i] != e {
			t.Fatalf("event %d is %v with rubato, %v without", i, free.Events[i], e)
		}
	}
	start := rhythm.Offset(12 * rhythm.Quarter)
	quarter := func(n int) time.Duration { // how long the nth quarter of the piece lasts
		at := start.Add(rhythm.Duration(n) * rhythm.Quarter)
		return free.Time(at.Add(rhythm.Quarter)) - free.Time(at)
	}
	plain := strict.Time(rhythm.Offset(rhythm.Quarter))
	for n := range 32 {
		slow := n >= 11 && n < 15 || n >= 26
		if got := quarter(n); slow != (got > plain) || got < plain || got > plain*100/64 {
			t.Errorf("quarter %d lasts %v, in strict time %v; slower: want %v", n+1, got, plain, slow)
		}
	}
	for _, pair := range [][2]int{{11, 12}, {12, 13}, {13, 14}, {26, 27}, {28, 29}} {
		if quarter(pair[0]) >= quarter(pair[1]) {
			t.Errorf("quarter %d lasts %v, the later %d %v", pair[0]+1, quarter(pair[0]), pair[1]+1, quarter(pair[1]))
		}
	}
}

// A march keeps strict time.
func TestNoRubatoWithDrums(t *testing.T) {
	r := scene(t, "march", "Bb", "I I", "2/4 key Bb; F4:4 D4:4 | Bb3:2 |]", compose.Section{Name: "Strain", Dynamic: "mf"})
	if _, err := band.Arrange(r, band.Options{Rubato: true}); err == nil || !strings.Contains(err.Error(), "drums") {
		t.Errorf("a march with rubato: %v", err)
	}
}

// A slower take is the same events at another tempo.
func TestSlowerTake(t *testing.T) {
	r := song(t)
	full := arranged(t, r, band.Options{CountIn: timeline.FullCountIn()})
	slow := arranged(t, r, band.Options{CountIn: timeline.FullCountIn(), Percent: 80})
	for i, e := range full.Events {
		if slow.Events[i] != e {
			t.Fatalf("event %d is %v, at 80 %% %v", i, e, slow.Events[i])
		}
	}
	if got, want := slow.Duration(), full.Duration()*100/80; got != want {
		t.Errorf("the take lasts %v, want %v", got, want)
	}
}
