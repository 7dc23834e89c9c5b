package survey_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/compose/survey"
)

// The tempo is told in felt beats, whatever note value the page counts in; where it has no
// number it is the usual one of a MIDI file, 120 quarters a minute (Standard MIDI Files 1.0).
func TestTempo(t *testing.T) {
	for _, c := range []struct {
		text string
		want survey.Tempo
	}{
		{"tempo 4=96 Andante; 4/4 treble C5:1 |]", survey.Tempo{Beat: "4", BPM: 96, Given: true, Word: "Andante"}},
		{"tempo 4=120; cut treble C5:1 |]", survey.Tempo{Beat: "2", BPM: 60, Given: true}},
		{"tempo 8=180; 6/8 treble C5:2. |]", survey.Tempo{Beat: "4.", BPM: 60, Given: true}},
		{"6/8 treble C5:2. |]", survey.Tempo{Beat: "4.", BPM: 80}},
		{"4/4 treble words dolce; C5:1 | words agitato; C5:1 |]", survey.Tempo{Beat: "4", BPM: 120, Word: "dolce"}},
		{"4/4 treble C5:1 | words agitato; C5:1 |]", survey.Tempo{Beat: "4", BPM: 120}},
		{"4/4 treble C5:1 | tempo 4=60 Lento; C5:1 |]", survey.Tempo{Beat: "4", BPM: 120}},
	} {
		if got := surveyOf(t, "flute", c.text).Tempo; got != c.want {
			t.Errorf("%s: %+v, want %+v", c.text, got, c.want)
		}
	}
}

// What stands above and below the staff is told with its measure, and each new meter.
func TestWordsDynamicsAndMeters(t *testing.T) {
	s := surveyOf(t, "flute", "tempo 4=96 Andante; words dolce; 4/4 treble p C5:2 f D5:2 | C5:1 | 3/4 words cresc.; pp C5:2. | C5:2. | 4/4 C5:1 |]")
	for _, c := range []struct{ got, want any }{
		{s.Words, "[{1 Andante} {1 dolce} {3 cresc.}]"},
		{s.Dynamics, "[{1 p} {1 f} {3 pp}]"},
		{s.Meters, "[{1 4/4} {3 3/4} {5 4/4}]"},
	} {
		if got := fmt.Sprint(c.got); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

// trapsOf tells the traps of the kind as "measure beat: words".
func trapsOf(s *survey.Survey, kind string) string {
	var all []string
	for _, t := range s.Traps {
		if t.Kind == kind {
			all = append(all, strings.Trim(fmt.Sprintf("%d %s: %s", t.Measure, t.Beat, t.Words), " "))
		}
	}
	return strings.Join(all, "; ")
}

// Traps name their place, and what misleads there.
func TestTrapWords(t *testing.T) {
	plain := "C5:4 D5:4 E5:4 F5:4 | G5:4 F5:4 E5:4 D5:4 | E5:4 F5:4 G5:4 A5:4 | G5:4 E5:4 D5:4 B4:4 | "
	const head = "key C; 4/4 treble "
	for _, c := range []struct{ kind, text, want string }{
		// Of two syncopations in a measure the first is told; then plain beats count anew.
		{survey.Syncopation, head + plain + "C5:8 D5:4 E5:4 F5:4 G5:8 | C5:8 D5:4 E5:8 F5:2 |]",
			"5 1+1/2: syncopation after 4 measures of plain beats: D5 comes off the beat and holds over it"},
		{survey.Syncopation, head + plain + "C5:8 D5:4 E5:8 F5:2 | " + plain + "C5:4. D5:4. E5:4 |]",
			"5 1+1/2: syncopation after 4 measures of plain beats: D5 comes off the beat and holds over it; " +
				"10 2+1/2: syncopation after 4 measures of plain beats: D5 comes off the beat and holds over it"},
		{survey.Syncopation, head + "C5:1 | " + plain[:strings.Index(plain, "G5:4 E5:4")] + "C5:8 D5:4 E5:8 F5:2 |]", ""}, // one note is no row
		{survey.Cancelled, head + "C5:4 C#5:4 D5:4 C5:4 |]", "1 4: C-sharp is taken back in the same measure: C-natural at beat 4"},
		{survey.Cancelled, head + "C5:4 D5:4 C#5:4 D5:4 |]", ""}, // there was nothing to take back
		{survey.Cancelled, "key F; 4/4 treble B4:4 C5:4 Bb4:4 C5:4 |]", "1 3: B-natural is taken back in the same measure: B-flat at beat 3"},
		{survey.Cancelled, "key F; 4/4 treble Bb4:4 C5:4 B4:4 C5:4 |]", ""},
		{survey.Cancelled, head + "C#5:2 D5:2 | C5:1 |]", ""}, // the barline takes it back
		{survey.StillHolds, head + "F#5:4 G5:4 F#5:4 G5:4 |]", "1 3: F-sharp holds to the barline: it comes again on beat 3 with no sign"},
		{survey.StillHolds, head + "F#5:8 G5:8 F#5:8 G5:8 F#5:8 G5:8 F#5:4 |]", "1 2: F-sharp holds to the barline: it comes again on beat 2 with no sign"}, // once
		{survey.StillHolds, "key G; 4/4 treble F#5:4 G5:4 F#5:4 G5:4 |]", ""},                                                                               // it is signed
		{survey.BigLeap, head + "C5:2 E6:2 | C6:2 A4:2 |]", "1 3: an octave and a third up, C5 to E6; 2 3: an octave and a third down, C6 to A4"},
		{survey.BigLeap, head + "C5:2 C6:2 |]", ""},
		{survey.BigLeap, head + "C5:1 | D6:1 |]", "2 1: an octave and a second up, C5 to D6"},
		{survey.StartsLike, head + "C5:4 D5:4 E5:4 F5:4 | G5:1 | C5:4 D5:4 E5:4 A5:4 |]", "3 4: starts like 1 and goes on otherwise from beat 4, to A5"},
		{survey.StartsLike, head + "C5:4 D5:4 E5:4 F5:4 | C5:4 D5:4 E5:4 A5:4 | C5:4 D5:4 E5:4 B4:4 |]",
			"2 4: starts like 1 and goes on otherwise from beat 4, to A5; 3 4: starts like 2 and goes on otherwise from beat 4, to B4"},
		{survey.NewMeter, head + "C5:1 | 3/4 C5:2. | C5:2. | 4/4 C5:1 |]", "2 : another meter: 3/4; 4 : another meter: 4/4"},
	} {
		if got := trapsOf(surveyOf(t, "flute", c.text), c.kind); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.text, got, c.want)
		}
	}
}

// What misleads more weighs more: near what it is taken for, or with little else to go by.
func TestTrapWeights(t *testing.T) {
	weight := func(text, kind string) int {
		s := surveyOf(t, "flute", text)
		if i := slices.IndexFunc(s.Traps, func(t survey.Trap) bool { return t.Kind == kind }); i >= 0 {
			return s.Traps[i].Weight
		}
		return 0
	}
	const like, other = "C5:4 D5:4 E5:4 F5:4 | ", "G5:1 | "
	near := weight("key C; 4/4 treble "+like+other+"C5:4 D5:4 E5:4 A5:4 |]", survey.StartsLike)
	far := weight("key C; 4/4 treble "+like+other+"A5:1 | C5:4 D5:4 E5:4 A5:4 |]", survey.StartsLike)
	if near != 3 || far != 2 {
		t.Errorf("two measures after %d, three after %d; want 3 and 2", near, far)
	}
}

// A stretch without a rest is told from where it begins: after the last rest or breath mark.
func TestBreathStretch(t *testing.T) {
	long := strings.Repeat("C5:2 D5:2 | E5:2 D5:2 | ", 4) // 32 s: no player's breath lasts (a flute's is 5.5 s, 8 when soft)
	for _, c := range []struct{ text, want string }{
		{"tempo 4=60; key C; 4/4 treble C5:2 r:2 | " + long + "C5:2 r:2 |]", "2 : no rest to breathe in from 2 to 10: steal a breath "},
		{"tempo 4=60; key C; 4/4 treble C5:1, | " + long + "C5:2 r:2 |]", "2 : no rest to breathe in from 2 to 10: steal a breath "},
		{"tempo 4=60; key C; 4/4 treble " + long + "C5:2 r:2 | C5:1 |]", "1 : no rest to breathe in from 1 to 9: steal a breath "},
		{"tempo 4=300; key C; 4/4 treble " + long[:len(long)/2] + "C5:1 |]", ""}, // 4 s
	} {
		got := trapsOf(surveyOf(t, "flute", c.text), survey.NoBreath)
		if !strings.HasPrefix(got, c.want) || c.want == "" && got != "" || strings.Contains(got, "; ") {
			t.Errorf("%s:\ngot  %s\nwant %s", c.text, got, c.want)
		}
	}
	// Measures of 1.5 s; a flute's breath lasts 5.5 s, 4 s when loud (theory/instruments.json).
	// When half of it is spent, the whole note before the next barline is the best place.
	quick := strings.Repeat("C5:4 D5:4 E5:4 F5:4 | G5:1 | ", 4) + "C5:1 |]"
	for dynamic, want := range map[string]string{
		"":    "1 : no rest to breathe in from 1 to 9: steal a breath after G5 in 2, after G5 in 4, after G5 in 6",
		"pp ": "1 : no rest to breathe in from 1 to 9: steal a breath after G5 in 4", // 8 s, and 4 of them are spent then
		"f ":  "1 : no rest to breathe in from 1 to 9: steal a breath after G5 in 2, after G5 in 4, after G5 in 6, after G5 in 8",
	} {
		if got := trapsOf(surveyOf(t, "flute", "tempo 4=160; key C; 4/4 treble "+dynamic+quick), survey.NoBreath); got != want {
			t.Errorf("%q:\ngot  %s\nwant %s", dynamic, got, want)
		}
	}
}

// A breath is stolen at a barline rather than inside a measure, and not under a slur.
func TestBreathAtABarline(t *testing.T) {
	for text, want := range map[string]string{ // quarters last a second, a flute's breath lasts 5.5 s
		"C5:4 D5:4 E5:4 F5:4 | G5:4 D5:4 E5:4 F5:4 | C5:4 D5:4 E5:4 F5:4 | C5:1 |]":   "after F5 in 1, after F5 in 2, after F5 in 3",
		"C5:4 D5:4 E5:4 F5:4( | G5:4) D5:4 E5:4 F5:4 | C5:4 D5:4 E5:4 F5:4 | C5:1 |]": "after E5 in 1, after F5 in 2, after F5 in 3",
	} {
		got := trapsOf(surveyOf(t, "flute", "tempo 4=60; key C; 4/4 treble "+text), survey.NoBreath)
		if _, stolen, _ := strings.Cut(got, "steal a breath "); stolen != want {
			t.Errorf("%s:\ngot  %s\nwant %s", text, stolen, want)
		}
	}
}

// What the file's reader could not take in is said with its place, each thing once, for
// this part alone, and not more than a few.
func TestLeftOut(t *testing.T) {
	p := pieceOf(t, score.MustText("key C; 4/4 treble C5:4 D5:4 E5:4 F5:4 | C5:1 |]"))
	p.Parts[0].Name = "Solo"
	p.Parts[0].LineWarnings = []musicxml.Warning{{Part: "Solo", Text: "a trill was left out"}}
	p.Warnings = []musicxml.Warning{
		{Part: "Solo", Measure: "2", Text: "a clef was left out"},
		{Part: "Solo", Measure: "5", Text: "a clef was left out"},
		{Part: "Bass", Measure: "1", Text: "a pedal mark was left out"},
	}
	for i := range 10 {
		p.Warnings = append(p.Warnings, musicxml.Warning{Part: "Solo", Text: fmt.Sprintf("thing %d was left out", i)})
	}
	s, err := survey.Of(p, 0, survey.Options{Instrument: instrument(t, "flute"), Catalogue: figure.Default(), Ladder: rungs(t)})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"a trill was left out", "from measure 2: a clef was left out", "thing 0 was left out", "thing 1 was left out", "thing 2 was left out", "thing 3 was left out"}
	if !slices.Equal(s.Left, want) {
		t.Errorf("left out %q, want %q", s.Left, want)
	}
}

// The lowest and the highest note come with all the measures they stand in.
func TestExtremes(t *testing.T) {
	s := surveyOf(t, "flute", "key C; 4/4 treble G5:4 C5:4 G5:4 E5:4 | D5:2 E5:2 | C5:2 G5:2 |]")
	low, high := s.Range.Low, s.Range.High
	if got := fmt.Sprintf("%s %d %v, %s %d %v", low.Pitch, low.Measure, low.Measures, high.Pitch, high.Measure, high.Measures); got != "C5 1 [1 3], G5 1 [1 3]" {
		t.Errorf("got %s", got)
	}
}

// Accidentals are told by class and measure, as printed: a sign that holds is not printed twice.
func TestAccidentals(t *testing.T) {
	s := surveyOf(t, "flute", "key F; 4/4 treble B4:4 C5:4 B4:4 F#5:4 | Bb4:2 F#5:2 | C5:1 |]")
	if got := fmt.Sprintf("%d %v", s.Accidental.Count, s.Accidental.Measures); got != "3 [1 2]" && got != "4 [1 2]" { // a reminder on B-flat is the engraver's choice
		t.Errorf("accidentals %s", got)
	}
	var notes []string
	for _, n := range s.Accidental.Notes {
		notes = append(notes, fmt.Sprint(n.Class, n.Measures))
	}
	if !slices.Contains(notes, "B[1]") || !slices.Contains(notes, "F#[1 2]") {
		t.Errorf("by class %q", notes)
	}
}

// The new figures come first, then the known ones, the commonest of each ahead.
func TestFiguresInOrder(t *testing.T) {
	text := "key C; 4/4 treble C5:8 D5:8 E5:8 F5:8 G5:4 G5:4 | C5:16 E5:16 G5:16 C6:16 G5:4 C5:2 | D5:8 E5:8 F5:8 G5:8 A5:4 A5:4 | C5:8. E5:16 D5:8. F5:16 C5:2 | C5:16 E5:16 G5:16 C6:16 G5:4 C5:2 |]"
	s, err := survey.Of(pieceOf(t, score.MustText(text)), 0, survey.Options{Instrument: instrument(t, "flute"), Catalogue: figure.Default(), Ladder: rungs(t), Rung: 3})
	if err != nil {
		t.Fatal(err)
	}
	all := s.Vocabulary.Figures
	fresh := 0
	for i, f := range all {
		if !f.Known {
			fresh++
		}
		if i > 0 && (all[i-1].Known && !f.Known || all[i-1].Known == f.Known && all[i-1].Count < f.Count) {
			t.Errorf("%+v before %+v", all[i-1], f)
		}
	}
	if fresh == 0 || fresh == len(all) || fresh != s.Vocabulary.New {
		t.Errorf("%d of %d are new, %d told: want some", fresh, len(all), s.Vocabulary.New)
	}
	hard := s.Hard(len(all))
	for i, f := range hard {
		if len(f.Pitches) < 2 || i > 0 && f.Known && hard[i-1].Known && hard[i-1].Level < f.Level {
			t.Errorf("to drill: %+v", hard)
		}
	}
	if got := s.Hard(1); len(got) != 1 || got[0].Known {
		t.Errorf("the first to drill: %+v", got)
	}
}
