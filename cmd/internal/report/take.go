package report

import "time"

// A Take is one pass through a page with the band.
type Take struct {
	Started, Ended time.Time
	Style          string
	Rung           int // 0 of a printed piece, which has none
	Percent        int // of the page's tempo
	Measures       int // of the printed page; 0 where that is not known
	// Marked says that the player said what slipped: the measures in Slipped, from 0, and
	// all from StoppedAt on; StoppedAt -1 is kept going.
	Marked    bool
	Slipped   []int
	StoppedAt int
	Loads     []float64 // of each measure at the page's tempo, figures a second; nil for not known
	Figures   []Met
}

// A Met figure stood in measures of a take.
type Met struct {
	Figure, Key string // in words
	Measures    []int  // one for each time that it stood there, from 0
}

// came says how a measure came out.
type came int

const (
	notPlayed came = iota
	right
	slipped
)

// outcome says how each measure came out; nil where nobody said.
func (t *Take) outcome() []came {
	if !t.Marked || t.Measures <= 0 {
		return nil
	}
	all := make([]came, t.Measures)
	for i := range all {
		switch {
		case t.StoppedAt < 0 || i < t.StoppedAt:
			all[i] = right
		case i == t.StoppedAt:
			all[i] = slipped
		}
	}
	for _, i := range t.Slipped {
		if i >= 0 && i < len(all) && all[i] == right {
			all[i] = slipped
		}
	}
	return all
}

// A Share is how many of some came out right.
type Share struct {
	Right int `json:"right"`
	Of    int `json:"of"`
}

// add counts one more.
func (s *Share) add(c came) {
	if c == notPlayed {
		return
	}
	s.Of++
	if c == right {
		s.Right++
	}
}

func (s *Share) plus(o Share) { s.Right, s.Of = s.Right+o.Right, s.Of+o.Of }

// Percent is the share in percent, 0 of none.
func (s Share) Percent() float64 {
	if s.Of == 0 {
		return 0
	}
	return 100 * float64(s.Right) / float64(s.Of)
}

// share counts the measures of a take.
func (t *Take) share() (s Share) {
	for _, c := range t.outcome() {
		s.add(c)
	}
	return s
}

// loadRight is the mean load of the measures that came out right, at the tempo of the take;
// 0 where there are none.
func (t *Take) loadRight() float64 {
	sum, n := 0.0, 0
	for i, c := range t.outcome() {
		if c == right && i < len(t.Loads) {
			sum += t.Loads[i]
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n) * float64(t.Percent) / 100
}
