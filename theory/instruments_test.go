package theory

import (
	"fmt"
	"strings"
	"testing"
)

func instrument(t testing.TB, id string) Instrument {
	t.Helper()
	inst, err := InstrumentByID(id)
	if err != nil {
		t.Fatal(err)
	}
	return inst
}

// Semitones from written to sounding, as orchestration lists give them.
func TestTransposition(t *testing.T) {
	for id, want := range map[string]int{
		"trumpet": -2, "cornet": -2, "clarinet": -2,
		"euphonium-tc": -14, "baritone-tc": -14, "tenor-sax": -14,
		"horn": -7, "alto-sax": -9, "baritone-sax": -21,
		"flute": 0, "trombone": 0, "euphonium-bc": 0, "baritone-bc": 0, "tuba-bb": 0, "tuba-eb": 0,
		"tuba-eb-tc": -21, "tuba-bb-tc": -26,
	} {
		if got := instrument(t, id).Sounds; got.Semitones != want {
			t.Errorf("%s sounds %d semitones from written, want %d", id, got.Semitones, want)
		}
	}
	if n := len(Instruments()); n != 17 {
		t.Errorf("%d instruments, want 17: add the new one to this table", n)
	}
}

// Written tonic triad C E G is concert B-flat D F for a B-flat treble player (common
// practice); so is each instrument's six notes' first.
func TestSixNotesAreConcertBFlat(t *testing.T) {
	six := []string{"Bb", "C", "D", "Eb", "F", "G"}
	for _, inst := range Instruments() {
		r := inst.Ranges[SixNotes]
		key, err := KeyOf(r.Low.Class(), Major)
		if err != nil {
			t.Fatal(err)
		}
		for n, want := range six {
			written := key.Degree(n + 1)
			if got := written.Transpose(inst.Sounds).String(); got != want {
				t.Errorf("%s: written %s sounds %s, want %s", inst.ID, written, got, want)
			}
		}
		if got := Between(r.Low, r.High); got != MajorSixth {
			t.Errorf("%s: six notes %v to %v span %v, want a major sixth", inst.ID, r.Low, r.High, got)
		}
		if got := inst.Ranges[Beginner]; Between(got.Low, got.High) != Octave {
			t.Errorf("%s: beginner %v is not an octave", inst.ID, got)
		}
	}
}

// Amateur ranges, sounding, as orchestration handbooks usually give them (from
// memory). The B-flat brass read from the valve chart goes "beyond" to written C6,
// whatever its clef.
func TestRangesStayInsideAmateurRange(t *testing.T) {
	sounding := map[string]string{
		"euphonium": "E2 Bb4", "trombone": "E2 Bb4", "baritone": "E2 G4", "trumpet": "E3 Ab5", "cornet": "E3 G5",
		"horn": "F2 A4", "tuba-bb": "E1 Bb3", "tuba-eb": "D1 E4", "clarinet": "D3 F6", "alto-sax": "C#3 Ab5",
		"tenor-sax": "Ab2 Eb5", "flute": "C4 C7",
	}
	chartTop := map[string]bool{"baritone-tc": true, "baritone-bc": true, "trumpet": true, "cornet": true}
	checked := 0
	for name, text := range sounding {
		limit, err := parseRange(text)
		if err != nil {
			t.Fatal(err)
		}
		for _, inst := range Instruments() {
			if !strings.HasPrefix(inst.ID, name) || inst.ID == "baritone-sax" {
				continue
			}
			for b, r := range inst.Ranges {
				checked++
				s := r.Transpose(inst.Sounds)
				if Bracket(b) == Beyond && chartTop[inst.ID] {
					s.High = limit.High
				}
				if !limit.Has(s.Low) || !limit.Has(s.High) {
					t.Errorf("%s, %s: sounds %v to %v, outside %s", inst.ID, Bracket(b), s.Low, s.High, text)
				}
			}
		}
	}
	if want := 5 * (len(Instruments()) - 1); checked != want {
		t.Errorf("%d ranges checked, want %d", checked, want)
	}
}

// The brackets of B-flat treble brass, computed from the valve chart.
func TestBracketsOfBFlatTrebleBrass(t *testing.T) {
	want := [5]string{"C4 A4", "C4 C5", "A3 F5", "F#3 A5", "F#3 C6"}
	for _, id := range []string{"euphonium-tc", "baritone-tc", "trumpet", "cornet", "tuba-bb-tc"} {
		for b, r := range instrument(t, id).Ranges {
			if got := r.Low.String() + " " + r.High.String(); got != want[b] {
				t.Errorf("%s, %s: %s, want %s", id, Bracket(b), got, want[b])
			}
		}
	}
}

func TestBracketsNest(t *testing.T) {
	for _, inst := range Instruments() {
		for b := Beginner; b <= Beyond; b++ {
			in, out := inst.Ranges[b-1], inst.Ranges[b]
			wider := out.High.MIDI()-out.Low.MIDI() > in.High.MIDI()-in.Low.MIDI()
			if !out.Has(in.Low) || !out.Has(in.High) || !wider {
				t.Errorf("%s: %s %v is no wider than %s %v", inst.ID, b, out, b-1, in)
			}
		}
	}
}

// A published chart of valves for B-flat treble-clef brass, written F-sharp 3 up by
// semitone to C6.
const valveChart = "123 13 23 12 1 2 0 123 13 23 12 1 2 0 23 12 1 2 0 12 1 2 0 1 2 0 23 12 1 2 0"

// Slide positions computed from partials, E2 up to B-flat 4; 1 to 5 agree with a
// published slide chart.
const slideChart = "7 6 5 4 3 2 1 7 6 5 4 3 2 1 5 4 3 2 1 4 3 2 1 3 2 1 3 2 3 2 1"

func TestFingerings(t *testing.T) {
	for _, c := range []struct{ ids, from, chart string }{
		{"euphonium-tc baritone-tc trumpet cornet tuba-bb-tc tuba-eb-tc", "F#3", valveChart},
		{"euphonium-bc baritone-bc", "E2", valveChart}, // the same fingers 14 semitones lower
		{"tuba-bb", "E1", valveChart},                  // 26 lower
		{"tuba-eb", "A1", valveChart},                  // 21 lower
		{"trombone", "E2", slideChart},
	} {
		for _, id := range strings.Fields(c.ids) {
			inst := instrument(t, id)
			low, fingers := MustPitch(c.from).MIDI(), strings.Fields(c.chart)
			for n, want := range fingers {
				if got := inst.Fingerings[low+n].Valves; got != want {
					t.Errorf("%s: written MIDI %d is played %q, want %q", id, low+n, got, want)
				}
			}
			if len(inst.Fingerings) != len(fingers) {
				t.Errorf("%s: %d fingerings, want %d", id, len(inst.Fingerings), len(fingers))
			}
		}
	}
}

// The usual F-horn chart, from memory: written C4 to E5.
func TestHornFingerings(t *testing.T) {
	horn := instrument(t, "horn")
	want := strings.Fields("0 12 1 2 0 1 2 0 23 12 1 2 0 12 1 2 0")
	for n, fingers := range want {
		if got := horn.Fingerings[60+n].Valves; got != fingers {
			t.Errorf("horn: written MIDI %d is played %q, want %q", 60+n, got, fingers)
		}
	}
}

// Every fingering must give its pitch: the partial stands a known number of semitones
// above the open tube's fundamental (acoustics: 12 log2 n, rounded), the valves lower
// it by 2, 1 and 3 semitones, each slide position by one.
func TestFingeringsFollowThePartials(t *testing.T) {
	above := map[int]int{2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 7: 34, 8: 36, 10: 40}
	lowers := map[rune]int{'0': 0, '1': 2, '2': 1, '3': 3}
	fundamentals := map[string]int{ // sounding MIDI numbers of the open tubes
		"trumpet": 46, "cornet": 46, "horn": 29, "trombone": 34, "euphonium-tc": 34, "euphonium-bc": 34,
		"baritone-tc": 34, "baritone-bc": 34, "tuba-bb": 22, "tuba-bb-tc": 22, "tuba-eb": 27, "tuba-eb-tc": 27,
	}
	for _, inst := range Instruments() {
		if (inst.Fingerings != nil) != (fundamentals[inst.ID] != 0) {
			t.Errorf("%s: fingerings %v, fundamental %d", inst.ID, inst.Fingerings != nil, fundamentals[inst.ID])
		}
		for key, f := range inst.Fingerings {
			got := fundamentals[inst.ID] + above[f.Partial]
			if inst.Slide {
				got -= int(f.Valves[0] - '1')
			} else {
				for _, v := range f.Valves {
					got -= lowers[v]
				}
			}
			if want := key + inst.Sounds.Semitones; got != want {
				t.Errorf("%s: %s on partial %d sounds %d, want %d", inst.ID, f.Valves, f.Partial, got, want)
			}
		}
	}
}

func TestRangesOfBrassHaveFingerings(t *testing.T) {
	for _, inst := range Instruments() {
		r := inst.Ranges[Beyond]
		for key := r.Low.MIDI(); inst.Fingerings != nil && key <= r.High.MIDI(); key++ {
			if inst.Fingerings[key].Valves == "" {
				t.Errorf("%s: no fingering for written MIDI %d", inst.ID, key)
			}
		}
	}
}

// General MIDI level 1, programs counted from 0: trumpet 56, trombone 57, tuba 58,
// French horn 60, alto, tenor, baritone sax 65 to 67, clarinet 71, flute 73.
func TestPrograms(t *testing.T) {
	for id, want := range map[string]int{
		"trumpet": 56, "cornet": 56, "trombone": 57, "tuba-bb": 58, "tuba-eb-tc": 58, "horn": 60,
		"alto-sax": 65, "tenor-sax": 66, "baritone-sax": 67, "clarinet": 71, "flute": 73,
	} {
		if got := instrument(t, id).Program; got != want {
			t.Errorf("%s: program %d, want %d", id, got, want)
		}
	}
}

// Cautious design caps computed from measured trumpet flow (Freour, Causse &
// Cossette 2010): euphonium and trombone soft 8 s, medium 5 s, loud 3.5 s; tuba half.
func TestBreath(t *testing.T) {
	for id, want := range map[string][3]float64{
		"euphonium-tc": {8, 5, 3.5}, "euphonium-bc": {8, 5, 3.5}, "trombone": {8, 5, 3.5},
		"tuba-bb": {4, 2.5, 1.75}, "tuba-eb": {4, 2.5, 1.75}, "tuba-bb-tc": {4, 2.5, 1.75},
	} {
		if got := instrument(t, id).Breath; got != want {
			t.Errorf("%s: breath %v s, want %v", id, got, want)
		}
	}
}

func TestInstrumentsAreCopies(t *testing.T) {
	a := Instruments()
	for i := range a {
		clear(a[i].Fingerings)
		a[i].ID = "spoilt"
	}
	b := instrument(t, "cornet")
	clear(b.Fingerings)
	if c := instrument(t, "cornet"); len(c.Fingerings) != 31 {
		t.Errorf("a caller spoilt the cornet: %d fingerings", len(c.Fingerings))
	}
}

func TestUnknownInstrument(t *testing.T) {
	for id, want := range map[string]string{
		"euphonum":     `instrument "euphonum": not known; try euphonium-tc, euphonium-bc`,
		"tuba":         `instrument "tuba": not known; try tuba-eb, tuba-eb-tc, tuba-bb, tuba-bb-tc`,
		"Alto-saxes":   `instrument "Alto-saxes": not known; try alto-sax`,
		"baritone-tcc": `instrument "baritone-tcc": not known; try baritone-sax, baritone-tc, baritone-bc`,
	} {
		if _, err := InstrumentByID(id); err == nil || err.Error() != want {
			t.Errorf("got  %v\nwant %s", err, want)
		}
	}
	if _, err := InstrumentByID("kazoo"); err == nil || !strings.Contains(err.Error(), "flute, clarinet") {
		t.Errorf("kazoo: %v does not list what there is", err)
	}
}

func TestInstrumentsFileFaults(t *testing.T) {
	good := string(instrumentsFile)
	for _, c := range []struct{ from, to, want string }{
		{`"clef": "treble"`, `"cleff": "treble"`, `unknown field "cleff"`},
		{`"clef": "treble"`, `"clef": "alto"`, `f.json: instrument "flute": clef "alto" is not treble or bass`},
		{`"Bb4 G5"`, `"Bb4 Q5"`, `f.json: instrument "flute": range six notes: pitch "Q5": letter Q is not A to G`},
		{`"Bb4 G5"`, `"G5 Bb4"`, `f.json: instrument "flute": range six notes: "G5 Bb4": the first pitch is not the lower one`},
		{`"Bb4 Bb5"`, `"C5 Bb5"`, `f.json: instrument "flute": range beginner: C5 Bb5 does not hold the bracket before it`},
		{`"number": 73`, `"number": 173`, `f.json: instrument "flute": program 173 is not 0 to 127`},
		{`"id": "clarinet"`, `"id": "flute"`, `f.json: instrument "flute" stands twice; take one out`},
		{`"name": "f-horn", "from"`, `"name": "g-horn", "from"`, `f.json: instrument "horn": chart "g-horn" is not in charts`},
		{`"soft": 8`, `"soft": "8"`, `f.json:54: json`},
	} {
		bad := strings.Replace(good, c.from, c.to, 1)
		if bad == good {
			t.Fatalf("%s is not in the file", c.from)
		}
		_, err := parseInstruments("f.json", []byte(bad))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\ngot  %v\nwant %s", c.to, err, c.want)
		}
	}
	if _, err := parseInstruments("f.json", []byte(good+"{}")); err == nil {
		t.Error("text after the end was let through")
	}
}

// What costs a brass player is common practice; see Instrument.Cost for the points.
func TestCost(t *testing.T) {
	for _, c := range []struct {
		id, from, to string
		tongued      int
		slurred      int
		why          string
	}{
		{"cornet", "C4", "D4", 1, 3, "D4 is 13, on another partial than C4"},
		{"cornet", "C4", "E4", 0, 2, "0 to 12, partial 2 to 3"},
		{"cornet", "F4", "G4", 0, 0, "1 to 0 on partial 3"},
		{"cornet", "C4", "G4", 1, 5, "open to open, partial 2 to 3"},
		{"cornet", "G4", "C#4", 1, 1, "123 on the same partial"},
		{"cornet", "C5", "E5", 2, 6, "open to open, the fifth partial"},
		{"cornet", "C4", "D5", 4, 6, "a ninth to the fifth partial"},
		{"cornet", "F5", "F#5", 0, 0, "1 to 2 on partial 6, below the top fifth"},
		{"cornet", "F#5", "G5", 2, 2, "the top fifth begins"},
		{"trombone", "Bb2", "C3", 2, 4, "1 to 6"},
		{"trombone", "Bb2", "D3", 0, 2, "1 to 4, three positions"},
		{"trombone", "F3", "C3", 2, 2, "1 to 6 on partial 3"},
		{"trombone", "F3", "Db3", 2, 2, "1 to 5, four positions"},
		{"trombone", "Db3", "F3", 2, 2, "5 to 1"},
		{"trombone", "D3", "F3", 0, 0, "4 to 1"},
		{"cornet", "E3", "G3", 1, 1, "from a note that has no fingering to 13"},
		{"cornet", "C4", "E3", 0, 0, "to a note that has no fingering"},
		{"flute", "C4", "C5", 0, 0, "an octave"},
		{"flute", "C4", "D5", 3, 3, "a ninth"},
		{"flute", "E6", "F6", 2, 2, "the top fifth of C4 to C7"},
	} {
		inst := instrument(t, c.id)
		from, to := MustPitch(c.from), MustPitch(c.to)
		if got := inst.Cost(from, to); got != c.tongued {
			t.Errorf("%s %s %s tongued costs %d, want %d: %s", c.id, c.from, c.to, got, c.tongued, c.why)
		}
		if got := inst.SlurCost(from, to); got != c.slurred {
			t.Errorf("%s %s %s slurred costs %d, want %d: %s", c.id, c.from, c.to, got, c.slurred, c.why)
		}
	}
}

func TestHotPathsDoNotAllocate(t *testing.T) {
	cornet, f7 := instrument(t, "cornet"), Chord{Class{F, 0}, DominantSeventh}
	a, b, sum := MustPitch("Bb3"), MustPitch("Eb5"), 0
	for name, run := range map[string]func(){
		"Cost":      func() { sum += cornet.Cost(a, b) + cornet.SlurCost(b, a) },
		"Has":       func() { sum += f7.Index(b.Class()) },
		"Transpose": func() { sum += a.Transpose(MajorSixth).MIDI() },
	} {
		if n := testing.AllocsPerRun(100, run); n != 0 {
			t.Errorf("%s allocates %v times", name, n)
		}
	}
}

func BenchmarkCost(bench *testing.B) {
	cornet := instrument(bench, "cornet")
	a, b := MustPitch("Bb3"), MustPitch("Eb5")
	bench.ReportAllocs()
	for range bench.N {
		cornet.Cost(a, b)
	}
}

func BenchmarkChordHas(bench *testing.B) {
	f7, x := Chord{Class{F, 0}, DominantSeventh}, Class{E, -1}
	bench.ReportAllocs()
	for range bench.N {
		f7.Has(x)
	}
}

func BenchmarkTranspose(bench *testing.B) {
	p := MustPitch("Bb3")
	bench.ReportAllocs()
	for range bench.N {
		p.Transpose(MajorSixth)
	}
}

func ExampleInstrument_Cost() {
	cornet, _ := InstrumentByID("cornet")
	c, g := MustPitch("C4"), MustPitch("G4") // both open
	fmt.Println(cornet.Cost(c, g), cornet.SlurCost(c, g))
	// Output: 1 5
}
