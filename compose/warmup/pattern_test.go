package warmup

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"onward/compose/score"
	"onward/theory"
)

// notesOf lists a line's notes, rests left out.
func notesOf(l *Line) (notes []score.Note) {
	for _, m := range l.Measures {
		for _, n := range m.Notes {
			if !n.Rest {
				notes = append(notes, n)
			}
		}
	}
	return notes
}

// classes lists the sounding pitch classes of measures, each once, in order.
func classes(in *theory.Instrument, measures ...score.Measure) []int {
	had := map[int]bool{}
	for _, m := range measures {
		for _, n := range m.Notes {
			if !n.Rest {
				had[(n.Pitch.MIDI()+in.Sounds.Semitones+1200)%12] = true
			}
		}
	}
	var list []int
	for c := range 12 {
		if had[c] {
			list = append(list, c)
		}
	}
	return list
}

// chordOn lists the pitch classes so many semitones above a root.
func chordOn(root int, above ...int) []int {
	var list []int
	for _, a := range above {
		list = append(list, (root+a+12)%12)
	}
	slices.Sort(list)
	return list
}

// Thirteen lines: by the sounding notes alone, in semitones, each line's last measure is the
// dominant seventh (0 4 7 10 on the fifth) of the tonic that the next line begins on, the
// twelve tonics are all different, and the thirteenth is the first.
func TestCycleGoesThroughTwelveKeysAndHome(t *testing.T) {
	tonicsOf := map[string]int{"by fourths": 5, "by fifths": 7, "by half steps up": 1, "by half steps down": 11}
	seen := map[string]int{}
	for _, rung := range []int{8, 10, 12} {
		for _, in := range []string{"euphonium-tc", "trombone", "tuba-bb", "alto-sax", "horn", "flute", "tuba-eb-tc"} {
			for seed := range uint64(6) {
				req := request(t, in, rung)
				req.Seed, req.Turn, req.Minutes = seed, int(seed)*2+1, 15
				d := mustMake(t, req)
				for _, e := range d.Exercises {
					if e.Family != Cycle {
						continue
					}
					way := e.Title[strings.LastIndex(e.Title, "by "):]
					seen[way]++
					checkCycle(t, fmt.Sprintf("%s, rung %d, seed %d, %s", in, rung, seed, way), &req.Instrument, e, tonicsOf[way])
				}
			}
		}
	}
	for way := range tonicsOf {
		if seen[way] == 0 {
			t.Errorf("no way %s: %v", way, seen)
		}
	}
}

func checkCycle(t *testing.T, where string, in *theory.Instrument, e Exercise, up int) {
	t.Helper()
	if len(e.Lines) != 13 {
		t.Fatalf("%s: %d lines", where, len(e.Lines))
	}
	var tonics []int
	third := 4
	if e.Key.Mode == theory.Minor {
		third = 3
	}
	for i := range e.Lines {
		l := &e.Lines[i]
		tonic := (notesOf(l)[0].Pitch.MIDI() + in.Sounds.Semitones + 1200) % 12
		first := 0
		for len(classes(in, l.Measures[first])) == 1 { // a stop, to breathe
			first++
		}
		if got, want := classes(in, l.Measures[first]), chordOn(tonic, 0, third, 7); !slices.Equal(got, want) {
			t.Errorf("%s, line %d: begins with %v, want the triad %v", where, i+1, got, want)
		}
		if i > 0 {
			before := e.Lines[i-1].Measures
			if got, want := classes(in, before[len(before)-1]), chordOn(tonic, 7, 11, 2, 5); !slices.Equal(got, want) {
				t.Errorf("%s, line %d: led to by %v, want the dominant seventh %v", where, i+1, got, want)
			}
			if (tonics[i-1]+up)%12 != tonic {
				t.Errorf("%s, line %d: tonic %d after %d", where, i+1, tonic, tonics[i-1])
			}
		}
		tonics = append(tonics, tonic)
		if f := l.Key.Fifths; f < -6 || f > 6 {
			t.Errorf("%s, line %d: %d accidentals in the signature", where, i+1, f)
		}
	}
	if tonics[12] != tonics[0] || e.Lines[12].Key != e.Lines[0].Key {
		t.Errorf("%s: ends in %v, not in %v", where, e.Lines[12].Key, e.Lines[0].Key)
	}
	if all := slices.Compact(slices.Sorted(slices.Values(tonics[:12]))); len(all) != 12 {
		t.Errorf("%s: %d keys", where, len(all))
	}
}

// What the words say is what the notes are: by staff positions, which know nothing of
// patterns, the tenth lies nine steps above the first note.
func TestWordsMatchTheNotes(t *testing.T) {
	names := strings.Fields("second third fourth fifth sixth seventh octave ninth tenth eleventh twelfth thirteenth fourteenth fifteenth")
	looked := map[Family]int{}
	for _, in := range players {
		for _, rung := range []int{1, 3, 8, 12} {
			for _, d := range days(t, request(t, in, rung), 12) {
				for _, e := range d.Exercises {
					title := strings.ToLower(e.Title)
					tops := map[int]bool{}
					for i := range e.Lines {
						notes := notesOf(&e.Lines[i])
						first, top := notes[0].Pitch.Step(), 0
						for _, n := range notes {
							top = max(top, n.Pitch.Step()-first)
						}
						tops[top] = true
						name, isTop := strings.CutPrefix(e.Lines[i].Words, "to the ")
						if !isTop {
							continue
						}
						looked[e.Family]++
						if names[top-1] != name {
							t.Errorf("%s, rung %d, turn %d: %q has its top at the %s", in, rung, d.Turn, e.Lines[i].Words, names[top-1])
						}
						if !strings.Contains(title, name) {
							t.Errorf("%s, rung %d, turn %d: title %q leaves out the %s", in, rung, d.Turn, e.Title, name)
						}
					}
					if e.Family == Octave && strings.Contains(e.Title, "octave") {
						looked[e.Family]++
						if !tops[7] || len(tops) > 2 {
							t.Errorf("%s, rung %d, turn %d: %q has tops %v", in, rung, d.Turn, e.Title, tops)
						}
					}
				}
			}
		}
	}
	for _, f := range []Family{Octave, Extended, ArpeggioExtended, Thirds} {
		if looked[f] < 10 {
			t.Errorf("%s: only %d were looked at", f, looked[f])
		}
	}
}

// Each scale of an extended set is one note longer, and its way down starts at another place
// of the measure.
func TestEachWayDownStartsOnAnotherBeat(t *testing.T) {
	sets := 0
	for _, rung := range []int{3, 6, 9} {
		for _, d := range days(t, request(t, "euphonium-tc", rung), 12) {
			for _, e := range d.Exercises {
				if e.Family != Extended || strings.Contains(e.Tongue, "then") {
					continue
				}
				sets++
				places := map[string]int{}
				for i := range e.Lines {
					at, height := "", -1
					for k, m := range e.Lines[i].Measures {
						for _, n := range m.Notes {
							if !n.Rest && n.Pitch.Step() > height {
								at, height = fmt.Sprint(k, "+", n.At), n.Pitch.Step()
							}
						}
					}
					places[at[strings.Index(at, "+"):]]++
					if i > 0 && len(notesOf(&e.Lines[i])) <= len(notesOf(&e.Lines[i-1]))-3 {
						t.Errorf("rung %d: line %d is no longer than the one before", rung, i)
					}
				}
				if len(places) != len(e.Lines) && e.Meter.Measure() > 3*10080 {
					t.Errorf("rung %d, %s: %d lines turn at %v", rung, e.Recipe(), len(e.Lines), places)
				}
			}
		}
	}
	if sets < 5 {
		t.Errorf("only %d sets", sets)
	}
}

// A measure of intervals and a measure of scale take turns; where no stop stands between.
func TestIntervalsAndScaleTakeTurns(t *testing.T) {
	looked := 0
	for _, in := range []string{"cornet", "clarinet", "flute"} {
		for _, d := range days(t, request(t, in, 8), 12) {
			for _, e := range d.Exercises {
				if e.Family != Intervals || e.stops > 0 {
					continue
				}
				for _, l := range e.Lines {
					looked++
					if len(l.Measures) != 5 {
						t.Fatalf("%s: %d measures", e.Recipe(), len(l.Measures))
					}
					for k, m := range l.Measures[:4] {
						steps := 0
						for i := 1; i < len(m.Notes); i++ {
							if d := m.Notes[i].Pitch.Step() - m.Notes[i-1].Pitch.Step(); d == 1 || d == -1 {
								steps++
							}
						}
						if scale := steps == len(m.Notes)-1; scale != (k%2 == 1) {
							t.Errorf("%s, measure %d: %s", e.Recipe(), k+1, score.Text(score.Part{Measures: l.Measures}))
						}
					}
				}
			}
		}
	}
	if looked < 4 {
		t.Errorf("only %d lines", looked)
	}
}

// Melodic minor, as every scale book has it: C D E-flat F G A B C, down by B-flat and A-flat;
// a dip to the seventh is to the leading tone (common practice).
func TestMelodicMinor(t *testing.T) {
	c := ground{key: mustKey(t, "C minor"), tonic: theory.MustPitch("C4"), within: theory.Range{Low: theory.MustPitch("C3"), High: theory.MustPitch("C6")}, low: -6, high: 15}
	for _, x := range []struct {
		degrees []int
		want    string
	}{
		{upAndBack(8), "C4 D4 Eb4 F4 G4 A4 B4 C5 Bb4 Ab4 G4 F4 Eb4 D4 C4"},
		{append(run(5, 6), 5), "G4 Ab4 G4"},
		{append(run(5, 7), run(6, 5)...), "G4 Ab4 Bb4 Ab4 G4"},
		{[]int{1, 0, 1}, "C4 B3 C4"},
		{[]int{1, 0, -1, 0, 1}, "C4 B3 A3 B3 C4"},
		{[]int{1, 0, -1, -2, -1, 0, 1}, "C4 Bb3 Ab3 G3 A3 B3 C4"},
	} {
		var got []string
		for _, p := range c.sing(line(x.degrees...)) {
			got = append(got, p.String())
		}
		if s := strings.Join(got, " "); s != x.want {
			t.Errorf("%v: got %s, want %s", x.degrees, s, x.want)
		}
	}
}

// Thirds in minor are raised where they reach the tonic, natural where they turn below it
// (common practice).
func TestMinorThirds(t *testing.T) {
	req := request(t, "cornet", 8)
	key := mustKey(t, "Bb minor") // C minor for a cornet
	req.Key = &key
	looked := map[string]int{}
	for _, d := range days(t, req, 12) {
		for _, e := range d.Exercises {
			if e.Family != Thirds {
				continue
			}
			for i := range e.Lines {
				var up []string
				for _, n := range notesOf(&e.Lines[i])[:6] {
					up = append(up, n.Pitch.String())
				}
				if got := strings.Join(up, " "); got != "C4 Eb4 D4 F4 Eb4 G4" {
					t.Errorf("begins with %s", got)
				}
				text := score.Text(score.Part{Measures: e.Lines[i].Measures})
				switch e.Lines[i].Words {
				case "to the sixth":
					looked["sixth"]++
					if strings.Contains(text, "A4") {
						t.Errorf("to the sixth: %s", text)
					}
				case "to the octave":
					looked["octave"]++
					if !strings.Contains(text, "A4") || !strings.Contains(text, "B4") || !strings.Contains(text, "Ab4") {
						t.Errorf("to the octave: %s", text)
					}
				}
			}
		}
	}
	if looked["sixth"] == 0 || looked["octave"] == 0 {
		t.Errorf("looked at %v", looked)
	}
}

// To breathe in the trade's words: the line stops on a downbeat, and starts
// again from that same note on the next.
func TestStopsAreTakenUpFromTheSameNote(t *testing.T) {
	stops := 0
	for _, d := range days(t, request(t, "tuba-bb", 5), 6) {
		for _, e := range d.Exercises {
			for _, l := range e.Lines {
				for i := 0; i+1 < len(l.Measures); i++ {
					m, next := l.Measures[i], l.Measures[i+1]
					if slices.ContainsFunc(m.Notes[1:], func(n score.Note) bool { return !n.Rest }) || len(m.Notes) < 2 {
						continue
					}
					stops++
					if len(next.Notes) == len(m.Notes) && next.Notes[1].Rest && next.Notes[0].Pitch == m.Notes[0].Pitch {
						t.Errorf("%s: a stop ahead of nothing: %s", e.Recipe(), score.Text(score.Part{Measures: l.Measures}))
					}
					if m.Notes[0].Pitch != next.Notes[0].Pitch || m.Notes[0].SlurStart {
						t.Errorf("%s: %s", e.Recipe(), score.Text(score.Part{Measures: l.Measures}))
					}
				}
			}
		}
	}
	if stops < 20 {
		t.Errorf("only %d stops", stops)
	}
}
