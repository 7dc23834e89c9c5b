package idiom_test

import (
	"math"
	"testing"

	"onward/compose/idiom"
)

// meters calls check with each meter that the program is shipped with.
func meters(t *testing.T, check func(name string, m *idiom.Meter)) {
	t.Helper()
	for _, name := range []string{"march", "song"} {
		d, err := idiom.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range d.Meters {
			check(name+" "+m.Name, m)
		}
	}
}

func isOne(sum float64) bool { return math.Abs(sum-1) < 1e-9 }

func TestChancesSumToOne(t *testing.T) {
	meters(t, func(name string, m *idiom.Meter) {
		befores := append([]idiom.Rhythm{nil, {}, {{Onset: 1, Ticks: 1}}}, m.Rhythms[:5]...)
		for class := -1; class <= m.Classes; class++ {
			for place := range 4 {
				for _, before := range befores {
					sum := 0.0
					for _, c := range m.RhythmChances(class, place, before) {
						if c <= 0 {
							t.Fatalf("%s: a rhythm has chance %g", name, c)
						}
						sum += c
					}
					if !isOne(sum) {
						t.Fatalf("%s: class %d, place %d, before %v: rhythms sum to %g", name, class, place, before, sum)
					}
				}
			}
		}
		for chord := idiom.I; chord <= idiom.VI; chord++ {
			sum := 0.0
			for _, c := range m.FirstChances(chord) {
				sum += c
			}
			if !isOne(sum) {
				t.Errorf("%s: first notes over %d sum to %g", name, chord, sum)
			}
		}
		for degree := range 7 {
			for steps := -3; steps <= 3; steps++ {
				flat, natural, sharp := m.AlterOdds(degree, steps, -steps, degree%2 == 0)
				if !isOne(flat + natural + sharp) {
					t.Errorf("%s: degree %d: altered notes sum to %g", name, degree, flat+natural+sharp)
				}
			}
		}
	})
}

// A table holds what is asked context by context, and each sums to 1.
func TestTable(t *testing.T) {
	meters(t, func(name string, m *idiom.Meter) {
		c := idiom.Context{Chord: idiom.V, Next: idiom.I, Onset: m.Measured / 2, Place: 2, Measured: m.Measured, Beat: m.Beat, Held: 12, Ticks: 24}
		for _, c.Minor = range []bool{false, true} {
			c.Onset -= 6 // -12 at last, in a pickup, in 3/8
			for i, byMemory := range m.Table(&c, -9, 16) {
				for memory, got := range byMemory {
					one := c
					one.Step, one.Last, one.Turn = i-9, memory/3-idiom.Memory, memory%3-1
					want, sum := m.IntervalChances(&one), 0.0
					for k, p := range got {
						if math.Abs(p-want[k]) > 1e-9*want[k] {
							t.Fatalf("%s: step %d, last %d, turn %d:\n got %v\nwant %v", name, one.Step, one.Last, one.Turn, got, want)
						}
						sum += p
					}
					if !isOne(sum) {
						t.Fatalf("%s: intervals sum to %g", name, sum)
					}
				}
			}
		}
	})
}

// The raised seventh of minor leads to the tonic, and no other degree rises as often.
func TestLeadingToneOfMinor(t *testing.T) {
	meters(t, func(name string, m *idiom.Meter) {
		_, _, sharp := m.AlterOdds(6, -1, 1, true)
		for degree := range 5 {
			if _, _, other := m.AlterOdds(degree, -1, 1, true); other >= sharp {
				t.Errorf("%s: degree %d is raised with %.2f, the seventh with %.2f", name, degree, other, sharp)
			}
		}
		if sharp < .3 {
			t.Errorf("%s: the seventh of minor is raised with %.2f on its way to the tonic", name, sharp)
		}
	})
}

func BenchmarkTable(b *testing.B) {
	d, err := idiom.Shipped("march")
	if err != nil {
		b.Fatal(err)
	}
	m := d.Meter("2/4")
	c := idiom.Context{Chord: idiom.V, Onset: 24, Place: 2, Measured: 48, Beat: 24, Held: 12, Ticks: 24}
	for b.Loop() {
		m.Table(&c, -3, 9)
	}
}
