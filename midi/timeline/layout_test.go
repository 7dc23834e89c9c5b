package timeline

import (
	"fmt"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/rhythm"
)

func layOut(t *testing.T, c CountIn, text string) *Layout {
	t.Helper()
	p := score.MustText(text)
	l, err := LayOut(&p, c)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return l
}

// said is a timeline's text without its beats.
func said(l *Timeline, beats bool) string {
	var lines []string
	for _, line := range strings.Split(strings.TrimSpace(l.Text()), "\n") {
		if strings.Contains(line, " beat ") == beats {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

func same(t *testing.T, what, got, want string) {
	t.Helper()
	if want = strings.TrimSpace(want); strings.TrimSpace(got) != want {
		t.Errorf("%s\n got\n%s\nwant\n%s", what, got, want)
	}
}

// The maps of a trumpet part with a repeat, a change of meter, key and tempo, behind
// a count-in of three measures. B-flat concert is C for the B-flat player (common
// practice); a dotted quarter = 120 is 180 quarters, 333,333 microseconds each.
func TestTimelineMaps(t *testing.T) {
	l := layOut(t, FullCountIn(), `sounds -1 -2; key C; 2/4 tempo 4=120; letter A;
		|: C5:4 D5:4 :| letter B; key F; 6/8 tempo 4.=120; C5:2. | tempo 4=60; C5:2. |]`)
	same(t, "maps", said(l.Timeline(), false), `
count-in 6 end 16
0 tempo 500000 microseconds to the quarter
10 tempo 333333 microseconds to the quarter
13 tempo 1000000 microseconds to the quarter
0 meter 2/4
10 meter 6/8
0 key Bb major
10 key Eb major
0 marker "Count-in"
6 marker "Start"
6 marker "A"
8 marker "A"
10 marker "B"`)
	same(t, "beats", said(l.Timeline(), true), `
0 beat 1 of 2 in measure 0 (index -1) pass 1
1 beat 2 of 2 in measure 0 (index -1) pass 1
2 beat 1 of 2 in measure 1 (index -1) pass 1
3 beat 2 of 2 in measure 1 (index -1) pass 1
4 beat 1 of 2 in measure 2 (index -1) pass 1
5 beat 2 of 2 in measure 2 (index -1) pass 1
6 beat 1 of 2 in measure 1 (index 0) pass 1
7 beat 2 of 2 in measure 1 (index 0) pass 1
8 beat 1 of 2 in measure 1 (index 0) pass 2
9 beat 2 of 2 in measure 1 (index 0) pass 2
10 beat 1 of 2 in measure 2 (index 1) pass 1
11+1/2 beat 2 of 2 in measure 2 (index 1) pass 1
13 beat 1 of 2 in measure 3 (index 2) pass 1
14+1/2 beat 2 of 2 in measure 3 (index 2) pass 1`)
	if err := l.Timeline().Check(); err != nil {
		t.Error(err)
	}
}

// starts says where the measures begin and where their beats fall, as beat@quarter.
func starts(l *Layout) string {
	var b strings.Builder
	for _, m := range l.Measures {
		fmt.Fprintf(&b, "| %d:", m.Number)
		for _, beat := range m.beats() {
			fmt.Fprintf(&b, " %d@%s", beat.Beat, quarters(beat.At))
		}
		b.WriteString(" ")
	}
	return strings.TrimSpace(b.String())
}

// A pickup's beats are the last of a measure; so are those of a measure that
// completes one cut short. The measure that completes the pickup at the end, before
// the repeat, begins on its downbeat.
func TestPickupBeats(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"4/4 C4:4 | D4:1 | E4:2. |]", "| 0: 4@0 | 1: 1@1 2@2 3@3 4@4 | 2: 1@5 2@6 3@7"},
		{"6/8 C4:8 | D4:2. |", "| 0: | 1: 1@1/2 2@2"},
		{"6/8 C4:4. C4:8 | D4:2. |", "| 0: 2@1/2 | 1: 1@2 2@3+1/2"},
		{"3/4 C4:2 | D4:2. |", "| 0: 2@0 3@1 | 1: 1@2 2@3 3@4"},
		{"2/4 C4:2 | short D4:4 :|: pickup E4:4 | F4:2 |", "| 1: 1@0 2@1 | 2: 1@2 | 1: 1@3 2@4 | 2: 1@5 | 2: 2@6 | 3: 1@7 2@8"},
		{"2/4 C4:2 | short D4:4 | short E4:4 | F4:2 |", "| 1: 1@0 2@1 | 2: 1@2 | 3: 2@3 | 4: 1@4 2@5"},
		{"cut C4:1 | 5/4 C4:1~ C4:4 | 3/8 C4:4.", "| 1: 1@0 2@2 | 2: 1@4 2@5 3@6 4@7 5@8 | 3: 1@9"},
	} {
		if got := starts(layOut(t, CountIn{}, c.text)); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.text, got, c.want)
		}
	}
}

// clicks says the clicks as beats in quarters, the accented ones with an accent.
func clicks(l *Layout) string {
	var words []string
	for _, c := range l.Clicks() {
		w := quarters(c.At)
		if c.Key == ClickAccent {
			w += ">"
		}
		words = append(words, w)
	}
	return strings.Join(words, " ")
}

// The count-in is the tonic chord for a measure and two measures counted; with a
// pickup the count ends where the pickup enters (common practice).
func TestCountIn(t *testing.T) {
	for _, c := range []struct {
		text  string
		in    CountIn
		start string
		want  string
	}{
		{"4/4 C4:1 |]", FullCountIn(), "12", "4> 5 6 7 8> 9 10 11"},
		{"4/4 C4:4 | C4:1 | C4:2. |]", FullCountIn(), "11", "4> 5 6 7 8> 9 10"},
		{"6/8 C4:8 | C4:2. |]", FullCountIn(), "8+1/2", "3> 4+1/2 6> 7+1/2"},
		{"2/4 C4:8 | C4:2 |]", FullCountIn(), "5+1/2", "2> 3 4> 5"},
		{"cut C4:1 |]", FullCountIn(), "12", "4> 6 8> 10"},
		{"3/8 C4:4. |]", CountIn{Measures: 2}, "3", "0> 1+1/2>"},
		{"3/4 C4:2 | C4:2. |]", CountIn{Measures: 1}, "1", "0>"},
		{"3/4 C4:2. |]", CountIn{Chord: true}, "3", ""},
		{"3/4 C4:2. |]", CountIn{}, "0", ""},
	} {
		l := layOut(t, c.in, c.text)
		if got := clicks(l); got != c.want || quarters(l.Start) != c.start {
			t.Errorf("%s: start %s, clicks %s; want %s, %s", c.text, quarters(l.Start), got, c.start, c.want)
		}
		if l.Measures[0].At != l.Start || l.Timeline().CountIn != rhythm.Duration(l.Start) {
			t.Errorf("%s: the first measure is at %d", c.text, l.Measures[0].At)
		}
	}
}

// The tonic triad B-flat D F in concert is C E G written for the B-flat player (common
// practice).
func TestTonicChord(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"sounds -1 -2; key C; C4:1", "Bb2 Bb3 D4 F4 for 3"},
		{"key C; 3/4 C4:2.", "C3 C4 E4 G4 for 2+1/4"},
		{"key Gm; cut C4:1", "G2 G3 Bb3 D4 for 3"},
		{"key E; 3/8 C4:4.", "E2 E3 Ab3 B3 for 1+1/8"},
		{"key Eb; C4:1", "Eb3 Eb4 G4 Bb4 for 3"},
	} {
		var names []string
		for _, e := range layOut(t, FullCountIn(), c.text).TonicChord() {
			names = append(names, Event{A: e.Key}.keyName())
			if last := " for " + quarters(rhythm.Offset(e.Hold)); len(names) == 4 {
				names[3] += last
			}
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.text, got, c.want)
		}
	}
	if got := layOut(t, CountIn{Measures: 2}, "C4:1").TonicChord(); got != nil {
		t.Errorf("no chord wanted: %v", got)
	}
}

// A layout finds the measure and the tempo at any place.
func TestLayoutAt(t *testing.T) {
	l := layOut(t, CountIn{Measures: 1}, "4/4 tempo 4=100; C4:1 :| tempo 4=50; D4:1 |]")
	for _, c := range []struct {
		at     rhythm.Offset
		number int // 0: in the count-in
		pass   int
		micros int
	}{
		{0, 0, 0, 600_000}, {4 * quarter, 1, 1, 600_000}, {8*quarter - 1, 1, 1, 600_000},
		{8 * quarter, 1, 2, 600_000}, {12 * quarter, 2, 1, 1_200_000}, {99 * quarter, 2, 1, 1_200_000},
	} {
		m, ok := l.At(c.at)
		if ok != (c.number > 0) || m.Number != c.number || m.Pass != c.pass || l.MicrosPerQuarter(c.at) != c.micros {
			t.Errorf("at %s: measure %d pass %d (%v), %d microseconds", quarters(c.at), m.Number, m.Pass, ok, l.MicrosPerQuarter(c.at))
		}
	}
}

// What no take can hold is refused with part and measure.
func TestLayOutRefuses(t *testing.T) {
	for _, c := range []struct {
		measure score.Measure
		want    string
	}{
		{score.Measure{Number: 3, Meter: &rhythm.Meter{Beats: 0, Unit: 4}}, `part "Tuba", measure 3: meter 0/4`},
		{score.Measure{Number: 3, Meter: &rhythm.Meter{Beats: 3, Unit: 7}}, "measure 3: meter 3/7"},
		{score.Measure{Number: 3, Tempo: &score.Tempo{Beat: rhythm.Value{Base: 4}}}, "measure 3: tempo 4 = 0"},
		{score.Measure{Number: 3, Tempo: &score.Tempo{BPM: 60}}, "write 20 to 300"},
		{score.Measure{Number: 3, Tempo: &score.Tempo{Beat: rhythm.Value{Base: 128}, BPM: 60}}, "too slow"},
		{score.Measure{Number: 3, Length: -1}, "a length of -1 ticks"},
		{score.Measure{Number: 3, Length: rhythm.Duration(MaxEnd)}, "grows too long"},
		{score.Measure{Number: 3, Ending: 2}, "no repeat leads to the second ending"},
	} {
		p := score.Part{Name: "Tuba", Measures: []score.Measure{c.measure}}
		if _, err := LayOut(&p, FullCountIn()); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want an error with %q", err, c.want)
		}
	}
	if _, err := LayOut(&score.Part{Name: "Tuba"}, CountIn{}); err == nil || !strings.Contains(err.Error(), "no measures") {
		t.Errorf("an empty part: %v", err)
	}
	p := score.MustText("C4:1")
	if _, err := LayOut(&p, CountIn{Measures: -2}); err == nil {
		t.Error("a count-in of -2 measures is laid out")
	}
}
