package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"onward/midi/file"
	"onward/midi/timeline"
	"onward/rhythm"
)

// bandOf writes a read with the flags and reads its MIDI file.
func bandOf(t *testing.T, s *stage, args string) *timeline.Timeline {
	t.Helper()
	fine(t, s, "write --seed 3 --out "+"x "+args)
	names := pages(t, "x")
	i := slices.IndexFunc(names, func(n string) bool { return strings.HasSuffix(n, bandSuffix) })
	text, err := os.ReadFile(names[i])
	if err != nil {
		t.Fatal(err)
	}
	line, err := file.Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll("x"); err != nil {
		t.Fatal(err)
	}
	return line
}

// Each flag does to the take what it says, and the rest stays as it is.
func TestTakeFlags(t *testing.T) {
	const march = "--style march --meter 2/4 --measures 8 --rung 6 --tempo 100 "
	s := newStage(t)
	plain := bandOf(t, s, march)
	events := func(l *timeline.Timeline) string { // drags and grace notes keep their time in milliseconds
		return fmt.Sprint(slices.DeleteFunc(slices.Clone(l.Events), func(e timeline.Event) bool { return e.Channel == timeline.DrumsChannel }))
	}
	slow := bandOf(t, s, march+"--slower 80%")
	if events(slow) != events(plain) || len(slow.Tempos) != 1 || slow.Tempos[0].MicrosPerQuarter != 750_000 {
		t.Errorf("at 80 %%: tempos %v, events as before: %v", slow.Tempos, events(slow) == events(plain))
	}
	start := func(l *timeline.Timeline) rhythm.Duration {
		i := slices.IndexFunc(l.Markers, func(m timeline.Marker) bool { return m.Text == timeline.MarkStart })
		if i < 0 {
			return 0
		}
		return rhythm.Duration(l.Markers[i].At)
	}
	const measure = rhythm.Half
	upbeat := 3*measure - start(plain)
	if upbeat < 0 || upbeat >= measure {
		t.Fatalf("the piece starts after %d ticks, with a chord and two measures counted", start(plain))
	}
	for flags, want := range map[string]rhythm.Duration{
		"": 3 * measure, "--no-tonic": 2 * measure, "--count-in 1": 2 * measure, "--count-in 0": measure,
		"--count-in 4 --no-tonic": 4 * measure, "--count-in 0 --no-tonic": 0,
	} {
		if !strings.Contains(flags, "--count-in 0") {
			want -= upbeat
		}
		if got := start(bandOf(t, s, march+flags)); got != want {
			t.Errorf("%s: the piece starts after %d ticks, want %d", flags, got, want)
		}
	}
	clicks := func(flags string) (at []rhythm.Offset) {
		l := bandOf(t, s, march+flags)
		for _, e := range l.Events {
			if e.Kind == timeline.NoteOn && e.Channel == timeline.DrumsChannel && (e.A == timeline.Click || e.A == timeline.ClickAccent) {
				if e.At >= rhythm.Offset(3*measure) {
					at = append(at, e.At%rhythm.Offset(rhythm.Quarter))
				}
			}
		}
		return at
	}
	for flags, want := range map[string]rhythm.Offset{"--click": 0, "--click=on": 0, "--click=off-beats": rhythm.Offset(rhythm.Eighth)} {
		all := clicks(flags)
		if len(all) < 16 || slices.ContainsFunc(all, func(at rhythm.Offset) bool { return at != want }) {
			t.Errorf("%s: clicks at %v of a quarter", flags, all)
		}
	}
	if off := clicks("--click=off"); len(off) > 0 {
		t.Errorf("without clicks: %v", off)
	}
}

// The read at another tempo is the same read, and says how it is taken.
func TestSlowerIsTheSameRead(t *testing.T) {
	s := newStage(t)
	const song = "write --style lyrical --rung 6 --seed 3 --measures 8 --meter 4/4 "
	first := fine(t, s, song+"--tempo 70")
	page, band := load(t, "lyrical-r6-3.musicxml"), load(t, "lyrical-r6-3.mid")
	out := fine(t, s, song+"--tempo 70 --slower 75% --rubato --click=off-beats --no-tonic --count-in 2")
	inOrder(t, out, "a repeat of your read", "take       at 75 % of the page's tempo: quarter = 53; slowing a little",
		"--slower 75% --click=off-beats --count-in 2 --no-tonic --rubato --seed 3\n")
	if strings.Contains(first, "take  ") || !bytes.Equal(page, load(t, "lyrical-r6-3.musicxml")) || bytes.Equal(band, load(t, "lyrical-r6-3.mid")) {
		t.Errorf("the page changed, the band did not, or a plain take is remarked on:\n%s", first)
	}
	var d struct{ Take takeDocument }
	if err := json.Unmarshal(load(t, "lyrical-r6-3.json"), &d); err != nil || !reflect.DeepEqual(d.Take, takeDocument{Percent: 75, BPM: 52.5, Rubato: true}) {
		t.Errorf("document: %+v, %v", d, err)
	}
	inOrder(t, fine(t, s, "read --out . --style lyrical --rung 6 --seed 3 --measures 8 --meter 4/4 --tempo 70 --slower 75%"),
		"Look it over:", "the take   at 75 % of the page's tempo: quarter = 53\n", "The end.")
}
