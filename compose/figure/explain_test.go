package figure

import (
	"testing"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"

	"pgregory.net/rapid"
)

// measure draws a measure of random cells and notes, altered so, in a random meter.
func measure(t *rapid.T, alters ...int) score.Part {
	m, err := rhythm.ParseMeter(rapid.SampledFrom([]string{"2/4", "3/4", "4/4", "cut", "6/8", "5/4"}).Draw(t, "meter"))
	if err != nil {
		t.Fatal(err)
	}
	bar := score.Measure{Number: 1, Length: m.Measure(), Meter: &m}
	pitch := theory.MustPitch("C4")
	for at := rhythm.Offset(0); at < rhythm.Offset(m.Measure()); {
		var fit []rhythm.Cell
		for _, c := range Default().Cells {
			if c.Fits(m) && at.Add(c.Span) <= rhythm.Offset(m.Measure()) {
				fit = append(fit, c)
			}
		}
		for _, e := range rapid.SampledFrom(fit).Draw(t, "cell").Events {
			pitch = theory.Key{}.At(pitch.Step() + rapid.IntRange(-3, 3).Draw(t, "step"))
			pitch.Alter = rapid.SampledFrom(alters).Draw(t, "alter")
			bar.Notes = append(bar.Notes, score.Note{At: at, Value: e.Value, Rest: e.Rest, Pitch: pitch})
			at = at.Add(e.Value.Duration())
		}
	}
	return score.Part{Measures: []score.Measure{bar}}
}

// least is the least cost of explaining the bar from at on, by trying everything.
func least(b *bar, readings map[rhythm.Offset][]reading, at rhythm.Offset) int {
	end := rhythm.Offset(b.meter.Measure())
	if at >= end {
		return 0
	}
	next := end
	for _, p := range b.points() {
		if p > at {
			next = p
			break
		}
	}
	best := least(b, readings, next)
	for _, s := range b.sounds {
		if s.at == at {
			best += aloneCost
		}
	}
	for _, r := range readings[at] {
		best = min(best, r.cost+least(b, readings, r.to))
	}
	return best
}

// What is found costs no more than any other explanation, and lies in order, whole
// and without overlap among the measure's notes.
func TestExplanationIsTheCheapest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := measure(t, 0, 0, 0, 0, 1, -1)
		b := &hear(&p)[0]
		readings := Default().readings(b, nil)
		for at := range readings { // the dearer of one cell and place cannot matter
			readings[at] = cheapest(readings[at])
		}
		cost, next := aloneCost*len(b.sounds), 0
		for _, f := range b.explain(readings) {
			if f.First < next || f.First+f.Notes > len(b.sounds) {
				t.Fatalf("%+v overlaps or runs out of %d notes", f, len(b.sounds))
			}
			next = f.First + f.Notes
			for _, r := range readings[f.At] {
				if r.figure == f.Figure {
					cost += r.cost - aloneCost*f.Notes
				}
			}
		}
		if want := least(b, readings, 0); cost != want {
			t.Errorf("cost %d, want %d, of %s", cost, want, score.Text(p))
		}
	})
}

// cheapest keeps of the readings with the same end the cheapest.
func cheapest(all []reading) []reading {
	var kept []reading
	for _, r := range all {
		better := true
		for _, o := range all {
			better = better && (o.to != r.to || o.cost > r.cost || o == r)
		}
		if better {
			kept = append(kept, r)
		}
	}
	return kept
}

// A part in another key is made of the same figures.
func TestFiguresDoNotDependOnTheKey(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := measure(t, 0)
		want := figures(Default().Recognize(&p))
		for fifths := -6; fifths <= 6; fifths++ {
			k := theory.Key{Fifths: fifths}
			by := theory.Between(theory.MustPitch("C4"), k.Tonic().In(4))
			moved := score.Part{Measures: []score.Measure{p.Measures[0]}}
			bar := &moved.Measures[0]
			bar.Key, bar.Notes = &k, nil
			for _, n := range p.Measures[0].Notes {
				n.Pitch = n.Pitch.Transpose(by)
				bar.Notes = append(bar.Notes, n)
			}
			if got := figures(Default().Recognize(&moved)); got != want {
				t.Fatalf("%s: in %s %s, want %s", score.Text(moved), k, got, want)
			}
		}
	})
}
