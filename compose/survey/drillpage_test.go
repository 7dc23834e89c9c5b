package survey_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/compose/survey"
	"onward/rhythm"
	"onward/theory"
)

// written tells a measure's head and notes: what a player sees of it.
func written(m *score.Measure) string {
	var words []string
	if m.NewSystem {
		words = append(words, "line")
	}
	if m.Meter != nil {
		words = append(words, m.Meter.String())
	}
	if m.Tempo != nil {
		words = append(words, fmt.Sprintf("%s=%d %s", m.Tempo.Beat, m.Tempo.BPM, m.Tempo.Word))
	}
	if m.Words != "" {
		words = append(words, m.Words+":")
	}
	for _, n := range m.Notes {
		name := "r"
		if !n.Rest {
			name = n.Pitch.String()
		}
		if n.TieStart {
			name += "~"
		}
		words = append(words, fmt.Sprintf("%s:%s", name, n.Value))
	}
	switch {
	case m.DoubleBar:
		words = append(words, "||")
	case m.FinalBar:
		words = append(words, "|]")
	}
	return strings.Join(words, " ")
}

// A figure goes up the key from the tonic, slowly, ends on the tonic, and comes down in
// tempo; the next one begins a new line. What has no room is left out.
func TestDrillPage(t *testing.T) {
	meter := func(name string) rhythm.Meter {
		m, err := rhythm.ParseMeter(name)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	d := survey.DrillPage{Title: "Drill", Key: theory.Key{}, Instrument: instrument(t, "flute"), BPM: 100,
		Room: [2]int{theory.MustPitch("C4").MIDI(), theory.MustPitch("G5").MIDI()}}
	drilled := func(shape, cell, words, m string) survey.Drilled {
		return survey.Drilled{Figure: figure.Figure{Shape: shape, Cell: cell}, Words: words, Meter: meter(m)}
	}
	s := d.Of([]survey.Drilled{
		drilled("step up", "two quarters", "a step", "4/4"),
		drilled("no such", "two quarters", "nothing", "4/4"),
		drilled("fourth up", "whole", "too long", "2/4"),
		drilled("octave up", "two quarters", "an octave", "5/4"), // five lines, from C4 to G4; 5/4 is 3 and 2
	}, figure.Default())
	if s == nil {
		t.Fatal("no page")
	}
	var got []string
	for i := range s.Parts[0].Measures {
		if m := &s.Parts[0].Measures[i]; m.Number != i+1 {
			t.Errorf("measure %d has the number %d", i+1, m.Number)
		} else {
			got = append(got, written(m))
		}
	}
	want := []string{
		"4/4 4=60 slowly 1. a step: C4:4 D4:4 D4:4 E4:4", "E4:4 F4:4 F4:4 G4:4", "G4:4 A4:4 A4:4 B4:4", "B4:4 C5:4 C5:4 D5:4", "C5:1 ||",
		"line 4=100 in tempo C5:4 D5:4 B4:4 C5:4", "A4:4 B4:4 G4:4 A4:4", "F4:4 G4:4 E4:4 F4:4", "D4:4 E4:4 C4:4 D4:4", "C4:1 ||",
		"line 5/4 4=60 slowly 2. an octave: C4:4 C5:4 D4:4 D5:4 r:4", "E4:4 E5:4 F4:4 F5:4 r:4", "G4:4 G5:4 r:4 r:2", "C5~:2. C5:2 ||",
		"line 4=100 in tempo G4:4 G5:4 F4:4 F5:4 r:4", "E4:4 E5:4 D4:4 D5:4 r:4", "C4:4 C5:4 r:4 r:2", "C5~:2. C5:2 |]",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if first := s.Parts[0].Measures[0]; first.Clef == nil || *first.Clef != d.Instrument.Clef || first.Key == nil {
		t.Errorf("it begins with clef %v, key %v", first.Clef, first.Key)
	}
	d.Room[1] = d.Room[0] + 6
	if s := d.Of([]survey.Drilled{drilled("octave up", "two quarters", "an octave", "4/4")}, figure.Default()); s != nil {
		t.Errorf("%d measures of octaves in six half steps", len(s.Parts[0].Measures))
	}
}

// However fast or slow the part is, drills have a tempo that a metronome has.
func TestDrillTempo(t *testing.T) {
	m, _ := rhythm.ParseMeter("4/4")
	for bpm, want := range map[int]string{20: "20 20", 30: "20 30", 160: "96 160", 400: "240 300", 600: "300 300"} {
		d := survey.DrillPage{Instrument: instrument(t, "flute"), Room: [2]int{60, 79}, BPM: bpm}
		s := d.Of([]survey.Drilled{{Figure: figure.Figure{Shape: "step up", Cell: "two quarters"}, Meter: m}}, figure.Default())
		var got []string
		for i := range s.Parts[0].Measures {
			if t := s.Parts[0].Measures[i].Tempo; t != nil && len(got) < 2 {
				got = append(got, fmt.Sprint(t.BPM))
			}
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%d: %q, want %s", bpm, got, want)
		}
	}
}
