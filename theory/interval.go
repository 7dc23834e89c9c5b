package theory

// An Interval is a spelled distance: diatonic steps and semitones, both signed,
// descending negative. A major third is {2, 4}, a diminished fourth {3, 4}.
type Interval struct {
	Steps     int
	Semitones int
}

// Common intervals.
var (
	Unison       = Interval{0, 0}
	MinorSecond  = Interval{1, 1}
	MajorSecond  = Interval{1, 2}
	MinorThird   = Interval{2, 3}
	MajorThird   = Interval{2, 4}
	Fourth       = Interval{3, 5}
	Fifth        = Interval{4, 7}
	MajorSixth   = Interval{5, 9}
	MinorSeventh = Interval{6, 10}
	Octave       = Interval{7, 12}
)

// Between reports the interval from a up to b; descending is negative.
func Between(a, b Pitch) Interval { return Interval{b.Step() - a.Step(), b.MIDI() - a.MIDI()} }

// Neg turns the interval round: up becomes down.
func (i Interval) Neg() Interval { return Interval{-i.Steps, -i.Semitones} }

// Add stacks j on i.
func (i Interval) Add(j Interval) Interval {
	return Interval{i.Steps + j.Steps, i.Semitones + j.Semitones}
}
