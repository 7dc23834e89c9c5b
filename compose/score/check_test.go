package score

import (
	"slices"
	"strings"
	"testing"

	"onward/rhythm"
	"onward/theory"
)

// goodMusic is a part in which every check finds something to look at and nothing
// to blame.
const goodMusic = `part Cornet; sounds -1 -2; key F; 6/8 treble tempo 4.=112 March tempo;
	f C5:8' |: letter A; p A4:4( G4:8) F4:8( G4:8 A4:8) | < Bb4:4.>~ Bb4:8 A4:16 G4:16 F4:8 ! |
	f {D5,E5(}F5:4^ C#5:8 D5:4., | [1 A5:16( G5:16 F5:8 E5:8) D5:8' r:8 r:8 ] :| [2 C5:2.@ ] ||
	words Trio; key Bb; cut mp F4:16 G4:16 A4:8 Bb4:8 C5:8 {B4(}C5:4( D5:8t Eb5:8t F5:8t) | E5:4t( C5:4t G4:4t) > F4:2_ ! |
	F4:8~ F4:16 G4:16 r:4 r:2 | R | ff Bb4:4^ r:4 r:2 |]`

// goodScore is one score of goodMusic, made anew for each caller to break.
func goodScore(t *testing.T) *Score {
	t.Helper()
	p, err := ParseText(goodMusic)
	if err != nil {
		t.Fatal(err)
	}
	return &Score{Title: "Good", Parts: []Part{p}}
}

// A good score passes every check, and every check looked at something.
func TestGoodScorePasses(t *testing.T) {
	report := Check(goodScore(t))
	if err := report.Err(); err != nil {
		t.Error(err)
	}
	for _, f := range report {
		if f.Examined == 0 {
			t.Errorf("check %q examined nothing", f.Check)
		}
	}
}

// Each way of breaking the good score is found by exactly the check that it breaks.
func TestEachCheckFindsItsOwnFault(t *testing.T) {
	type change func(p *Part)
	first := func(p *Part, is func(*Note) bool) *Note {
		for i := range p.Measures {
			for j := range p.Measures[i].Notes {
				if is(&p.Measures[i].Notes[j]) {
					return &p.Measures[i].Notes[j]
				}
			}
		}
		t.Fatal("the good score has no such note")
		return nil
	}
	note := func(p *Part, m, n int) *Note { return &p.Measures[m].Notes[n] }
	broken := map[string]bool{}
	for _, c := range []struct {
		check, how string
		do         change
	}{
		{"opening signs", "no key", func(p *Part) {
			f := theory.Key{Fifths: -1}
			p.Measures[0].Key, p.Measures[1].Key = nil, &f
			SetAccidentals(p)
		}},
		{"opening signs", "no meter", func(p *Part) {
			p.Measures[0], p.Measures[1].Meter = withoutMeter(p.Measures[0]), p.Measures[0].Meter
		}},
		{"opening signs", "no clef", func(p *Part) { p.Measures[0].Clef = nil }},
		{"measure numbers", "one skipped", func(p *Part) { p.Measures[9].Number++ }},
		{"measure numbers", "one repeated", func(p *Part) { p.Measures[9].Number-- }},
		{"values", "a fifth of a whole", func(p *Part) { note(p, 9, 0).Value.Base = 5 }},
		{"values", "two in the time of two", func(p *Part) {
			a, b := note(p, 10, 0), note(p, 10, 1)
			a.Value.Tuplet, b.Value.Tuplet = rhythm.Ratio{Actual: 2, Normal: 2}, rhythm.Ratio{Actual: 2, Normal: 2}
			a.TupletStart, b.TupletStop = true, true
		}},
		{"values", "a whole rest of half a measure", func(p *Part) { note(p, 9, 0).Value.Base = 2 }},
		{"order", "two changed about", func(p *Part) {
			notes := p.Measures[10].Notes
			notes[1], notes[2] = notes[2], notes[1]
		}},
		{"values", "three dots", func(p *Part) { note(p, 9, 0).Value.Dots = 3 }},
		{"filled", "a gap", func(p *Part) { note(p, 8, 3).At += rhythm.Offset(rhythm.Eighth) }},
		{"filled", "an empty measure", func(p *Part) { p.Measures[9].Notes = nil }},
		{"filled", "too short", func(p *Part) { note(p, 8, 3).Value.Base = 8 }},
		{"filled", "the last rest too short", func(p *Part) { note(p, 10, 2).Value.Base = 4 }},
		{"full measures", "short without a pickup", func(p *Part) {
			p.Measures[9].Length -= rhythm.Half
		}},
		{"full measures", "too long", func(p *Part) { p.Measures[9].Length += rhythm.Half }},
		{"accidentals", "a sharp left out", func(p *Part) {
			first(p, func(n *Note) bool { return n.Accidental == Shown }).Accidental = Hidden
		}},
		{"accidentals", "one too many", func(p *Part) { note(p, 1, 0).Accidental = Shown }},
		{"accidentals", "on a tie's end", func(p *Part) { note(p, 2, 1).Accidental = Courtesy }},
		{"alterations", "a triple flat", func(p *Part) {
			note(p, 1, 0).Pitch.Alter = -3
			SetAccidentals(p)
		}},
		{"alterations", "below MIDI's lowest", func(p *Part) { note(p, 1, 0).Pitch.Octave = -2 }},
		{"alterations", "above MIDI's highest", func(p *Part) { note(p, 1, 0).Pitch.Octave = 10 }},
		{"alterations", "a triple sharp as a grace note", func(p *Part) {
			note(p, 3, 0).Grace[0].Alter = 3
			SetAccidentals(p)
		}},
		{"graces", "ahead of a rest", func(p *Part) { note(p, 9, 0).Grace = []theory.Pitch{theory.MustPitch("C4")} }},
		{"graces", "too many", func(p *Part) {
			note(p, 3, 0).Grace = make([]theory.Pitch, 5)
			for i := range 5 {
				note(p, 3, 0).Grace[i] = theory.MustPitch("E5")
			}
		}},
		{"graces", "too far", func(p *Part) { note(p, 3, 0).Grace[0] = theory.MustPitch("D3") }},
		{"graces", "a slur from none", func(p *Part) { note(p, 3, 0).Grace = nil }},
		{"ties", "no end", func(p *Part) {
			note(p, 2, 1).TieStop = false
		}},
		{"ties", "no beginning", func(p *Part) { note(p, 2, 0).TieStart = false }},
		{"ties", "to a rest", func(p *Part) { note(p, 4, 4).TieStart = true }},
		{"ties", "to another pitch", func(p *Part) {
			note(p, 2, 0).Pitch = theory.MustPitch("C5")
		}},
		{"slurs", "no end", func(p *Part) { note(p, 1, 1).SlurStop = false }},
		{"slurs", "no beginning", func(p *Part) { note(p, 1, 0).SlurStart = false }},
		{"slurs", "nested", func(p *Part) { note(p, 1, 3).SlurStart = true }},
		{"slurs", "over a rest", func(p *Part) {
			note(p, 4, 3).SlurStart, note(p, 5, 0).SlurStop = true, true
		}},
		{"breaths", "inside a slur", func(p *Part) { note(p, 1, 0).Breath = true }},
		{"breaths", "inside a tie", func(p *Part) { note(p, 2, 0).Breath = true }},
		{"breaths", "after a rest", func(p *Part) { note(p, 9, 0).Breath = true }},
		{"tuplets", "not closed", func(p *Part) { note(p, 7, 2).TupletStop = false }},
		{"tuplets", "not opened", func(p *Part) { note(p, 7, 0).TupletStart = false }},
		{"tuplets", "not whole", func(p *Part) {
			note(p, 7, 1).TupletStop, note(p, 7, 2).TupletStart = true, true
		}},
		{"beams", "one left out", func(p *Part) { note(p, 1, 3).Beams = nil }},
		{"beams", "not ended", func(p *Part) { note(p, 1, 4).Beams[0] = BeamContinue }},
		{"beams", "too few", func(p *Part) { note(p, 2, 2).Beams = nil; note(p, 2, 3).Beams = nil }},
		{"beams", "eighths with two", func(p *Part) {
			note(p, 1, 3).Beams, note(p, 1, 4).Beams, note(p, 1, 2).Beams = []Beam{BeamContinue, BeamBegin}, []Beam{BeamEnd, BeamEnd}, []Beam{BeamBegin}
		}},
		{"beams", "a hook alone", func(p *Part) { note(p, 2, 1).Beams = []Beam{BeamForwardHook} }},
		{"beams", "begun twice", func(p *Part) { note(p, 1, 3).Beams[0] = BeamBegin }},
		{"beams", "an inner beam too long", func(p *Part) { note(p, 2, 3).Beams[1] = BeamContinue }},
		{"repeats", "not ended", func(p *Part) { p.Measures[6].RepeatStart = true }},
		{"repeats", "not begun", func(p *Part) { p.Measures[9].RepeatEnd = true }},
		{"endings", "not closed", func(p *Part) { p.Measures[5].EndingStop = false }},
		{"endings", "no second", func(p *Part) {
			m := &p.Measures[5]
			m.Ending, m.EndingStart, m.EndingStop = 0, false, false
		}},
		{"endings", "no first", func(p *Part) {
			m := &p.Measures[4]
			m.Ending, m.EndingStart, m.EndingStop = 0, false, false
		}},
		{"final bar", "none", func(p *Part) { p.Measures[10].FinalBar = false }},
		{"final bar", "too early", func(p *Part) { p.Measures[9].FinalBar = true }},
		{"dynamics", "unknown", func(p *Part) { p.Measures[1].Dynamics[0].Mark = "mfp" }},
		{"dynamics", "outside", func(p *Part) { p.Measures[1].Dynamics[0].At = rhythm.Offset(rhythm.Whole) }},
		{"dynamics", "two in one place", func(p *Part) {
			p.Measures[1].Dynamics = append(p.Measures[1].Dynamics, Dynamic{Mark: "f"})
		}},
		{"dynamics", "before the measure", func(p *Part) { p.Measures[1].Dynamics[0].At = -1 }},
		{"hairpins", "of no length", func(p *Part) {
			p.Measures[2].Hairpins[1].At = p.Measures[2].Hairpins[0].At
		}},
		{"hairpins", "one inside another", func(p *Part) {
			h := p.Measures[2].Hairpins
			p.Measures[2].Hairpins = []Hairpin{h[0], {h[0].At + 1, Diminuendo}, h[1]}
		}},
		{"hairpins", "opened at the end of the measure", func(p *Part) {
			m := &p.Measures[2]
			m.Hairpins = append(m.Hairpins, Hairpin{rhythm.Offset(m.Length), Crescendo})
			p.Measures[3].Hairpins = []Hairpin{{1, HairpinStop}}
		}},
		{"hairpins", "out of order", func(p *Part) {
			h := p.Measures[2].Hairpins
			p.Measures[2].Hairpins = append(h, Hairpin{h[1].At - 2, Crescendo}, Hairpin{h[1].At, HairpinStop})
		}},
		{"hairpins", "of no known kind", func(p *Part) { p.Measures[2].Hairpins[0].Kind = HairpinStop + 1 }},
		{"hairpins", "not stopped", func(p *Part) { p.Measures[2].Hairpins = p.Measures[2].Hairpins[:1] }},
		{"hairpins", "not opened", func(p *Part) { p.Measures[2].Hairpins = p.Measures[2].Hairpins[1:] }},
		{"hairpins", "outside", func(p *Part) { p.Measures[2].Hairpins[1].At = rhythm.Offset(rhythm.Whole) }},
		{"tempo", "too fast", func(p *Part) { p.Measures[0].Tempo.BPM = 400 }},
		{"tempo", "too slow", func(p *Part) { p.Measures[0].Tempo.BPM = 19 }},
		{"tempo", "two dots", func(p *Part) { p.Measures[0].Tempo.Beat.Dots = 2 }},
		{"tempo", "a third of a whole", func(p *Part) { p.Measures[0].Tempo.Beat.Base = 3 }},
		{"tempo", "a tuplet", func(p *Part) { p.Measures[0].Tempo.Beat.Tuplet = rhythm.Triplet }},
		{"beam groups", "across the middle", func(p *Part) {
			note(p, 6, 4).Beams = []Beam{BeamContinue}
			note(p, 6, 5).Value = rhythm.Value{Base: 8}
			note(p, 6, 5).Beams = []Beam{BeamEnd}
			note(p, 6, 5).SlurStart, note(p, 6, 6).SlurStart = false, true
			m := &p.Measures[6]
			rest := Note{At: m.Notes[5].At.Add(rhythm.Eighth), Rest: true, Value: rhythm.Value{Base: 8}}
			m.Notes = slices.Insert(m.Notes, 6, rest)
		}},
	} {
		broken[c.check] = true
		s := goodScore(t)
		c.do(&s.Parts[0])
		if got := Check(s).Failed(); !slices.Equal(got, []string{c.check}) {
			t.Errorf("%s, %s: failed %q\n%v", c.check, c.how, got, Check(s).Err())
		}
	}
	for _, f := range Check(goodScore(t)) {
		if !broken[f.Check] {
			t.Errorf("nothing breaks the check %q", f.Check)
		}
	}
}

func withoutMeter(m Measure) Measure { m.Meter = nil; return m }

// An offence names part, printed measure and beat.
func TestErrNamesThePlace(t *testing.T) {
	s := goodScore(t)
	s.Parts[0].Measures[3].Notes[1].Accidental = Hidden
	want := "accidentals: Cornet, measure 3, beat 1+2/3: C#5 does not show its accidental"
	if err := Check(s).Err(); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("Err() = %v, want %q", err, want)
	}
}

// A tie may lead from the last note before the endings into the second ending too.
func TestTieIntoSecondEnding(t *testing.T) {
	p := MustText("key C; 4/4 treble |: C4:1 | D4:1~ | [1 D4:1 ] :| [2 D4:1 ] |]")
	p.Measures[3].Notes[0].TieStop = true
	if err := Check(&Score{Parts: []Part{p}}).Err(); err != nil {
		t.Error(err)
	}
	p.Measures[1].Notes[0].TieStart, p.Measures[2].Notes[0].TieStop = false, false
	if got := Check(&Score{Parts: []Part{p}}).Failed(); !slices.Equal(got, []string{"ties"}) {
		t.Errorf("a tie into the second ending from nothing: failed %q", got)
	}
}

// A measure may fall short by as much as an upbeat has, and by no more.
func TestAnUpbeatIsCompleted(t *testing.T) {
	p := MustText("key C; 6/8 treble C5:8 | C5:2. | C5:4. C5:4 |]")
	if err := Check(&Score{Parts: []Part{p}}).Err(); err != nil {
		t.Error(err)
	}
	p.Measures[2].Notes, p.Measures[2].Length = p.Measures[2].Notes[:1], 3*rhythm.Eighth
	if got := Check(&Score{Parts: []Part{p}}).Failed(); !slices.Equal(got, []string{"full measures"}) {
		t.Errorf("half a measure after an upbeat of an eighth: failed %q", got)
	}
}

// A bracket stands over all of its measures.
func TestALongEnding(t *testing.T) {
	p := MustText("key C; 4/4 treble |: C4:1 | [1 D4:1 | E4:1 | D4:1 ] :| [2 D4:1 | C4:1 ] |]")
	for i, want := range []int{0, 1, 1, 1, 2, 2} {
		if got := p.Measures[i].Ending; got != want {
			t.Errorf("measure %d: ending %d, want %d", i+1, got, want)
		}
	}
	if err := Check(&Score{Parts: []Part{p}}).Err(); err != nil {
		t.Error(err)
	}
}

// A march of 128 measures.
func BenchmarkCheck(b *testing.B) {
	p := MustText("key F; 6/8 treble " + strings.Repeat("F4:4( A4:8) C5:8' Bb4:8' G#4:8' | ", 127) + "F4:2. |]")
	s := &Score{Parts: []Part{p}}
	b.ReportAllocs()
	for b.Loop() {
		if err := Check(s).Err(); err != nil {
			b.Fatal(err)
		}
	}
}
