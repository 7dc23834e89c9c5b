package score

import (
	"fmt"
	"strings"
	"testing"

	"onward/rhythm"
	"onward/theory"

	"pgregory.net/rapid"
)

// accidentalsOf says how each note of the part shows its accidental: "!" shown, "?"
// courtesy, "-" none; "|" at barlines.
func accidentalsOf(p *Part) string {
	var b strings.Builder
	for _, m := range p.Measures {
		for _, n := range m.Notes {
			if !n.Rest {
				b.WriteByte("-!?"[n.Accidental])
			}
		}
		b.WriteByte('|')
	}
	return b.String()
}

// The copyist's rule for accidentals (common practice): once in a measure and octave,
// a reminder in the next measure, none on the continuation of a tie.
func TestSetAccidentals(t *testing.T) {
	for _, c := range []struct{ music, want string }{
		{"key C; 4/4 F#4:4 F#4:4 F4:4 F4:4", "!-!-|"},
		{"key D; 4/4 F#4:4 F4:4 F4:4 F#4:4", "-!-!|"},
		{"key Bb; 2/4 B4:4 C5:4 | Bb4:4 Bb4:4", "!-|?-|"},
		{"key C; 2/4 F#4:4 G4:4 | F#4:4 F4:4", "!-|!!|"},
		{"key C; 2/4 F#4:4 F5:4 | F4:4 F5:4", "!?|?-|"},
		{"key C; 2/4 F#4:4 F#5:4 | C4:2 | F4:4 F5:4", "!!|-|--|"},
		{"key C; 2/4 F#4:2~ | F#4:4 F4:4", "!|-?|"},
		{"key C; 2/4 F#4:2~ | F#4:4 F#4:4 | F4:2", "!|-!|?|"},
		{"key C; 2/4 F#4:2~ | F#4:4 G4:4 | F4:2", "!|--|?|"},
		{"key G; 2/4 F#4:2 | key C; F4:4 F4:4", "-|?-|"},
		{"key C; 2/4 {F#4}G4:4 F#4:4 | F4:2", "--|?|"},
		{"key C; 4/4 F##4:4 F#4:4 Gbb4:4 Gb4:4", "!!!!|"},
	} {
		p := MustText(c.music)
		if got := accidentalsOf(&p); got != c.want {
			t.Errorf("%s: %s, want %s", c.music, got, c.want)
		}
	}
}

// Beams follow the beat; a pickup is beamed as the end of its measure.
func TestSetBeams(t *testing.T) {
	names := map[Beam]string{BeamBegin: "b", BeamContinue: "c", BeamEnd: "e", BeamForwardHook: "f", BeamBackwardHook: "k"}
	for _, c := range []struct{ music, want string }{
		{"6/8 C4:8 D4:8 E4:8 F4:8 E4:8 D4:8", "b c e b c e"},
		{"6/8 C4:8 | D4:8. E4:16 F4:8 G4:4.", ". b ck e ."},
		{"4/4 C4:8 D4:8 | C4:1", "b e ."},
		{"2/4 C4:8 | D4:16 E4:16 F4:8 G4:8 r:8", ". bb ce e . ."},
	} {
		p := MustText(c.music)
		var words []string
		for _, m := range p.Measures {
			for _, n := range m.Notes {
				word := ""
				for _, b := range n.Beams {
					word += names[b]
				}
				if word == "" {
					word = "."
				}
				words = append(words, word)
			}
		}
		if got := strings.Join(words, " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.music, got, c.want)
		}
	}
}

// Brackets close when the group is whole.
func TestSetTuplets(t *testing.T) {
	for _, c := range []struct{ music, want string }{
		{"2/4 C4:8t C4:8t C4:8t C4:8t C4:8t C4:8t", "[-][-]"},
		{"2/4 C4:4t C4:8t C4:8t C4:4t", "[][]"},
		{"2/4 C4:4t C4:4t C4:4t", "[-]"},
		{"2/4 C4:8t C4:4t C4:4", "[]."},
		{"2/4 C4:16(6:4) C4:16(6:4) C4:16(6:4) C4:16(6:4) C4:16(6:4) C4:16(6:4) C4:4", "[----]."},
		{"2/4 C4:8.t C4:16t C4:8t C4:16t C4:16t C4:16t C4:8", "[-][-]."},
	} {
		p := MustText(c.music)
		got := ""
		for _, n := range p.Measures[0].Notes {
			switch {
			case n.TupletStart && n.TupletStop:
				got += "O"
			case n.TupletStart:
				got += "["
			case n.TupletStop:
				got += "]"
			case n.Value.Tuplet.Actual != 0:
				got += "-"
			default:
				got += "."
			}
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.music, got, c.want)
		}
	}
}

// At reports what was last signed.
func TestAt(t *testing.T) {
	p := MustText("key Bb; 6/8 bass C3:4. C3:4. | C3:2. | key F; cut treble C4:1 | C4:1")
	for i, want := range []string{"Bb major 6/8 bass", "Bb major 6/8 bass", "F major cut treble", "F major cut treble"} {
		key, meter, clef := p.At(i)
		if got := fmt.Sprint(key, " ", meter, " ", clef); got != want {
			t.Errorf("measure %d: %s, want %s", i, got, want)
		}
	}
}

// The trade's own transpositions: concert B-flat is written C by a B-flat treble
// instrument, concert E is F-sharp (common practice).
func TestTranspose(t *testing.T) {
	for _, c := range []struct {
		music string
		by    theory.Interval
		want  string
	}{
		{"key Bb; 4/4 Bb3:4 D4:4 F4:4 Bb4:4", theory.MajorSecond, "sounds -1 -2; key C major; 4/4 C4:4 E4:4 G4:4 C5:4 |"},
		{"key E; 4/4 {D#4}E4:2 G#4:2", theory.MajorSecond, "sounds -1 -2; key F# major; 4/4 {E#4}F#4:2 A#4:2 |"},
		{"key C; 2/4 C4:4 F#4:4", theory.Interval{Steps: 8, Semitones: 14}, "sounds -8 -14; key D major; 2/4 D5:4 G#5:4 |"},
		{"key F#; 2/4 F#4:4 A#4:4", theory.MajorSecond, "sounds -1 -2; key Ab major; 2/4 Ab4:4 C5:4 |"},
		{"key C; 2/4 C##4:4 Fbb4:4", theory.MajorSecond, "sounds -1 -2; key D major; 2/4 D##4:4 Gbb4:4 |"},
		{"key C; 2/4 F##4:4 Fbb4:4", theory.Interval{Steps: 1, Semitones: 1}, "sounds -1 -1; key Db major; 2/4 G#4:4 Fb4:4 |"},
	} {
		p := MustText(c.music)
		before := Text(p)
		moved := Transpose(p, c.by)
		if got := Text(moved); got != c.want {
			t.Errorf("%s by %v: %s, want %s", c.music, c.by, got, c.want)
		}
		if Text(p) != before {
			t.Errorf("%s was changed", c.music)
		}
	}
}

// A transposed part sounds as before and passes the checks that it passed.
func TestTransposeSoundsTheSame(t *testing.T) {
	good := MustText(goodMusic)
	rapid.Check(t, func(t *rapid.T) {
		steps := rapid.IntRange(-8, 8).Draw(t, "steps")
		natural := theory.Between(theory.MustPitch("C4"), theory.Key{}.At(28+steps))
		by := theory.Interval{Steps: steps, Semitones: natural.Semitones + rapid.IntRange(-1, 1).Draw(t, "alter")}
		moved := Transpose(good, by)
		if err := Check(&Score{Parts: []Part{moved}}).Err(); err != nil {
			t.Fatalf("by %v: %v", by, err)
		}
		for i := range good.Measures {
			for j, n := range good.Measures[i].Notes {
				m := moved.Measures[i].Notes[j]
				if !n.Rest && n.Pitch.MIDI()+good.Sounds.Semitones != m.Pitch.MIDI()+moved.Sounds.Semitones {
					t.Fatalf("by %v: %v became %v", by, n.Pitch, m.Pitch)
				}
			}
		}
	})
}

// Check looks at any score, however broken, without falling over.
func TestCheckTakesAnything(t *testing.T) {
	small := rapid.IntRange(-3, 12)
	rapid.Check(t, func(t *rapid.T) {
		p := MustText(goodMusic)
		for range rapid.IntRange(1, 6).Draw(t, "faults") {
			m := &p.Measures[rapid.IntRange(0, len(p.Measures)-1).Draw(t, "measure")]
			m.Length = rhythm.Duration(small.Draw(t, "length")) * rhythm.Eighth
			m.Ending, m.Number = small.Draw(t, "ending"), small.Draw(t, "number")
			m.RepeatStart, m.RepeatEnd = rapid.Bool().Draw(t, "start"), rapid.Bool().Draw(t, "end")
			m.Hairpins = append(m.Hairpins, Hairpin{rhythm.Offset(small.Draw(t, "at")), HairpinKind(small.Draw(t, "kind"))})
			m.Notes = append(m.Notes, Note{
				At: rhythm.Offset(small.Draw(t, "at")), Rest: rapid.Bool().Draw(t, "rest"),
				Value:   rhythm.Value{Base: small.Draw(t, "base"), Dots: small.Draw(t, "dots"), Tuplet: rhythm.Ratio{Actual: small.Draw(t, "actual"), Normal: small.Draw(t, "normal")}},
				Beams:   []Beam{Beam(small.Draw(t, "beam"))},
				TieStop: true, SlurStop: rapid.Bool().Draw(t, "slur"), TupletStop: rapid.Bool().Draw(t, "tuplet"),
			})
		}
		if Check(&Score{Parts: []Part{p, {}}}).Err() == nil {
			t.Fatal("a broken score passed")
		}
	})
}
