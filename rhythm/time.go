// Package rhythm holds musical time: durations, offsets, note values, meters,
// rhythm cells and the spelling of durations. It knows nothing of pitch.
package rhythm

import "fmt"

// A Duration is a length of musical time in ticks, TicksPerQuarter to the quarter.
// It is never negative.
type Duration int64

// An Offset is a point in musical time in ticks from a start that the holder names
// (the measure, the piece, the take). Two offsets cannot be added.
type Offset int64

// Quarter is 10,080 ticks: every tuplet up to 9, double dots and 128ths are exact.
const (
	Quarter   Duration = 10080
	Whole              = 4 * Quarter
	Half               = 2 * Quarter
	Eighth             = Quarter / 2
	Sixteenth          = Quarter / 4

	TicksPerQuarter = int(Quarter)
)

// Add reports the point d after o.
func (o Offset) Add(d Duration) Offset { return o + Offset(d) }

// Since reports how long after earlier o lies; it panics if o lies before.
func (o Offset) Since(earlier Offset) Duration {
	if o < earlier {
		panic(fmt.Sprintf("rhythm: offset %d lies before %d", o, earlier))
	}
	return Duration(o - earlier)
}

// A Value is a written note value: a base (1 whole, 2 half, 4 quarter ... 128),
// augmentation dots and a tuplet ratio.
type Value struct {
	Base   int // 1, 2, 4, 8, 16, 32, 64, 128
	Dots   int // 0 to 2
	Tuplet Ratio
}

// A Ratio is a tuplet: Actual notes in the time of Normal. The zero Ratio is none.
type Ratio struct{ Actual, Normal int }

// Triplet is three in the time of two.
var Triplet = Ratio{3, 2}

// Duration reports the value's length.
func (v Value) Duration() Duration {
	d := Whole / Duration(v.Base)
	half := d
	for range v.Dots {
		half /= 2
		d += half
	}
	if v.Tuplet.Actual != 0 {
		d = d * Duration(v.Tuplet.Normal) / Duration(v.Tuplet.Actual)
	}
	return d
}

// exact reports whether the value is a whole number of ticks: a dotted 128th is not.
func (v Value) exact() bool {
	if v.Base < 1 || v.Dots < 0 {
		return false
	}
	ticks, parts := Whole*(1<<(v.Dots+1)-1), Duration(v.Base)<<v.Dots
	if v.Tuplet.Actual != 0 {
		ticks, parts = ticks*Duration(v.Tuplet.Normal), parts*Duration(v.Tuplet.Actual)
	}
	return ticks%parts == 0
}

// Flags reports how many flags or beams a note of this value has: 1 for an eighth.
func (v Value) Flags() int {
	n := 0
	for base := v.Base; base >= 8; base /= 2 {
		n++
	}
	return n
}

// String reports the value in cell text: "4", "8.", "8t", "16(5:4)".
func (v Value) String() string {
	s := fmt.Sprint(v.Base)
	for range v.Dots {
		s += "."
	}
	switch {
	case v.Tuplet == Triplet:
		s += "t"
	case v.Tuplet.Actual != 0:
		s += fmt.Sprintf("(%d:%d)", v.Tuplet.Actual, v.Tuplet.Normal)
	}
	return s
}
