package idiom

import "slices"

// An Idiom is what was learned from the tunes of one kind, meter by meter.
type Idiom struct {
	Head   []string // from what it was learned, how, and how well it fits: lines of a file's head
	Meters []*Meter
}

// Meter reports what was learned for a meter, "2/4"; nil if nothing was.
func (d *Idiom) Meter(name string) *Meter {
	for _, m := range d.Meters {
		if m.Name == name {
			return m
		}
	}
	return nil
}

// A Meter is what was learned for one meter.
type Meter struct {
	Name     string   // "6/8"
	Measured int      // ticks a measure has
	Beat     int      // ticks a felt beat has
	Classes  int      // how many kinds of rhythm there are; see Form.Class
	Band     int      // the kind that strains of bands have, None for none
	Rhythms  []Rhythm // of whole measures, none empty
	Forms    []Form

	index  map[string]int // of Rhythms, by key
	levels [rhythmLevels]counts
	first  [chords][7]int
	close  [Intervals]int     // into the tonic that a tune closes on
	alter  [2][7][5][5][3]int // mode, degree, arrival, leave: lowered, natural, raised
	line   []int16            // hundredths, Intervals to a row
	rows   layout
}

const chords = 5

// NewMeter makes a meter of which nothing but its rhythms is known.
func NewMeter(name string, measured, beat, classes int, rhythms []Rhythm) *Meter {
	m := &Meter{Name: name, Measured: measured, Beat: beat, Classes: classes, Band: None}
	m.rows = layoutFor(measured)
	m.line = make([]int16, m.rows.total*Intervals)
	m.setRhythms(rhythms)
	return m
}

// Clone reports a copy that can be changed without changing m.
func (m *Meter) Clone() *Meter {
	c := *m
	c.line = slices.Clone(m.line)
	c.Forms = slices.Clone(m.Forms)
	c.setRhythms(slices.Clone(m.Rhythms))
	for level := range c.levels {
		of := &c.levels[level]
		of.contexts, of.rows = slices.Clone(of.contexts), slices.Clone(of.rows)
		for i, row := range of.rows {
			of.rows[i] = slices.Clone(row)
		}
	}
	return &c
}

// CountFirst adds to how often a tune that begins over a chord begins on a degree.
func (m *Meter) CountFirst(chord Numeral, degree, times int) { m.first[chord][degree] += times }

// FirstChances reports the chances of the degrees that a tune begins on, over a chord.
func (m *Meter) FirstChances(chord Numeral) [7]float64 {
	var all [7]int
	for _, row := range m.first {
		for d, n := range row {
			all[d] += n
		}
	}
	even := [7]float64{1. / 7, 1. / 7, 1. / 7, 1. / 7, 1. / 7, 1. / 7, 1. / 7}
	return mix7(m.first[chord], mix7(all, even))
}

// CountClose adds to how often a tune reaches the tonic that it closes on by an interval of so
// many steps; those beyond Span are left out.
func (m *Meter) CountClose(interval, times int) {
	if interval >= -Span && interval <= Span {
		m.close[interval+Span] += times
	}
}

// CloseOdds weighs each interval, -Span to Span, into the tonic that a tune closes on: by the
// square of how much oftener than the average it was counted, so that the usual closes stand out;
// 1 for each where none was counted.
func (m *Meter) CloseOdds() (odds [Intervals]float64) {
	sum := Intervals * seldomClose
	for _, n := range m.close {
		sum += float64(n)
	}
	for i, n := range m.close {
		oftener := Intervals * (float64(n) + seldomClose) / sum
		odds[i] = float64(oftener * oftener)
	}
	return odds
}

// seldomClose is how often each interval counts in CloseOdds before any was counted.
const seldomClose = 0.5

// mix7 reports the shares of counts, mixed with the more general ones: the more different
// outcomes were seen, the more of these.
func mix7(counts [7]int, general [7]float64) [7]float64 {
	sum, kinds := 0, 0
	for _, n := range counts {
		sum += n
		if n > 0 {
			kinds++
		}
	}
	if sum == 0 {
		return general
	}
	for d, n := range counts {
		general[d] = (float64(n) + float64(float64(kinds)*general[d])) / float64(sum+kinds)
	}
	return general
}

// clip keeps a number from -limit to limit.
func clip(n, limit int) int { return max(-limit, min(limit, n)) }

// mod is the remainder that is never negative.
func mod(a, b int) int { return ((a % b) + b) % b }

// floorDiv rounds down.
func floorDiv(a, b int) int { return (a - mod(a, b)) / b }
