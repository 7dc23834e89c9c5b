package figure

import (
	"math"
	"slices"
	"testing"
	"time"

	"onward/theory"

	"pgregory.net/rapid"
)

var someDay = time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC)

// met is a figure met so many times, so many days after someDay.
func met(days float64, times int) Practice {
	return Practice{At: someDay.Add(time.Duration(days * 24 * float64(time.Hour))),
		Meeting: Meeting{Figure{"four up", "four eighths"}, theory.Key{Fifths: -1}, times}}
}

// share is how well the one figure is known so many days after someDay.
func share(t interface{ Fatalf(string, ...any) }, days float64, all ...Practice) float64 {
	known := Knowing(all, met(days, 0).At)
	if len(known) != 1 {
		t.Fatalf("%d figures are known, want one: %v", len(known), known)
	}
	return known[0].Share
}

func TestKnowing(t *testing.T) {
	four := []Practice{met(0, 3), met(1, 3), met(2, 3), met(3, 3)}
	for _, tt := range []struct {
		name string
		days float64
		all  []Practice
		want float64
	}{
		{"once", 0, []Practice{met(0, 1)}, 1 - math.Pow(2, -0.5)},
		{"three times at once", 0, []Practice{met(0, 3)}, 1 - math.Pow(3, -0.5)},
		{"a half-life later", math.Exp2(1.5), []Practice{met(0, 3)}, (1 - math.Pow(3, -0.5)) / 2},
		{"on four days", 3, four, 1 - math.Pow(9, -0.5)},
		{"eight days after four", 11, four, (1 - math.Pow(9, -0.5)) / 2},
	} {
		if got := share(t, tt.days, tt.all...); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// Knowing lies from 0 to 1, grows with practice, fades with time, suffers from slips, and
// does not ask in which order it is told.
func TestKnowingGrowsAndFades(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []Practice
		for range rapid.IntRange(1, 12).Draw(t, "meetings") {
			all = append(all, met(float64(rapid.IntRange(0, 100).Draw(t, "day")), rapid.IntRange(1, 20).Draw(t, "times")))
		}
		now := float64(rapid.IntRange(100, 400).Draw(t, "now"))
		got := share(t, now, all...)
		if got < 0 || got >= 1 {
			t.Errorf("known by %v", got)
		}
		if more := share(t, now, append(slices.Clone(all), met(now, 1))...); more <= got {
			t.Errorf("practised once more it is known by %v after %v", more, got)
		}
		if later := share(t, now+1, all...); later >= got {
			t.Errorf("a day later it is known by %v after %v", later, got)
		}
		slip := met(float64(rapid.IntRange(0, 100).Draw(t, "slip")), 1)
		slip.Slipped = true
		if worse := share(t, now, append(slices.Clone(all), slip)...); worse > got {
			t.Errorf("after a slip it is known by %v, before by %v", worse, got)
		}
		slices.Reverse(all)
		if again := share(t, now, all...); again != got {
			t.Errorf("told the other way about %v, %v", again, got)
		}
	})
}

// A figure is known by family of keys.
func TestKeyFamilies(t *testing.T) {
	for name, want := range map[string]string{
		"C": "1 sign or none, major", "G": "1 sign or none, major", "D minor": "1 sign or none, minor", "Bb": "2 or 3 flats, major",
		"C minor": "2 or 3 flats, minor", "A": "2 or 3 sharps, major", "Db": "4 flats or more, major", "E": "4 sharps or more, major",
	} {
		k, err := theory.ParseKey(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := FamilyOf(k).String(); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
	a, b := met(0, 2), met(0, 4)
	b.Key = theory.Key{Fifths: -4}
	if known := Knowing([]Practice{a, b}, someDay); len(known) != 2 || known[0].Family.Signs != -2 || known[0].Times != 4 || known[1].Times != 2 {
		t.Errorf("two families: %+v", known)
	}
}

func TestWeighed(t *testing.T) {
	v := Vocabulary{Total: 8, Figures: []Entry{{Figure: Figure{"five up", "four sixteenths, quarter"}, Count: 3, Notes: 15}, {Figure: Figure{"four up", "four eighths"}, Count: 1, Notes: 4}}}
	known := []Known{{Figure: Figure{"four up", "four eighths"}, Share: 0.5}, {Figure: Figure{"four up", "four eighths"}, Share: 0.25},
		{Figure: Figure{"triad up", "three eighths"}, Share: 0.1}, {Figure: Figure{"gone", "three eighths"}, Share: 0.9}}
	want := []Entry{{Figure{"five up", "four sixteenths, quarter"}, 0, 1, 0}, {Figure{"four up", "four eighths"}, 50, 1, 200}, {Figure{"triad up", "three eighths"}, 10, 1, 30}}
	if got := v.Weighed(Default(), known); !slices.Equal(got.Figures, want) || got.Total != 8 {
		t.Errorf("got %v, want %v", got.Figures, want)
	}
}
