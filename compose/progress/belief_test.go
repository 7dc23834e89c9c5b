package progress

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
)

// exact is Bayes' rule on a fine and wide grid, for two independent parts of which each
// measure sees a sum: the posterior of the first.
func exact(one, two normal, seen func(one, two float64) float64) normal {
	const n = 240
	var weight, mean, square float64
	a, b := math.Sqrt(one.variance), math.Sqrt(two.variance)
	for i := range n {
		x := 7 * (2*float64(i)/(n-1) - 1)
		for j := range n {
			y := 7 * (2*float64(j)/(n-1) - 1)
			w := math.Exp(-(x*x+y*y)/2) * seen(one.mean+a*x, two.mean+b*y)
			v := one.mean + a*x
			weight, mean, square = weight+w, mean+w*v, square+w*v*v
		}
	}
	mean /= weight
	return normal{mean, square/weight - mean*mean}
}

func TestOneMeasureMovesBeliefAsBayesDoes(t *testing.T) {
	looked := 0
	for _, sd := range []float64{0.05, 0.2, 0.5, 1} {
		for mean := -1.5; mean <= 1.5; mean += 0.25 {
			for _, right := range []bool{true, false} {
				prior := normal{mean, sd * sd}
				want := exact(prior, normal{0, 1e-12}, func(x, _ float64) float64 { return likelihood(x/slope, right) })
				got := prior.see(right)
				if math.Abs(got.mean-want.mean) > 0.003*sd || math.Abs(got.variance/want.variance-1) > 0.003 {
					t.Errorf("prior %+v, right %v: got %+v, want %+v", prior, right, got, want)
				}
				looked++
			}
		}
	}
	if looked < 100 {
		t.Errorf("only %d cases", looked)
	}
}

// A whole take against all its measures at once on a grid of ability and form. Of a player
// of whom nothing is known one take leaves a belief that is far from normal (all right: no
// telling how much better), and the normal one is too sure of itself by up to a quarter of
// its deviation; once the level is found the two are the same.
func TestATakeMovesBeliefAsBayesDoes(t *testing.T) {
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name               string
		ability, off, sure float64 // deviation before; the worst there may be, in deviations
	}{{"at first", abilitySpread, 0.15, 0.27}, {"once found", found, 0.03, 0.03}} {
		rng := rand.New(rand.NewPCG(3, 9))
		worst, surest := 0.0, 0.0
		for trial := range 12 {
			m := New(rungs)
			first := normal{m.first(&rungs.Rungs[trial]).mean, c.ability * c.ability}
			m.enter(abilityPart(first))
			take := Take{At: time.Unix(0, 0), Style: "march", Rung: 1 + trial, Percent: 100, StoppedAt: -1, Marked: true}
			for range 16 {
				take.Measures = append(take.Measures, Measure{Load: rungs.Rungs[trial].Aim * math.Exp(rng.NormFloat64()*0.4), Rhythm: rng.Float64() < float64(trial%4)/8})
			}
			m.Add(take)
			first.variance += takeDrift*takeDrift + styleSpread*styleSpread + keysSpread*keysSpread
			want := exact(first, formPart.prior, func(a, form float64) float64 {
				p := 1.0
				for _, one := range take.Measures {
					p *= likelihood((a+form-math.Log(one.Load))/slope, one.right())
				}
				return p
			})
			got := m.guess(append(m.parts("march", nil, 0), keysPart(figure.Family{}))...)
			off, sure := math.Abs(got.mean-want.mean)/math.Sqrt(want.variance), 1-math.Sqrt(got.variance/want.variance)
			worst, surest = max(worst, off), max(surest, math.Abs(sure))
			if off > c.off || sure > c.sure || sure < -0.03 {
				t.Errorf("%s, trial %d: got %+v, want %+v", c.name, trial, got, want)
			}
		}
		t.Logf("%s: at worst the mean is off by %.3f deviations, the deviation by %.1f %%", c.name, worst, 100*surest)
	}
}

// A figure's weakness, kept apart from the rest, against a grid of ability and weakness.
func TestAWeakFigureIsToldFromAbility(t *testing.T) {
	rungs, err := ladder.Default(figure.Default())
	if err != nil {
		t.Fatal(err)
	}
	weak := figure.Figure{Shape: "turn", Cell: "four sixteenths"}
	m := New(rungs)
	take := Take{At: time.Unix(0, 0), Style: "march", Rung: 5, StoppedAt: -1, Marked: true}
	for i := range 24 {
		one := Measure{Load: rungs.Rungs[4].Aim}
		if i%3 == 0 {
			one.Figures, one.Pitch = []figure.Figure{weak, weak}, i%2 == 0
		}
		take.Measures = append(take.Measures, one)
	}
	m.Add(take)
	all := m.first(&rungs.Rungs[4])
	all.variance += takeDrift*takeDrift + styleSpread*styleSpread + keysSpread*keysSpread + formSpread*formSpread
	want := exact(spread(0, figureSpread), all, func(w, a float64) float64 {
		p := 1.0
		for i, one := range take.Measures {
			margin := a - math.Log(one.Load)
			if i%3 == 0 {
				margin -= w
			}
			p *= likelihood(margin/slope, one.right())
		}
		return p
	})
	got := m.weakness(weak)
	t.Logf("weakness %.3f, deviation %.3f; exactly %.3f, %.3f", got.mean, math.Sqrt(got.variance), want.mean, math.Sqrt(want.variance))
	if want.mean < 0.1 || math.Abs(got.mean-want.mean) > 0.1*math.Sqrt(want.variance) || math.Abs(got.variance/want.variance-1) > 0.1 {
		t.Errorf("weakness: got %+v, want %+v", got, want)
	}
	if other := m.weakness(figure.Figure{Shape: "turn", Cell: "half"}); other != spread(0, figureSpread) {
		t.Errorf("a figure that was not met: got %+v, want the prior", other)
	}
}

// The belief keeps what it cannot tell apart: in one style and one family of keys the parts
// go against each other, and their sum is surer than any of them.
func TestPartsThatCannotBeToldApart(t *testing.T) {
	var b belief
	one, two := weighed{part{"a", ""}, normal{0, 1}, 1}, weighed{part{"b", ""}, normal{0, 1}, 1}
	terms := b.enter(one, two)
	before := b.sum(terms)
	b.learn(terms, before, normal{1, before.variance / 4})
	sum := b.guess(one, two)
	if math.Abs(sum.mean-1) > 1e-12 || math.Abs(sum.variance-0.5) > 1e-12 {
		t.Errorf("the sum: got %+v, want mean 1, variance 0.5", sum)
	}
	if b.cov[0][1] >= 0 || b.guess(one).variance <= sum.variance {
		t.Errorf("covariance %v, one part alone %+v; want negative, and less sure than the sum", b.cov[0][1], b.guess(one))
	}
	two.times = -1
	if d := b.guess(one, two); math.Abs(d.variance-2) > 1e-12 {
		t.Errorf("the difference: got %+v, want it as unsure as before", d)
	}
}

func TestRightIsTheLogisticAveraged(t *testing.T) {
	for _, n := range []normal{{0, 0.01}, {0.4, 0.02}, {-0.3, 0.05}, {0.5, 0.3}} {
		sum, weight := 0.0, 0.0
		for z := -8.0; z <= 8; z += 0.01 {
			w := math.Exp(-z * z / 2)
			sum, weight = sum+w*logistic((n.mean+z*math.Sqrt(n.variance))/slope), weight+w
		}
		if want := sum / weight; math.Abs(n.right()-want) > 0.02 {
			t.Errorf("%+v: got %.4f, want %.4f", n, n.right(), want)
		}
	}
}

// Of parts that were not met what is believed beforehand counts, as often as they stand in
// the sum; of two independent ones the variances add up.
func TestAGuessAboutPartsNotMet(t *testing.T) {
	var b belief
	b.add(weighed{part{"ability", ""}, normal{2, 0.25}, 1})
	got := b.guess(weighed{part{"ability", ""}, normal{}, 1}, weighed{part{"style", "march"}, normal{0.5, 0.01}, 2}, weighed{part{"unknown", ""}, normal{0.2, 0.04}, -1})
	if want := (normal{2 + 2*0.5 - 0.2, 0.25 + 4*0.01 + 0.04}); math.Abs(got.mean-want.mean) > 1e-12 || math.Abs(got.variance-want.variance) > 1e-12 {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
