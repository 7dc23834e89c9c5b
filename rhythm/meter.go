package rhythm

import (
	"fmt"
	"strconv"
	"strings"
)

// A Meter is a time signature. Cut is 2/2 written with the cut-time sign.
type Meter struct {
	Beats int // the upper figure
	Unit  int // the lower figure: 2, 4, 8
	Cut   bool
}

// CutTime is 2/2 with the cut-time sign.
var CutTime = Meter{2, 2, true}

// ParseMeter reads "2/4", "6/8", "5/4" or "cut": 1 to 15 beats of 2, 4, 8 or 16. "2/2"
// is taken for cut.
func ParseMeter(s string) (Meter, error) {
	switch s {
	case "cut", "2/2":
		return CutTime, nil
	case "C", "common": // the sign for 4/4
		return Meter{Beats: 4, Unit: 4}, nil
	}
	up, low, _ := strings.Cut(s, "/")
	beats, _ := strconv.Atoi(up)
	unit, _ := strconv.Atoi(low)
	m := Meter{Beats: beats, Unit: unit}
	if m.String() != s || beats < 1 || beats > 15 || (unit != 2 && unit != 4 && unit != 8 && unit != 16) {
		return Meter{}, fmt.Errorf("meter %q: write it as 2/4, 3/4, 4/4, cut, 6/8, 3/8, 9/8 or 5/4", s)
	}
	return m, nil
}

// String reports "6/8", "cut".
func (m Meter) String() string {
	if m.Cut {
		return "cut"
	}
	return fmt.Sprintf("%d/%d", m.Beats, m.Unit)
}

// Measure reports the length of a full measure.
func (m Meter) Measure() Duration { return Duration(m.Beats) * Whole / Duration(m.Unit) }

// Compound reports whether the beat is a dotted note: 6/8, 9/8, 12/8, and 3/8
// counted in one.
func (m Meter) Compound() bool { return m.Unit >= 8 && m.Beats%3 == 0 }

// Beat reports the length of the felt beat: a quarter in 2/4, a half in cut time,
// a dotted quarter in 6/8 and in 3/8.
func (m Meter) Beat() Duration {
	if m.Compound() {
		return 3 * Whole / Duration(m.Unit)
	}
	return Whole / Duration(m.Unit)
}

// BeatValue reports the note value of the felt beat, for metronome marks.
func (m Meter) BeatValue() Value {
	if m.Compound() {
		return Value{Base: m.Unit / 2, Dots: 1}
	}
	return Value{Base: m.Unit}
}

// Count reports how many felt beats a measure has: 2 in 6/8, 5 in 5/4.
func (m Meter) Count() int { return int(m.Measure() / m.Beat()) }

// Strong reports whether a measure offset bears an accent of the meter's first or
// second rank: the downbeat; beat 3 of 4/4; the second beat of a measure of two;
// beat 4 of 5/4 (counted 3+2).
func (m Meter) Strong(at Offset) bool {
	if at == 0 {
		return true
	}
	if at%Offset(m.Beat()) != 0 {
		return false
	}
	beat := int(at / Offset(m.Beat()))
	switch m.Count() {
	case 2:
		return beat == 1
	case 4:
		return beat == 2
	case 5:
		return beat == 3
	}
	return false
}

// OnBeat reports whether a measure offset falls on a felt beat.
func (m Meter) OnBeat(at Offset) bool { return at%Offset(m.Beat()) == 0 }
