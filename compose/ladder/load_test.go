package ladder_test

import (
	"math"
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/score"
	"onward/theory"
)

// plain is sixteen measures of quarters and halves by step, the ground of the tests below.
func plain(head string, measure func(i int) string) string {
	var out []string
	for i := range 16 {
		out = append(out, measure(i))
	}
	return head + strings.Join(out, " | ") + " |]"
}

const head = "part P; key C major; 4/4 treble tempo 4=92; "

// quarters is a measure of four quarters by step.
func quarters(i int) string {
	return []string{"C4:4 D4:4 E4:4 F4:4", "G4:4 F4:4 E4:4 D4:4"}[i%2]
}

// rated rates a text for a cornet.
func rated(t *testing.T, text string) ladder.Rating {
	t.Helper()
	p, err := score.ParseText(text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	in, err := theory.InstrumentByID("cornet")
	if err != nil {
		t.Fatal(err)
	}
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	return l.Rate(&p, &in, figure.Default(), nil)
}

// One thing at a time is changed on the same sixteen measures. Each makes them harder: sound
// events, tempo and length (2,146 band pupils, dissertation of 1988), minor above major
// (Frontiers in Psychology 2022, 933106), and accidentals, range and leaps (common
// practice).
func TestEachFeatureMakesItHarder(t *testing.T) {
	base := rated(t, plain(head, quarters))
	for name, text := range map[string]string{
		"more sound events": plain(head, func(i int) string { return strings.ReplaceAll(quarters(i), "C4:4", "C4:8 D4:8") }),
		"a quicker tempo":   plain(strings.Replace(head, "92", "104", 1), quarters),
		"more measures":     strings.TrimSuffix(plain(head, quarters), "]") + " " + strings.TrimPrefix(plain(head, quarters), head),
		"minor":             plain(strings.Replace(head, "C major", "A minor", 1), quarters),
		"more signature":    sharpened(plain(strings.Replace(head, "C major", "E major", 1), quarters)),
		"accidentals":       plain(head, func(i int) string { return strings.Replace(quarters(i), "F4", "F#4", 1) }),
		"a higher range":    strings.NewReplacer("C4", "C6", "D4", "D6", "E4", "E6", "F4", "B5", "G4", "A5").Replace(plain(head, quarters)),
		"leaps":             plain(head, func(i int) string { return []string{"C4:4 A4:4 D4:4 F4:4", "G4:4 F4:4 C5:4 D4:4"}[i%2] }),
		"grace notes":       plain(head, func(i int) string { return strings.Replace(quarters(i), "E4", "{D4}E4", 1) }),
		"odd rhythm":        plain(head, func(i int) string { return strings.Replace(quarters(i), "C4:4 D4:4", "C4:8. D4:16 D4:4", 1) }),
	} {
		got := rated(t, text)
		if got.Difficulty <= base.Difficulty*1.005 {
			t.Errorf("%s: difficulty %.3f, want more than %.3f of the plain one", name, got.Difficulty, base.Difficulty)
		}
	}
}

// sharpened puts the notes of C major into E major.
func sharpened(text string) string {
	return strings.NewReplacer("C4", "C#4", "F4", "F#4", "G4", "G#4", "D4", "D#4").Replace(text)
}

// A figure that was drilled is less to take in than one that was not (Thompson 1987: reading
// skill of 30 flute players went with chunk recall, r = .80).
func TestWhatWasDrilledIsEasier(t *testing.T) {
	text := plain(head, quarters)
	p, err := score.ParseText(text)
	if err != nil {
		t.Fatal(err)
	}
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	in, err := theory.InstrumentByID("cornet")
	if err != nil {
		t.Fatal(err)
	}
	drilled, nothing := cat.Learn(&p), figure.Vocabulary{}
	if known, strange := l.Rate(&p, &in, cat, &drilled), l.Rate(&p, &in, cat, &nothing); known.Mean >= strange.Mean {
		t.Errorf("load %.2f of what was drilled, %.2f of what was not", known.Mean, strange.Mean)
	}
}

// Which feature counts most: each is varied by as much as it varies among reads (from a
// tenth to nine tenths of the strains of all rungs: 1.3 to 2.9 notes a second at one
// tempo, tempos of one meter by 25 %, 8 to 32 measures). Sound events come first, then tempo,
// then length (2,146 band pupils, dissertation of 1988).
func TestSoundEventsComeFirst(t *testing.T) {
	few := rated(t, plain(head, func(i int) string { return []string{"C4:2 E4:2", "G4:4 F4:4 E4:2"}[i%2] }))
	many := rated(t, plain(head, func(i int) string {
		return []string{"C4:8 D4:8 E4:8 F4:8 G4:4 E4:4", "G4:8 F4:8 E4:8 D4:8 E4:4 C4:4"}[i%2]
	}))
	slow, quick := rated(t, plain(strings.Replace(head, "92", "84", 1), quarters)), rated(t, plain(strings.Replace(head, "92", "105", 1), quarters))
	sixteen := plain(head, quarters)
	short := rated(t, head+strings.Join(strings.SplitN(strings.TrimPrefix(sixteen, head), " | ", 9)[:8], " | ")+" |]")
	long := rated(t, strings.TrimSuffix(sixteen, "]")+" "+strings.TrimPrefix(sixteen, head))
	events, tempo, length := grows(few, many), grows(slow, quick), grows(short, long)
	t.Logf("difficulty grows by sound events %.2f, tempo %.2f, length %.2f", events, tempo, length)
	if !(events > tempo && tempo > length && length > 1) {
		t.Errorf("difficulty grows by %.2f with sound events, %.2f with tempo, %.2f with length: want that order", events, tempo, length)
	}
}

func grows(from, to ladder.Rating) float64 { return to.Difficulty / from.Difficulty }

// A measure's load is what its figures weigh in its time, figures a second: at twice the
// tempo twice as much.
func TestLoadIsBySeconds(t *testing.T) {
	slow, quick := rated(t, plain(strings.Replace(head, "92", "60", 1), quarters)), rated(t, plain(strings.Replace(head, "92", "120", 1), quarters))
	for i := range slow.Load {
		if math.Abs(quick.Load[i]-2*slow.Load[i]) > 1e-9 {
			t.Fatalf("measure %d: load %.3f at 60, %.3f at 120", i+1, slow.Load[i], quick.Load[i])
		}
	}
}

// Each rung aims a like step above the one before, and its band lies 8 % about the aim.
func TestAimsRiseEvenly(t *testing.T) {
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range l.Rungs {
		if math.Abs(r.Load[0]-0.92*r.Aim) > 0.006 || math.Abs(r.Load[1]-1.08*r.Aim) > 0.006 {
			t.Errorf("rung %d: band %v is not 8 %% about %.2f", r.Number, r.Load, r.Aim)
		}
		if i == 0 {
			continue
		}
		if step := r.Aim / l.Rungs[i-1].Aim; step < 1.08 || step > 1.18 {
			t.Errorf("rung %d aims at %.2f, %.2f times rung %d: want 1.08 to 1.18", r.Number, r.Aim, step, r.Number-1)
		}
	}
}
