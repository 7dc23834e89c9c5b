package tune_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"onward/compose/idiom"
	"onward/compose/score"
	"onward/compose/tune"
	"onward/rhythm"
	"onward/theory"
)

// made reads a tune of steps and ticks, "7:24 r:12", with a pickup in parentheses.
func made(t testing.TB, beats, unit int, text string) *tune.Tune {
	t.Helper()
	made := &tune.Tune{Beats: beats, Unit: unit}
	at, pickup, ok := 0, text, false
	if pickup, _, ok = strings.Cut(text, ")"); ok {
		for _, w := range strings.Fields(pickup[1:]) {
			var step, ticks int
			fmt.Sscanf(w, "%d:%d", &step, &ticks)
			at -= ticks
		}
	}
	for _, w := range strings.Fields(strings.NewReplacer("|", "", "(", "", ")", "").Replace(text)) {
		var name string
		var step, ticks int
		name, length, _ := strings.Cut(w, ":")
		fmt.Sscan(length, &ticks)
		if name != "r" {
			fmt.Sscan(name, &step)
			made.Notes = append(made.Notes, tune.Note{Onset: at, Ticks: ticks, Step: step})
		}
		at += ticks
	}
	made.Measures = at / made.Measured()
	return made
}

// form writes a tune's relations, chords and phrase ends as a data file would.
func form(t *tune.Tune) string {
	f := idiom.Form{Weight: 1}
	measures, chords, relations, ends := t.ByMeasure(), t.Chords(), t.Relations(), t.Ends()
	for i := range measures {
		f.Measures = append(f.Measures, idiom.Measure{Relation: relations[i], Chord: chords[i], End: ends[i], Silent: len(measures[i]) == 0})
	}
	m := idiom.NewMeter("", 1, 1, 1, nil)
	m.Forms = []idiom.Form{f}
	var b bytes.Buffer
	d := idiom.Idiom{Meters: []*idiom.Meter{m}}
	if err := d.Write(&b); err != nil {
		return err.Error()
	}
	text := b.String()
	return strings.TrimSpace(text[strings.LastIndex(text, "/")+1:])
}

// The values are those of another implementation, in Python. The tunes are ours.
func TestRelationsChordsAndEnds(t *testing.T) {
	for _, c := range []struct {
		beats, unit int
		tune, want  string
	}{
		{2, 4, "(4:12) 7:24 7:12 6:12 | 5:24 4:24 | 4:12 5:12 6:12 7:12 | 8:36 4:12 | 7:24 7:12 6:12 | 5:24 4:24 | 9:12 8:12 6:12 8:12 | 7:36 r:12",
			"n.I n.I n.I n.V=4 s0.I s1.IV b2.V n.I=0"},
		{6, 8, "0:24 2:12 4:24 4:12 | 5:24 4:12 2:36 | 1:24 3:12 5:24 5:12 | 6:24 5:12 3:36 | 0:24 2:12 4:24 7:12 | 5:24 3:12 1:36 | 4:12 4:12 5:12 6:12 5:12 6:12 | 7:36 r:36",
			"n.I n.vi m0:1.ii m1:1.V=3 h0:3.I c1.ii n.V n.I=0"},
		{3, 4, "4:48 2:24 | 3:24 4:24 5:24 | 4:48 2:24 | 1:72 | 5:48 3:24 | 4:24 5:24 6:24 | 8:24 6:24 4:24 | r:72",
			"n.I n.IV s0.I n.ii=1 m0:1.ii m1:1.V b5.V=4 _.V"},
		{4, 4, "r:96 | 7:24 6:12 5:12 4:48 | 6:24 5:12 4:12 3:48 | 2:24 3:24 4:48 | 7:24 6:12 5:12 4:48 | 8:24 6:12 5:12 2:48 | 1:24 4:24 -1:24 1:24 | 0:96",
			"_.I n.I m1:-1.V n.I=4 s1.I c1.I n.V n.I=0"},
	} {
		if got := form(made(t, c.beats, c.unit, c.tune)); got != c.want {
			t.Errorf("%d/%d %s\n got %s\nwant %s", c.beats, c.unit, c.tune, got, c.want)
		}
	}
}

// The names held back are those of another implementation, in Python.
func TestHeldBack(t *testing.T) {
	held := map[int]bool{4: true, 5: true, 7: true, 10: true, 11: true, 19: true}
	for i := range 20 {
		if got := tune.HeldBack(fmt.Sprint("air-", i)); got != held[i] {
			t.Errorf("air-%d: held back %v", i, got)
		}
	}
}

// Runs are the same in every key and octave, and differ by one interval or length.
func TestRuns(t *testing.T) {
	runs := func(key theory.Key, text string) []uint64 {
		p := score.MustText(text)
		return tune.FromPart(&p, key, rhythm.Meter{Beats: 2, Unit: 4}, 0, 2).Runs(5)
	}
	c := runs(theory.Key{}, "2/4 C4:8 D4:8 E4:8 F4:8 | F#4:8 G4:8 C4:4 |")
	for text, want := range map[string]bool{
		"key D; 2/4 D5:8 E5:8 F#5:8 G5:8 | G#5:8 A5:8 D5:4 |":  true,
		"key D; 2/4 D5:8 E5:8 F5:8 G5:8 | G#5:8 A5:8 D5:4 |":   false,
		"key D; 2/4 D5:8 E5:8 F#5:4 | G5:8 G#5:8 A5:8 D5:8 |":  false,
		"key D; 2/4 D5:8 E5:8 F#5:8 G5:8 | Ab5:8 A5:8 D5:4 |":  true, // another spelling
		"key D; 2/4 E5:8 F#5:8 G#5:8 A5:8 | A#5:8 B5:8 E5:4 |": true, // in a key that is not signed
	} {
		got := runs(theory.Key{Fifths: 2}, text)
		if same := len(got) == 3 && len(c) == 3 && got[0] == c[0] && got[1] == c[1] && got[2] == c[2]; same != want {
			t.Errorf("%s: the same runs %v, want %v", text, same, want)
		}
	}
}

func text(t *tune.Tune) string {
	if t == nil {
		return "none"
	}
	s := fmt.Sprintf("%d/%d %d:", t.Beats, t.Unit, t.Measures)
	for _, n := range t.Notes {
		s += fmt.Sprintf(" %d+%d %d", n.Onset, n.Ticks, n.Step)
		if n.Alter != 0 {
			s += fmt.Sprintf("%+d", n.Alter)
		}
	}
	return s
}

func TestFromPart(t *testing.T) {
	bb, gm := theory.Key{Fifths: -2}, theory.Key{Fifths: -2, Mode: theory.Minor}
	for _, c := range []struct {
		part     string
		key      theory.Key
		from     int
		measures int
		want     string
	}{
		{"key Bb; 2/4 pickup F4:8 | Bb4:4 C5:4~ | C5:4 E5:8 F5:8 |", bb, 1, 2, "2/4 2: -12+12 -3 0+24 0 24+48 1 72+12 3+1 84+12 4"},
		{"key Bb; 2/4 pickup F4:8 | Bb4:4 C5:4~ | C5:4 E5:8 F5:8 |", bb, 0, 2, "2/4 2: -12+12 -3 0+24 0 24+48 1 72+12 3+1 84+12 4"},
		{"key Gm; 2/4 G4:4 F#4:4 | G4:2 |", gm, 0, 2, "2/4 2: 0+24 7 24+24 6+1 48+48 7"},
		// what leads over is no part of this strain, but of the next
		{"key Bb; 2/4 F4:2 | Bb4:4 r:8 C5:8 | D5:2 |", bb, 0, 2, "2/4 2: 0+48 4 48+24 7"},
		{"key Bb; 2/4 F4:2 | Bb4:4 r:8 C5:8 | D5:2 |", bb, 2, 1, "2/4 1: -12+12 1 0+48 2"},
		// the second ending
		{"key Bb; 2/4 |: F4:2 | [1 G4:2 ] :| [2 Bb4:2 ] |]", bb, 0, 2, "2/4 2: 0+48 4 48+48 7"},
		{"key Bb; cut F4:2 C5:2 | Bb4:1 |]", bb, 0, 2, "2/4 2: 0+24 4 24+24 8 48+48 7"},
		{"key Bb; 2/4 F4:2 |", bb, 0, 2, "none"},
		{"key Bb; 2/4 R | R |", bb, 0, 2, "none"},
		{"key Bb; 2/4 Bb4:8t C5:8t D5:8t Bb4:4 |", bb, 0, 1, "2/4 1: 0+8 0 8+8 1 16+8 2 24+24 0"},
	} {
		p := score.MustText(c.part)
		meter := rhythm.Meter{Beats: 2, Unit: 4}
		if strings.Contains(c.part, "cut") {
			meter = rhythm.CutTime
		}
		if got := text(tune.FromPart(&p, c.key, meter, c.from, c.measures)); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.part, got, c.want)
		}
	}
}

// A march of a part is cut at its repeat signs, with its pickups.
func TestRowsOf(t *testing.T) {
	eight := strings.Repeat("F4:4 G4:8 A4:8 | Bb4:4 D5:4 | ", 3) + "C5:4 A4:4 | "
	p := score.MustText("key Bb; 2/4 pickup F4:8 | " + eight + "short Bb4:4 r:8 :|: pickup F4:8 | " + eight + "Bb4:2 |]")
	rows := tune.RowsOf(&p, "ours", "march")
	var got []string
	for _, r := range rows {
		for _, t := range r.Tunes() {
			got = append(got, fmt.Sprint(t.Measures, " ", len(t.Pickup()), " ", len(t.Notes), " ", t.Notes[len(t.Notes)-1].Step%7))
		}
	}
	if want := "[8 1 19 0 8 1 19 0]"; fmt.Sprint(got) != want {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestRowsRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"{\n": "line 1: ",
		`{"id":"a","meter":[2,4],"bars":[0],"notes":[[0,48,60]]}` + "\n" + `{"id":"b","meter":[2,4],"bars":[0],"notes":[]}`: `line 2: melody "b" lacks`,
	} {
		if _, err := tune.Rows(strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: got %v, want %s", text, err, want)
		}
	}
}

// melodies reads the real melodies; the test is skipped where they are not.
func melodies(t testing.TB) []*tune.Row {
	t.Helper()
	f, err := os.Open("../../../shared/melodies/melodies.jsonl")
	if err != nil {
		t.Skip("no real melodies here: ", err)
	}
	defer f.Close()
	rows, err := tune.Rows(f)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Real melodies are cut into as many sections and windows, with as many notes, as another
// implementation, in Python, cuts them into; those of 16 measures in 2/4 aside, which here
// may have a repeat sign in the middle.
func TestTunesOfRealMelodies(t *testing.T) {
	tunes, notes := map[string]int{}, map[string]int{}
	for _, r := range melodies(t) {
		for _, u := range r.Tunes() {
			if last := u.Notes[len(u.Notes)-1].Step; u.Kind != "dance" && u.Kind != "march" && last%7 != 0 || u.Unit == 4 && u.Beats == 3 && last%7 != 0 {
				continue
			}
			kind := fmt.Sprintf("%s %d/%d %d", u.Kind, u.Beats, u.Unit, u.Measures)
			tunes[kind]++
			notes[kind] += len(u.Notes)
		}
	}
	for kind, want := range map[string][2]int{
		"dance 6/8 8":    {1050, 46084},
		"dance 3/4 8":    {197, 6430},
		"song 3/4 8":     {265, 6435},
		"song 4/4 8":     {343 + 63, 10658 + 1926}, // with those in 2/2
		"song 2/4 8":     {175, 4503},
		"vocalise 6/8 8": {22, 792},
	} {
		if got := [2]int{tunes[kind], notes[kind]}; got != want {
			t.Errorf("%s: tunes and notes %d, want %d", kind, got, want)
		}
	}
	t.Log(tunes)
}
