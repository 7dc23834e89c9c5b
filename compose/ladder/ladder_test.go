package ladder_test

import (
	"strings"
	"testing"

	"onward/compose/figure"
	"onward/compose/ladder"
)

func TestTheLadderHasTwelveRungs(t *testing.T) {
	l, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Rungs) != 12 {
		t.Fatalf("%d rungs, want 12", len(l.Rungs))
	}
	for i := 1; i < len(l.Rungs); i++ {
		a, b := l.Rungs[i-1], l.Rungs[i]
		if b.Span < a.Span || b.Leap < a.Leap || b.Harmony < a.Harmony || b.Run > a.Run {
			t.Errorf("rung %d is narrower than rung %d", b.Number, a.Number)
		}
		if len(b.Adds) < 2 {
			t.Errorf("rung %d adds %d things, want 2 or more to choose from", b.Number, len(b.Adds))
		}
	}
}

// A rung's own cells and shapes stand on its level, so that they enter one rung up for
// good and nothing comes in unannounced.
func TestWhatARungAddsStandsOnItsLevel(t *testing.T) {
	cat := figure.Default()
	l, err := ladder.Default(cat)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range l.Rungs {
		for _, thing := range r.Adds {
			for _, name := range append(thing.Cells, thing.On...) {
				if c := cat.Cell(name); c.Level > r.Number {
					t.Errorf("rung %d adds cell %q of level %d: it would leave again one rung up", r.Number, name, c.Level)
				}
			}
			for _, name := range thing.Shapes {
				if s := cat.Shape(name); s.Level > r.Number {
					t.Errorf("rung %d adds shape %q of level %d: it would leave again one rung up", r.Number, name, s.Level)
				}
			}
		}
	}
}

func TestWrongLaddersAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"[[rung]]\nnumber = 2\n":                  "out of order",
		"[[rung]]\nnumber = 1\nhight = 3\n":       `rungs.toml:3: key "rung.hight"`,
		"[[rung]]\nnumber = 1\nbracket = \"low\"": `bracket "low"`,
		"[[rung]]\nnumber = \"one\"":              "rungs.toml:2",
	} {
		_, err := ladder.Parse("rungs.toml", []byte(text), figure.Default())
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q in it", text, err, want)
		}
	}
}
