package timeline

import (
	"fmt"

	"onward/compose/score"
)

// A Pass is one playing of one measure.
type Pass struct {
	Index int // into the part's measures as written
	Pass  int // 1 the first time through, 2 on the repeat
}

// Unfold reports the order in which the part's measures are played: a repeated
// section twice, the first ending the first time, the second ending the second.
// A section begins at a forward repeat, after a backward repeat, after a second
// ending or with the piece. A backward repeat that comes round again is passed by,
// so that no measure is played more than twice and every one at least once.
//
// Endings that cannot be played are an error that names the measure: a second
// ending that no repeat leads to, a repeat in the midst of a first ending, an
// ending with another number.
func Unfold(p *score.Part) ([]Pass, error) {
	u := unfolder{measures: p.Measures, pass: 1}
	for u.at < len(u.measures) {
		if err := u.step(); err != nil {
			return nil, fmt.Errorf("part %q: %w", p.Name, err)
		}
	}
	return u.played, nil
}

// An unfolder stands before the measure at, in the section that begins at start.
type unfolder struct {
	measures []score.Measure
	at       int
	start    int
	pass     int
	closed   bool // the section ended with the measure before
	played   []Pass
}

// step plays the measure or passes it by, and goes on to the one that follows.
func (u *unfolder) step() error {
	m := &u.measures[u.at]
	if err := u.checkEnding(m); err != nil {
		return err
	}
	if u.closed {
		u.start, u.pass, u.closed = u.at, 1, false
	}
	if m.Ending == 1 && u.pass == 2 {
		u.closed = m.RepeatEnd && !u.followedBy(2)
		u.at++
		return nil
	}
	if m.RepeatStart && u.at != u.start {
		u.start, u.pass = u.at, 1
	}
	if m.Ending == 2 && u.pass == 1 {
		return fmt.Errorf("measure %d: no repeat leads to the second ending; close the first ending before it with a repeat", m.Number)
	}
	u.played = append(u.played, Pass{u.at, u.pass})
	u.turn(m)
	return nil
}

// turn goes on to the next measure, or back where the repeat says so.
func (u *unfolder) turn(m *score.Measure) {
	if m.RepeatEnd && u.pass == 1 {
		u.at, u.pass = u.start, 2
		return
	}
	if m.Ending == 2 {
		u.closed = m.EndingStop || !u.followedBy(2)
	} else {
		u.closed = m.RepeatEnd
	}
	u.at++
}

// followedBy reports whether the next measure lies under the ending.
func (u *unfolder) followedBy(ending int) bool {
	return u.at+1 < len(u.measures) && u.measures[u.at+1].Ending == ending
}

func (u *unfolder) checkEnding(m *score.Measure) error {
	if m.Ending < 0 || m.Ending > 2 {
		return fmt.Errorf("measure %d: ending %d; only first and second endings can be played", m.Number, m.Ending)
	}
	if m.Ending == 1 && m.RepeatEnd && !m.EndingStop && u.followedBy(1) {
		return fmt.Errorf("measure %d: a repeat in the midst of the first ending; close the ending there", m.Number)
	}
	return nil
}
