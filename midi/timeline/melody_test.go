package timeline

import (
	"fmt"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"

	"pgregory.net/rapid"
)

// sung says the melody a tone to a line: pitch, place, how long it sounds, of what
// length on the page, velocity.
func sung(t *testing.T, l *Layout) string {
	t.Helper()
	tones, err := l.Melody()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, n := range tones {
		fmt.Fprintf(&b, "%s at %s for %s of %s, %d", n.Pitch, quarters(n.At), quarters(rhythm.Offset(n.Hold)), quarters(rhythm.Offset(n.Length)), n.Velocity)
		if n.Grace {
			b.WriteString(", grace")
		}
		if n.Pass == 2 {
			b.WriteString(", again")
		}
		b.WriteString("\n")
		if int(n.Key) != n.Pitch.MIDI() {
			t.Errorf("%s has key %d", n.Pitch, n.Key)
		}
	}
	return b.String()
}

// Articulation settles how long a note sounds, accents how loud it is.
func TestMelodyArticulation(t *testing.T) {
	for _, c := range []struct{ note, want string }{
		{"C4:4", "C4 at 0 for 7/8 of 1, 80"},
		{"C4:1", "C4 at 0 for 3+7/8 of 4, 80"},
		{"C4:8", "C4 at 0 for 7/16 of 1/2, 80"},
		{"C4:4'", "C4 at 0 for 1/2 of 1, 80"},
		{"C4:4_", "C4 at 0 for 1 of 1, 80"},
		{"C4:4'_", "C4 at 0 for 3/4 of 1, 80"},
		{"C4:4>", "C4 at 0 for 7/8 of 1, 96"},
		{"C4:4^", "C4 at 0 for 3/4 of 1, 104"},
		{"C4:4>'", "C4 at 0 for 1/2 of 1, 96"},
		{"C4:4,", "C4 at 0 for 3/4 of 1, 80"},
		{"C4:1,", "C4 at 0 for 3+1/2 of 4, 80"},
		{"C4:4(", "C4 at 0 for 1 of 1, 80"},
		{"C4:4('", "C4 at 0 for 3/4 of 1, 80"},
		{"f sfz C4:4", "C4 at 0 for 7/8 of 1, 120"},
		{"ff C4:4^", "C4 at 0 for 3/4 of 1, 127"},
		{"fp C4:4", "C4 at 0 for 7/8 of 1, 96"},
	} {
		got, _, _ := strings.Cut(sung(t, layOut(t, CountIn{}, "4/4 "+c.note+" | D4:1 | E4:1")), "\n")
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.note, got, c.want)
		}
	}
}

// Slurred notes are joined up to the last of the slur, also over a barline and a tie.
func TestMelodySlur(t *testing.T) {
	same(t, "slur", sung(t, layOut(t, CountIn{}, "2/4 C4:4( D4:4 | E4:4~ E4:4 | F4:4) G4:4")), `
C4 at 0 for 1 of 1, 80
D4 at 1 for 1 of 1, 80
E4 at 2 for 2 of 2, 80
F4 at 4 for 7/8 of 1, 80
G4 at 5 for 7/8 of 1, 80`)
	same(t, "one slur to the next", sung(t, layOut(t, CountIn{}, "3/4 C4:4( D4:4)( E4:4)")), `
C4 at 0 for 1 of 1, 80
D4 at 1 for 1 of 1, 80
E4 at 2 for 7/8 of 1, 80`)
	same(t, "a slur into a first ending is over in the second",
		sung(t, layOut(t, CountIn{}, "1/4 |: C4:4( | [1 D4:4) ] :| [2 E4:4 ] | F4:4")), `
C4 at 0 for 1 of 1, 80
D4 at 1 for 7/8 of 1, 80
C4 at 2 for 1 of 1, 80, again
E4 at 3 for 7/8 of 1, 80, again
F4 at 4 for 7/8 of 1, 80`)
}

// Ties make one note of many: struck as the first, released as the last.
func TestMelodyTies(t *testing.T) {
	same(t, "tie", sung(t, layOut(t, CountIn{}, "4/4 C4:2.> D4:4>~ | D4:1~ | D4:4' r:2.")), `
C4 at 0 for 2+7/8 of 3, 96
D4 at 3 for 3 of 6, 96`)
	// A tie into both endings: the second time the note goes on into the second ending.
	p := score.MustText("1/4 |: C4:4~ | [1 C4:4 ] :| [2 C4:4 ] | D4:4")
	p.Measures[2].Notes[0].TieStop = true
	l, err := LayOut(&p, CountIn{})
	if err != nil {
		t.Fatal(err)
	}
	same(t, "tie into endings", sung(t, l), `
C4 at 0 for 1+7/8 of 2, 80
C4 at 2 for 1+7/8 of 2, 80, again
D4 at 4 for 7/8 of 1, 80`)
	// A tie that leads nowhere, and one that comes from nowhere, are no ties.
	p = score.MustText("3/4 C4:4 D4:4 D4:4")
	p.Measures[0].Notes[0].TieStart, p.Measures[0].Notes[1].TieStop = true, true
	if l, err = LayOut(&p, CountIn{}); err != nil {
		t.Fatal(err)
	}
	same(t, "false ties", sung(t, l), `
C4 at 0 for 7/8 of 1, 80
D4 at 1 for 7/8 of 1, 80
D4 at 2 for 7/8 of 1, 80`)
}

// Grace notes come ahead of the beat, which their note keeps. A quarter = 120 lasts
// 500 ms: a sixth of it, 83 ms, is the largest whole fraction up to 90 ms.
func TestMelodyGraceNotes(t *testing.T) {
	same(t, "from the note before", sung(t, layOut(t, CountIn{}, "2/4 tempo 4=120; p D4:4 {B3,C4}D4:4")), `
D4 at 0 for 7/12 of 2/3, 49
B3 at 2/3 for 1/6 of 1/6, 33, grace
C4 at 5/6 for 1/6 of 1/6, 33, grace
D4 at 1 for 7/8 of 1, 49`)
	same(t, "from the rest before", sung(t, layOut(t, CountIn{}, "2/4 tempo 4=120; r:4 {B3,C4}D4:4")), `
B3 at 2/3 for 1/6 of 1/6, 64, grace
C4 at 5/6 for 1/6 of 1/6, 64, grace
D4 at 1 for 7/8 of 1, 80`)
	same(t, "from the count-in", sung(t, layOut(t, FullCountIn(), "2/4 tempo 4=120; {C4}D4:2")), `
C4 at 5+5/6 for 1/6 of 1/6, 64, grace
D4 at 6 for 1+7/8 of 2, 80`)
	same(t, "a short note before keeps half", sung(t, layOut(t, CountIn{}, "1/4 tempo 4=120; E4:8. F4:16 | {B3,C4}D4:4")), `
E4 at 0 for 21/32 of 3/4, 80
F4 at 3/4 for 1103/10080 of 1/8, 80
B3 at 7/8 for 1/16 of 1/16, 64, grace
C4 at 15/16 for 1/16 of 1/16, 64, grace
D4 at 1 for 7/8 of 1, 80`)
	same(t, "nothing ahead: from their own note", sung(t, layOut(t, CountIn{}, "2/4 tempo 4=120; {B3,C4}D4:2")), `
B3 at 0 for 1/6 of 1/6, 64, grace
C4 at 1/6 for 1/6 of 1/6, 64, grace
D4 at 1/3 for 1+13/24 of 1+2/3, 80`)
	same(t, "in the tempo before", sung(t, layOut(t, CountIn{}, "1/4 tempo 4=120; E4:4 | tempo 4=60; {C4}D4:4")), `
E4 at 0 for 35/48 of 5/6, 80
C4 at 5/6 for 1/6 of 1/6, 64, grace
D4 at 1 for 7/8 of 1, 80`)
}

// At every usual tempo a grace note lasts 60 to 90 ms.
func TestGraceLength(t *testing.T) {
	for bpm := 20; bpm <= 330; bpm++ {
		micros := 60_000_000 / bpm
		d := (&Timeline{Tempos: []Tempo{{0, micros}}}).Time(rhythm.Offset(GraceLength(micros)))
		if d.Milliseconds() < 60 || d.Microseconds() > 90_000 {
			t.Errorf("at a quarter = %d a grace note lasts %v", bpm, d)
		}
	}
}

// Repeats are played, in sounding pitch: a euphonium in treble clef sounds a major
// ninth lower (orchestration lists: -14 semitones).
func TestMelodyRepeatsAndTransposition(t *testing.T) {
	same(t, "repeat", sung(t, layOut(t, CountIn{}, "sounds -8 -14; 2/4 |: C5:4 F#4:4 | [1 p Eb5:2 ] :| [2 R ] |]")), `
Bb3 at 0 for 7/8 of 1, 80
E3 at 1 for 7/8 of 1, 80
Db4 at 2 for 1+7/8 of 2, 49
Bb3 at 4 for 7/8 of 1, 80, again
E3 at 5 for 7/8 of 1, 80, again`)
}

// Whatever a legal part holds, its tones follow one another without overlap, each in
// its place on the page but for the grace notes, and make a take that passes Check.
func TestMelodyOfAnyPart(t *testing.T) {
	notes := []string{"C4:8", "C4:8", "D4:8'", "E4:4_", "{B3}C4:8", "{B3,D4(}C4:16 C4:16", "r:8", "C4:8~ C4:8", "C4:8( D4:8)", "E4:8>", "E4:8^,", "p E4:8", "< ff E4:8", "! sfz E4:8", "{C4,D4,E4}C4:64 D4:64 D4:32 D4:16"}
	bars := []string{"|", "|", "|", ":|", "|:", ":|:"}
	rapid.Check(t, func(t *rapid.T) {
		text := fmt.Sprintf("sounds -1 -2; 12/4 tempo 4=%d;", rapid.IntRange(20, 300).Draw(t, "tempo"))
		for i := range rapid.IntRange(1, 5).Draw(t, "measures") {
			if i > 0 {
				text += " " + rapid.SampledFrom(bars).Draw(t, "bar")
			}
			text += " short"
			for range rapid.IntRange(1, 8).Draw(t, "notes") {
				text += " " + rapid.SampledFrom(notes).Draw(t, "note")
			}
		}
		p, err := score.ParseText(text)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		l, err := LayOut(&p, CountIn{Measures: rapid.IntRange(0, 2).Draw(t, "count-in")})
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		tones, err := l.Melody()
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		checkTones(t, l, tones)
		line := l.Timeline()
		line.Tracks = []string{"melody", "clicks"}
		line.Events = Merge(Voice{}.Play(tones), Voice{Track: 1, Channel: DrumsChannel}.Play(l.Clicks()))
		if err := line.Check(); err != nil {
			t.Fatalf("%s: %v\n%s", text, err, line.Text())
		}
	})
}

func checkTones(t *rapid.T, l *Layout, tones []Tone) {
	written := 0 // notes that a player starts, all passes
	for _, m := range l.Measures {
		for _, n := range l.Part.Measures[m.Index].Notes {
			if !n.Rest && !n.TieStop {
				written += 1 + len(n.Grace)
			}
		}
	}
	if len(tones) != written {
		t.Fatalf("%d tones of %d notes", len(tones), written)
	}
	for i, n := range tones {
		if n.Hold < 1 || n.Hold > n.Length || n.At < 0 || n.At.Add(n.Length) > l.End {
			t.Fatalf("tone %d: at %d for %d of %d", i+1, n.At, n.Hold, n.Length)
		}
		if i > 0 && n.At < tones[i-1].At.Add(tones[i-1].Length) {
			t.Fatalf("tone %d, at %d, begins before the one before ends", i+1, n.At)
		}
	}
}

// A pitch without MIDI number and a note without value are refused with part and
// measure.
func TestMelodyRefuses(t *testing.T) {
	for _, n := range []score.Note{
		{Value: rhythm.Value{Base: 1}, Pitch: theory.MustPitch("A9")},
		{Value: rhythm.Value{Base: 1}, Pitch: theory.MustPitch("C4"), Grace: []theory.Pitch{theory.MustPitch("A9")}},
	} {
		p := score.Part{Name: "Flute", Measures: []score.Measure{{Number: 7, Notes: []score.Note{n}}}}
		l, err := LayOut(&p, CountIn{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Melody(); err == nil || !strings.Contains(err.Error(), `part "Flute", measure 7`) || !strings.Contains(err.Error(), "A9 sounds as MIDI note 129") {
			t.Errorf("%v", err)
		}
	}
	p := score.Part{Measures: []score.Measure{{Number: 7, Notes: []score.Note{{Pitch: theory.MustPitch("C4")}}}}}
	l, err := LayOut(&p, CountIn{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Melody(); err == nil || !strings.Contains(err.Error(), "measure 7: C4 has no note value") {
		t.Errorf("%v", err)
	}
}

// A march of 64 measures from the page to the merged events.
func BenchmarkTake(b *testing.B) {
	p := score.MustText("6/8 tempo 4.=112; " + strings.Repeat("f F5:4> F5:8' E5:4 D5:8 | p < {D5,E5}F5:4. ! ff E5:8( D5:8) C5:8 | ", 32))
	b.ReportAllocs()
	for b.Loop() {
		l, err := LayOut(&p, FullCountIn())
		if err != nil {
			b.Fatal(err)
		}
		tones, err := l.Melody()
		if err != nil {
			b.Fatal(err)
		}
		line := l.Timeline()
		line.Events = Merge(Voice{}.Play(tones), Voice{Track: 1, Channel: DrumsChannel}.Play(l.Clicks()))
	}
}
