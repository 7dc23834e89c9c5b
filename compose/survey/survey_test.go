package survey_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/compose/survey"
	"onward/styles"
	"onward/theory"
)

func instrument(t testing.TB, id string) theory.Instrument {
	t.Helper()
	in, err := theory.InstrumentByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func rungs(t testing.TB) *ladder.Ladder {
	t.Helper()
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// pieceOf is the part as a printed piece.
func pieceOf(t testing.TB, part score.Part) *musicxml.Piece {
	t.Helper()
	var b bytes.Buffer
	if err := musicxml.Write(&b, &score.Score{Title: "Study", Parts: []score.Part{part}}); err != nil {
		t.Fatal(err)
	}
	p, err := musicxml.ReadPiece(&b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// surveyOf looks over a part in compact text for the instrument.
func surveyOf(t *testing.T, id, text string) *survey.Survey {
	t.Helper()
	part, err := score.ParseText(text)
	if err != nil {
		t.Fatal(err)
	}
	part.Name = "Solo"
	s, err := survey.Of(pieceOf(t, part), 0, survey.Options{Instrument: instrument(t, id), Catalogue: figure.Default(), Ladder: rungs(t)})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// The mode is what the notes tell, not what the file says.
func TestKey(t *testing.T) {
	for _, c := range []struct{ text, name, sounding string }{
		{"key C; 4/4 treble C4:4 D4:4 E4:4 F4:4 | G4:4 E4:4 D4:4 B3:4 | C4:1 |]", "C major", "C major"},
		{"key C; 4/4 treble A4:4 B4:4 C5:4 D5:4 | E5:4 C5:4 B4:4 G#4:4 | A4:1 |]", "A minor", "A minor"},
		{"key C; 4/4 treble G4:4 A4:4 B4:4 G#4:4 | C5:4 E5:4 E5:4 E5:4 | C5:1 |]", "C major", "C major"}, // for where it ends
		{"key A minor; 4/4 treble C4:4 D4:4 E4:4 F4:4 | G4:4 E4:4 D4:4 B3:4 | C4:1 |]", "C major", "C major"},
		{"sounds -1 -2; key C; 4/4 treble C4:4 D4:4 E4:4 F4:4 | G4:4 E4:4 D4:4 B3:4 | C4:1 |]", "C major", "Bb major"},
		{"key Bb; 3/4 treble G4:4 Bb4:4 D5:4 | C5:4 A4:4 F#4:4 | G4:2. |]", "G minor", "G minor"},
	} {
		s := surveyOf(t, "flute", c.text)
		if s.Key.Name != c.name || s.Key.Sounding != c.sounding {
			t.Errorf("%s: %s sounding %s, want %s sounding %s", c.text, s.Key.Name, s.Key.Sounding, c.name, c.sounding)
		}
	}
}

// A page without a transposition is taken as written for the instrument; one for another
// instrument is told apart, and its range is that of what sounds.
func TestReading(t *testing.T) {
	text := "key C; 4/4 treble C4:4 D4:4 E4:4 F4:4 | G4:4 E4:4 D4:4 B3:4 | C4:1 |]"
	for _, c := range []struct{ id, text, reading, sounding, bracket string }{
		{"flute", text, survey.AsWritten, "C major", ""}, // below the flute
		{"cornet", text, survey.NotSaid, "Bb major", "intermediate"},
		{"cornet", "sounds -1 -2; " + text, survey.AsWritten, "Bb major", "intermediate"},
		{"trombone", "sounds -1 -2; " + text, survey.Transposed, "Bb major", "advanced"},
		{"euphonium-tc", "key C; 4/4 bass C3:4 D3:4 E3:4 F3:4 | G3:4 E3:4 D3:4 B2:4 | C3:1 |]", survey.Transposed, "C major", "six notes"},
	} {
		s := surveyOf(t, c.id, c.text)
		if s.Reading != c.reading || s.Key.Sounding != c.sounding || s.Range.Bracket != c.bracket {
			t.Errorf("%s, %s: %s, sounding %s, bracket %q; want %s, %s, %q", c.id, c.text, s.Reading, s.Key.Sounding, s.Range.Bracket, c.reading, c.sounding, c.bracket)
		}
	}
}

func TestRange(t *testing.T) {
	for _, c := range []struct{ text, low, high, bracket, beyond string }{
		// B-flat treble brass: beginner C4 to C5, intermediate A3 to F5, advanced F#3 to A5
		// (the project's facts of the trade, computed from the valve chart).
		{"key C; 4/4 treble C4:4 E4:4 G4:4 C5:4 | C4:1 |]", "C4 1", "C5 1", "beginner", "a third above six notes"},
		{"key C; 4/4 treble C4:4 E4:4 G4:4 C5:4 | A5:2 C4:2 |]", "C4 1", "A5 2", "advanced", "a third above intermediate"},
		{"key C; 4/4 treble G3:4 E4:4 G4:4 C5:4 | G5:2 C4:2 |]", "G3 1", "G5 2", "advanced", "a second above, a second below intermediate"},
		{"key C; 4/4 treble C4:4 E4:4 G4:4 C5:4 | D6:2 C4:2 |]", "C4 1", "D6 2", "", "a second above beyond"},
	} {
		s := surveyOf(t, "cornet", c.text)
		r := s.Range
		beyond := strings.TrimSpace(strings.Join(r.Beyond, ", ") + " " + r.Inside)
		low, high := fmt.Sprintf("%s %d", r.Low.Pitch, r.Low.Measure), fmt.Sprintf("%s %d", r.High.Pitch, r.High.Measure)
		if low != c.low || high != c.high || r.Bracket != c.bracket || beyond != c.beyond {
			t.Errorf("%s: %s to %s, %q, %q; want %s to %s, %q, %q", c.text, low, high, r.Bracket, beyond, c.low, c.high, c.bracket, c.beyond)
		}
	}
}

// Measures in another key are found where a note off the signature tells it; chromatic
// neighbours and passing notes tell nothing.
func TestTonicised(t *testing.T) {
	home := "key C; 4/4 treble C4:4 E4:4 G4:4 E4:4 | F4:4 A4:4 G4:2 | "
	for _, c := range []struct{ text, want string }{
		{home + "C5:4 B4:4 A4:4 G4:4 | C4:1 |]", ""},
		{home + "D4:4 F#4:4 A4:4 C5:4 | B4:4 G4:4 F#4:4 A4:4 | G4:4 B4:4 D5:4 B4:4 | G4:1 | F4:4 D4:4 E4:4 C4:4 | F4:4 A4:4 C5:4 A4:4 | G4:4 F4:4 E4:4 D4:4 | C4:1 |]", "G major by F#"},
		{home + "E4:4 G#4:4 B4:4 D5:4 | C5:4 A4:4 E4:4 G#4:4 | A4:4 C5:4 E5:4 C5:4 | A4:1 | F4:4 D4:4 G4:4 F4:4 | E4:4 G4:4 C5:4 G4:4 | C4:1 |]", "A minor by G#"},
		{home + "G5:4 Bb4:4 F#5:4 Bb4:4 | G5:4 Bb4:4 F#5:4 G5:4 | E5:4 D5:4 C5:4 B4:4 | C5:1 |]", "G minor by F#"}, // no fifth
		{"key C; 4/4 treble G4:4 C5:4 Bb4:4 G5:4 | C5:4 E5:4 G4:4 E5:4 | C5:1 |]", ""},
		{home + "G4:4 F#4:4 G4:4 E4:4 | C4:4 C#4:4 D4:2 | G4:4 F#4:4 G4:2 | C4:1 |]", ""},
	} {
		var got []string
		for _, r := range surveyOf(t, "flute", c.text).Tonicised {
			if r.First < 3 && c.want != "" || r.Last > 6 {
				t.Errorf("%s: %s in %d to %d", c.text, r.Key, r.First, r.Last)
			}
			got = append(got, r.Key+" by "+r.By)
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestForm(t *testing.T) {
	s := surveyOf(t, "flute", `key C; 2/4 treble pickup r:8 G4:8 | C5:4 C5:4 | D5:4 D5:4 | [1 E5:2 ] :| [2 C5:2 ] ||
		letter B; key F; F4:2 | A4:2 | C5:2 |]`)
	f := s.Form
	if f.Measures != 7 || !f.Upbeat || f.Played != 9 {
		t.Errorf("%d measures, upbeat %v, %d played; want 7, true, 9", f.Measures, f.Upbeat, f.Played)
	}
	if got := fmt.Sprint(f.Way); got != "[the upbeat to 3 the upbeat to 2 4 to 7]" {
		t.Errorf("the way is %s", got)
	}
	if len(f.Sections) != 2 || !f.Sections[0].Repeated || !f.Sections[0].Endings || f.Sections[1].Letter != "B" || f.Sections[1].First != 5 {
		t.Errorf("sections %+v", f.Sections)
	}
	if len(s.Changes) != 1 || s.Changes[0].Name != "F major" || s.Changes[0].Measure != 5 {
		t.Errorf("changes %+v", s.Changes)
	}
	if trap(s, survey.OtherEnding) != 4 {
		t.Errorf("traps %+v", s.Traps)
	}
}

func TestRests(t *testing.T) {
	s := surveyOf(t, "flute", "key C; 4/4 treble R | R | r:2 r:8 C5:8 D5:4 | C5:1 | R | R | R |]")
	if got := fmt.Sprintf("%+v", s.Rests); got != "[{Measure:1 Measures:2 Entry:3 Beat:3+1/2 Pitch:C5} {Measure:5 Measures:3 Entry:0 Beat: Pitch:}]" {
		t.Errorf("rests %s", got)
	}
}

func TestSigns(t *testing.T) {
	s := surveyOf(t, "flute", "key C; 4/4 treble C5:4 C#5:4 D5:4 C5:4 | {D5,E5}F5:4 F#5:4 G5:2 | C5:8 D5:8 E5:8 F5:8 G5:8 F5:8 E5:8 D5:8 | C5:1 |]")
	if s.Accidental.Count != 3 || fmt.Sprint(s.Accidental.Measures) != "[1 2]" {
		t.Errorf("accidentals %+v", s.Accidental)
	}
	if s.Graces.Count != 2 || fmt.Sprint(s.Graces.Measures) != "[2]" {
		t.Errorf("grace notes %+v", s.Graces)
	}
	if s.Densest != (survey.Dense{Measure: 3, Notes: 8}) {
		t.Errorf("densest %+v", s.Densest)
	}
	if len(s.Load) != 4 || s.Heaviest.Measure != 3 {
		t.Errorf("load %+v", s.Load)
	}
}

// trap reports the measure of the first trap of the kind; -1 for none.
func trap(s *survey.Survey, kind string) int {
	for _, t := range s.Traps {
		if t.Kind == kind {
			return t.Measure
		}
	}
	return -1
}

func TestTraps(t *testing.T) {
	plain := "key C; 4/4 treble C5:4 D5:4 E5:4 F5:4 | G5:4 F5:4 E5:4 D5:4 | E5:4 F5:4 G5:4 A5:4 | G5:4 E5:4 D5:4 B4:4 | "
	for _, c := range []struct {
		kind, text string
		want       int
	}{
		{survey.LooksLike, plain + "C5:8 G5:8 C6:8 E6:8 C5:2 | C5:1 |]", 5},
		{survey.StartsLike, plain + "C5:4 D5:4 E5:4 G5:4 | C5:1 |]", 5},
		{survey.StartsLike, plain + "C5:4 D5:4 E5:4 F5:4 | C5:1 |]", -1},      // whole
		{survey.StartsLike, plain + "C5:4 D5:4 F5:4 G5:4 | C5:1 |]", -1},      // too little in common
		{survey.StartsLike, plain + "C5:8 D5:8 E5:4 F5:4 G5:4 | C5:1 |]", -1}, // another rhythm
		{survey.Syncopation, plain + "C5:8 D5:4 E5:8 F5:2 | C5:1 |]", 5},      // 4 plain measures before
		{survey.Syncopation, "key C; 4/4 treble C5:8 D5:4 E5:8 F5:2 | C5:1 |]", -1},
		{survey.Cancelled, plain + "C5:4 C#5:4 D5:4 C5:4 | C5:1 |]", 5},
		{survey.StillHolds, plain + "C5:4 F#5:4 G5:4 F#5:4 | C5:1 |]", 5},
		{survey.StillHolds, plain + "C5:4 F#5:4 F#5:4 G5:4 | C5:1 |]", -1}, // the same note again
		{survey.NewClef, plain + "bass C3:1 | C3:1 |]", 5},
		{survey.NewMeter, plain + "3/4 C5:2. | C5:2. |]", 5},
		{survey.BigLeap, plain + "C5:4 E6:4 D6:4 C6:4 | C6:1 |]", 5},
		{survey.BigLeap, plain + "C5:4 r:4 E6:4 C6:4 | C6:1 |]", -1}, // time to look
		{survey.NoBreath, "tempo 4=60; " + plain + "C5:1 |]", 1},     // 20 s in one breath
		{survey.NoBreath, "tempo 4=120; key C; 4/4 treble C5:4 D5:4 E5:2 | C5:2 r:2 | C5:4 D5:4 E5:2 | C5:1 |]", -1},
	} {
		s := surveyOf(t, "flute", c.text)
		if got := trap(s, c.kind); got != c.want {
			t.Errorf("%s: %q in %d, want %d; %+v", c.text, c.kind, got, c.want, s.Traps)
		}
		if !slices.IsSortedFunc(s.Traps, func(a, b survey.Trap) int { return a.Measure - b.Measure }) {
			t.Errorf("%s: traps in no order: %+v", c.text, s.Traps)
		}
	}
}

// A clef is told where it stands on the page, inside a measure too; one at the end of a
// measure is the next one's, and one that is in force already is none.
func TestClefs(t *testing.T) {
	clef := func(sign, line string) string {
		return "<attributes><clef><sign>" + sign + "</sign><line>" + line + "</line></clef></attributes>"
	}
	half := func(octave string) string {
		return "<note><pitch><step>C</step><octave>" + octave + "</octave></pitch><duration>2</duration></note>"
	}
	bass, treble := clef("F", "4"), clef("G", "2")
	text := `<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Solo</part-name></score-part></part-list><part id="P1">` +
		`<measure number="1"><attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>` + bass + half("3") + half("3") + `</measure>` +
		`<measure number="2">` + half("3") + treble + half("4") + `</measure>` +
		`<measure number="3">` + half("4") + bass + half("3") + treble + `</measure>` +
		`<measure number="4">` + half("4") + treble + half("4") + `</measure>` +
		`<measure number="5">` + bass + half("3") + half("3") + `</measure></part></score-partwise>`
	p, err := musicxml.ReadPiece(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := survey.Of(p, 0, survey.Options{Instrument: instrument(t, "trombone"), Catalogue: figure.Default(), Ladder: rungs(t)})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, trap := range s.Traps {
		if trap.Kind == survey.NewClef {
			got = append(got, fmt.Sprintf("%d %s: %s", trap.Measure, trap.Beat, trap.Words))
		}
	}
	want := []string{"2 3: treble clef inside the measure, from beat 3", "3 3: bass clef inside the measure, from beat 3", "4 : treble clef from here", "5 : bass clef from here"}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

// What is known is what the vocabulary has, or what the rungs below hold.
func TestFigures(t *testing.T) {
	text := "key C; 4/4 treble C5:8 D5:8 E5:8 F5:8 G5:4 G5:4 | C5:8 D5:8 E5:8 F5:8 G5:4 G5:4 | C5:16 E5:16 G5:16 C6:16 G5:4 C5:2 |]"
	part := score.MustText(text)
	drilled := figure.Default().Learn(&part)
	o := survey.Options{Instrument: instrument(t, "flute"), Catalogue: figure.Default(), Ladder: rungs(t), Vocabulary: &drilled}
	s, err := survey.Of(pieceOf(t, part), 0, o)
	if err != nil {
		t.Fatal(err)
	}
	if s.Vocabulary.Share != 1 || s.Vocabulary.New != 0 || s.Vocabulary.By != survey.ByVocabulary {
		t.Errorf("of itself: %+v", s.Vocabulary)
	}
	o.Vocabulary, o.Rung = nil, 2
	if s, err = survey.Of(pieceOf(t, part), 0, o); err != nil {
		t.Fatal(err)
	}
	if s.Vocabulary.New == 0 || s.Vocabulary.By != survey.ByRung || s.Vocabulary.Figures[0].Known {
		t.Errorf("on rung 2: %+v", s.Vocabulary)
	}
	total := 0
	for _, f := range s.Vocabulary.Figures {
		total += f.Notes
		if f.Known != (f.Level < 2) || f.Count == 0 || len(f.Measures) == 0 || f.Words == "" || f.Rhythm == "" || len(f.Pitches)*f.Count != f.Notes {
			t.Errorf("%+v", f)
		}
	}
	if total > s.Vocabulary.Notes {
		t.Errorf("%d notes in figures of %d", total, s.Vocabulary.Notes)
	}
	if s.Rung.Slower == 0 || s.Rung.Asked != 2 {
		t.Errorf("rung %+v", s.Rung)
	}
}

func TestOfRefuses(t *testing.T) {
	p := pieceOf(t, score.MustText("key C; 4/4 treble R | R |]"))
	o := survey.Options{Instrument: instrument(t, "flute"), Catalogue: figure.Default(), Ladder: rungs(t)}
	if _, err := survey.Of(p, 0, o); err == nil || !strings.Contains(err.Error(), "no notes") {
		t.Errorf("silence: %v", err)
	}
	p.Parts[0].Line = nil
	if _, err := survey.Of(p, 0, o); err == nil || !strings.Contains(err.Error(), "one line") {
		t.Errorf("no line: %v", err)
	}
}

// Of reads by the composer, whose keys and traps are known, the survey finds the same.
func TestSurveyOfReads(t *testing.T) {
	world := compose.NewWorld(figure.Default(), rungs(t))
	reads, keys, traps, found, false5 := 0, 0, 0, 0, 0
	in := instrument(t, "euphonium-tc")
	for _, style := range []string{"march", "lyrical"} {
		sheet, err := styles.Shipped(style)
		if err != nil {
			t.Fatal(err)
		}
		for rung := 1; rung <= 12; rung++ {
			for seed := range uint64(3) {
				r, err := compose.Compose(&world, compose.Request{Style: sheet, Rung: rung, Instrument: in, Seed: seed, Form: "strain"})
				if err != nil {
					t.Fatal(err)
				}
				s, err := survey.Of(pieceOf(t, r.Score.Parts[0]), 0, survey.Options{Instrument: in, Catalogue: figure.Default(), Ladder: world.Ladder})
				if err != nil {
					t.Fatalf("%s rung %d seed %d: %v", style, rung, seed, err)
				}
				reads++
				if s.Writing == r.Written(r.Key) {
					keys++
				}
				if rung <= 5 { // all of one key
					false5 += len(s.Tonicised)
				}
				for _, trap := range r.Traps {
					traps++
					if slices.ContainsFunc(s.Traps, func(x survey.Trap) bool {
						return x.Kind == survey.LooksLike && x.Measure == r.Score.Parts[0].Measures[trap.Measure].Number
					}) {
						found++
					}
				}
				page := s.Drills(s.Hard(6), in, figure.Default())
				if page == nil {
					t.Fatalf("%s rung %d seed %d: no drills", style, rung, seed)
				}
				if err := score.Check(page).Err(); err != nil {
					t.Errorf("%s rung %d seed %d: drills: %v", style, rung, seed, err)
				}
			}
		}
	}
	t.Logf("%d reads: the key of %d, %d of %d traps, %d keys on rungs of one key", reads, keys, found, traps, false5)
	if 100*keys < 93*reads || 100*found < 90*traps || traps == 0 || false5 > 0 {
		t.Errorf("%d reads: the key of %d, %d of %d traps, %d keys on rungs of one key", reads, keys, found, traps, false5)
	}
}

// A page of drills holds the figures asked for, each from several notes of the key.
func TestDrills(t *testing.T) {
	s := surveyOf(t, "flute", "tempo 4=100 Allegro; key G; 4/4 treble G4:8 B4:8 D5:8 G5:8 F#5:8 E5:8 D5:8 C5:8 | B4:16 A4:16 G4:16 A4:16 B4:4 G4:2 |]")
	hard := s.Hard(3)
	page := s.Drills(hard, instrument(t, "flute"), figure.Default())
	if page == nil || len(hard) == 0 {
		t.Fatal("no drills")
	}
	if err := score.Check(page).Err(); err != nil {
		t.Error(err)
	}
	times := map[figure.Figure]int{}
	for _, f := range figure.Default().Learn(&page.Parts[0]).Figures {
		times[f.Figure] = f.Count + f.Within
	}
	for _, f := range hard {
		if times[f.Figure] < 4 {
			t.Errorf("%v stands there %d times", f.Figure, times[f.Figure])
		}
	}
	first := page.Parts[0].Measures[0]
	if first.Tempo == nil || first.Tempo.BPM != 60 || first.Words == "" || first.Key.String() != "G major" {
		t.Errorf("it begins with %+v", first)
	}
}

// An upbeat bears much in little time; the measure that is named as the hardest is a whole one.
func TestUpbeatIsNotTheHardest(t *testing.T) {
	s := surveyOf(t, "flute", "key C; 4/4 treble pickup A4:16 G4:16 | C5:4 C5:4 D5:8 C5:8 B4:4 | C5:4 A4:2 short |]")
	if s.Heaviest.Measure != 1 {
		t.Errorf("measure %d has most to take in, want 1: %v", s.Heaviest.Measure, s.Load)
	}
}
