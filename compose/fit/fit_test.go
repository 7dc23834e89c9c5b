package fit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"testing"

	"onward/compose/idiom"
	"onward/compose/tune"
)

// invented makes rows of 16 measures that wander about the scale of C, of the kind and
// meter given.
func invented(kind string, beats, unit, count int) []*tune.Row {
	rng := rand.New(rand.NewPCG(uint64(beats), uint64(unit)))
	length := 192 * beats / unit
	scale := []int{0, 2, 4, 5, 7, 9, 11}
	var rows []*tune.Row
	for n := range count {
		r := &tune.Row{ID: fmt.Sprint(kind, beats, unit, "-", n), Kind: kind, Meter: [2]int{beats, unit}, Mode: "major"}
		step := 7
		for at := 0; at < 16*length; at += length {
			r.Bars = append(r.Bars, at)
			halves := []int{length / 2, length / 4, length / 4}
			if rng.IntN(2) == 0 {
				halves = []int{length / 2, length / 2}
			}
			if at%(8*length) == 7*length {
				halves, step = []int{length}, 7
			}
			now := at
			for _, ticks := range halves {
				r.Notes = append(r.Notes, [3]int{now, ticks, 48 + 12*(step/7) + scale[step%7]})
				now, step = now+ticks, max(3, min(12, step+rng.IntN(5)-2))
			}
		}
		rows = append(rows, r)
	}
	return rows
}

func marches() []*tune.Row {
	return append(invented("dance", 2, 4, 20), invented("dance", 6, 8, 20)...)
}

func text(t *testing.T, d *idiom.Idiom) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The same melodies give the same file, and those held back change nothing in it.
func TestLearnIsRepeatable(t *testing.T) {
	rows := marches()
	first, reports, err := Learn(March, rows, 30)
	if err != nil {
		t.Fatal(err)
	}
	if reports[0].Forms == 0 || reports[0].Notes == 0 {
		t.Fatalf("nothing was learned: %+v", reports)
	}
	again, _, err := Learn(March, marches(), 30)
	if err != nil {
		t.Fatal(err)
	}
	if text(t, first) != text(t, again) {
		t.Error("a second time it is another file")
	}
	taught := slices.DeleteFunc(rows, func(r *tune.Row) bool { return tune.HeldBack(r.ID) })
	if len(taught) == 40 || len(taught) == 0 {
		t.Fatalf("%d of 40 are not held back", len(taught))
	}
	without, _, err := Learn(March, taught, 30)
	if err != nil {
		t.Fatal(err)
	}
	if text(t, first) != text(t, without) {
		t.Error("tunes that are held back change what is learned")
	}
	read, err := idiom.Read(bytes.NewBufferString(text(t, first)), "x")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(read, first) {
		t.Error("what was learned reads otherwise than it was written")
	}
}

// A player's own tunes are learned: their rhythms and lines become likelier, and base stays.
func TestOwn(t *testing.T) {
	base, _, err := Learn(March, marches(), 30)
	if err != nil {
		t.Fatal(err)
	}
	before := text(t, base)
	var own []*tune.Row
	for _, r := range invented("march", 2, 4, 3) {
		for i := range r.Notes { // arpeggios in another rhythm
			r.Notes[i][2] = 60 + []int{0, 4, 7, 12}[i%4]
		}
		r.Notes = slices.DeleteFunc(r.Notes, func(n [3]int) bool { return n[0]%96 == 72 })
		r.Notes[len(r.Notes)-1][2] = 60
		own = append(own, r)
	}
	got, err := Own(base, March, own)
	if err != nil {
		t.Fatal(err)
	}
	if text(t, base) != before {
		t.Error("the base has changed")
	}
	var tunes []*tune.Tune
	for _, r := range own {
		tunes = append(tunes, r.Tunes()...)
	}
	was, _ := Bits(base.Meter("2/4"), tunes)
	is, notes := Bits(got.Meter("2/4"), tunes)
	if is > was-.3 || notes < 50 {
		t.Errorf("%d notes take %.2f bits, before %.2f", notes, is, was)
	}
	if a, b := len(base.Meter("2/4").Forms), len(got.Meter("2/4").Forms); b <= a {
		t.Errorf("of %d forms there are now %d", a, b)
	}
	if !reflect.DeepEqual(base.Meter("6/8"), got.Meter("6/8")) {
		t.Error("6/8 has changed")
	}
	if _, err := idiom.Read(bytes.NewBufferString(text(t, got)), "x"); err != nil {
		t.Error(err)
	}
	if _, err := Own(base, March, nil); err == nil {
		t.Error("no tunes were enough")
	}
}

// loss is what the line is fitted to make small, written plainly.
func (l *logLinear) loss(weights []float64) float64 {
	sum := 0.0
	for i, w := range weights {
		sum += l.penalty / 2 * (w - l.prior[i]) * (w - l.prior[i])
	}
	for _, e := range l.examples {
		var total, said float64
		for k := range idiom.Intervals {
			score := 0.0
			for _, row := range e.rows {
				score += weights[row*idiom.Intervals+k]
			}
			if total += math.Exp(score); k == e.interval {
				said = score
			}
		}
		sum += e.weight * (math.Log(total) - said)
	}
	return sum
}

// The gradient is what the loss does by finite differences, and vanishes where it was
// fitted.
func TestGradient(t *testing.T) {
	const rows = 5
	rng := rand.New(rand.NewPCG(1, 2))
	l := logLinear{penalty: 2}
	for range 30 {
		l.examples = append(l.examples, example{[]int{rng.IntN(2), 2 + rng.IntN(rows-2)}, rng.IntN(idiom.Intervals), rng.Float64()})
	}
	n := rows * idiom.Intervals
	x, grad := make([]float64, n), make([]float64, n)
	for i := range n {
		x[i] = rng.NormFloat64()
		l.prior = append(l.prior, rng.NormFloat64())
	}
	l.gradient(x, grad)
	const h = 1e-5
	for i := range n {
		was := x[i]
		x[i] = was + h
		up := l.loss(x)
		x[i] = was - h
		down := l.loss(x)
		x[i] = was
		if want := (up - down) / (2 * h); math.Abs(grad[i]-want) > 1e-6*max(1, math.Abs(want)) {
			t.Errorf("weight %d: gradient %g, by differences %g", i, grad[i], want)
		}
	}
	l.gradient(l.fit(100), grad)
	if g := largest(grad); g > small {
		t.Errorf("the gradient at the minimum is %g", g)
	}
}

func TestPower(t *testing.T) {
	for x := 0.0; x > -49; x -= .00137 {
		if got, want := power(x), math.Exp(x); math.Abs(got-want) > 1e-11*want {
			t.Fatalf("e to the power of %g is %g, got %g", x, want, got)
		}
	}
	if power(-100) != 0 {
		t.Error("e to the power of -100 is not 0")
	}
}

// real reads the real melodies; the test is skipped where they are not.
func real(t testing.TB) []*tune.Row {
	t.Helper()
	f, err := os.Open("../../../shared/melodies/melodies.jsonl")
	if err != nil {
		t.Skip("no real melodies here: ", err)
	}
	defer f.Close()
	rows, err := tune.Rows(f)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// The shipped lines foretell tunes that nothing was learned from about as well as the
// sketch that they were tried in: 1.88 bits a new note in 2/4, 2.01 in 6/8, 2.41 in songs
// in 4/4, 2.18 in 3/4; by chance it is 4.09.
func TestBitsOfTunesHeldBack(t *testing.T) {
	rows := real(t)
	most := map[string]float64{"march 2/4": 1.9, "march 6/8": 2.1, "song 4/4": 2.4, "song 3/4": 2.2, "song 2/4": 2.3, "song 6/8": 2.3, "song 3/8": 2.2}
	for _, kind := range []Kind{March, Song} {
		d, err := idiom.Shipped(string(kind))
		if err != nil {
			t.Fatal(err)
		}
		held := slices.DeleteFunc(Cut(kind, rows), func(u *tune.Tune) bool { return !u.HeldBack() })
		for _, m := range meters[kind] {
			var test []*tune.Tune
			for _, l := range course(kind, m, held).Lessons {
				test = append(test, l.Tune)
			}
			of := string(kind) + " " + name(m.beats, m.unit)
			bits, notes := Bits(d.Meter(name(m.beats, m.unit)), test)
			t.Logf("%s: %d tunes, %d new notes, %.3f bits each", of, len(test), notes, bits)
			if notes < 50 || bits > most[of] {
				t.Errorf("%s: %d notes take %.3f bits each, at most %.1f", of, notes, bits, most[of])
			}
		}
	}
}

// No tune can be read out of the shipped files: of the notes of a form they hold the degree
// of the first and of one in each phrase, and rhythms stand there one measure at a time. So
// no nine notes in a row of any tune have their pitches there.
func TestNoTuneIsShipped(t *testing.T) {
	for _, kind := range []Kind{March, Song} {
		d, err := idiom.Shipped(string(kind))
		if err != nil {
			t.Fatal(err)
		}
		forms := 0
		for _, m := range d.Meters {
			for _, f := range m.Forms {
				forms++
				for i, measure := range f.Measures {
					if last := i%4 == 3 || i == len(f.Measures)-2 && f.Measures[i+1].Silent; measure.End != idiom.None && !last {
						t.Errorf("%s %s: measure %d has a degree, and ends no phrase", kind, m.Name, i)
					}
				}
			}
		}
		if forms < 100 {
			t.Errorf("%s: only %d forms were looked at", kind, forms)
		}
	}
}
