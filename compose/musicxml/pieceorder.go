package musicxml

import (
	"fmt"
	"slices"
	"strings"
)

// unfold settles the order in which measures are played (common practice):
//
//   - A backward repeat goes back to the forward repeat before it, else to behind the
//     backward repeat or the last ending before it, else to the start; twice in all,
//     or as often as it says or its endings have numbers.
//   - An ending is played in the passes that it names. A repeat inside an ending is
//     played twice in each of them.
//   - D.C. goes back to the start and D.S. to the segno, once, from the end of their
//     measure. From there repeats are played once, with the last ending, unless they say
//     otherwise; Fine ends the piece with its measure, and "to coda" goes on at the coda.
//     Where the jump names one of the two, the other does not count.
//   - A sign that has nowhere to go is passed over.
func unfold(measures []PieceMeasure) ([]Played, error) {
	u := pieceUnfolder{measures: measures, pass: 1, inner: -1, passes: make([]int, len(measures)), used: map[int]bool{}}
	u.settleCodas()
	u.groupEndings()
	for i := range measures {
		u.segnos.add(i, measures[i].signs.segno)
		u.codas.add(i, measures[i].signs.coda)
	}
	for u.at < len(measures) && !u.ended {
		if len(u.played) == maxPlayed {
			return nil, fmt.Errorf("measure %s: with its repeats the piece is longer than %d measures", measures[u.at].Label, maxPlayed)
		}
		u.step()
	}
	return u.played, nil
}

// A pieceUnfolder stands before the measure at, in the section that begins at start.
type pieceUnfolder struct {
	measures []PieceMeasure
	groups   []*endingGroup // by measure, nil where there is no ending
	segnos   marks
	codas    marks
	at       int
	start    int
	pass     int  // of the section
	inner    int  // the start of a repeat inside an ending, -1 for none
	innerRun int  // its pass
	after    bool // a jump: repeats are played once
	toCoda   bool // "to coda" counts
	toFine   bool
	used     map[int]bool // jumps that have been made, by measure
	passes   []int        // how often each measure was played
	played   []Played
	ended    bool
}

// settleCodas tells apart coda signs that do not say what they are: the last is the coda.
func (u *pieceUnfolder) settleCodas() {
	var bare []int
	coda := false
	for i := range u.measures {
		s := &u.measures[i].signs
		coda = coda || s.coda != ""
		if s.codaSign && s.coda == "" && s.toCoda == "" {
			bare = append(bare, i)
		}
	}
	for k, i := range bare {
		s := &u.measures[i].signs
		if k == len(bare)-1 && !coda {
			s.coda = unnamed
		} else {
			s.toCoda = unnamed
		}
	}
}

// step plays the measure or passes it by, and goes on to the one that follows.
func (u *pieceUnfolder) step() {
	s := &u.measures[u.at].signs
	inside := len(s.endings) > 0
	if s.start && u.at != u.start && !inside {
		u.start, u.pass, u.inner = u.at, 1, -1
	}
	if inside && u.inner < 0 && u.passBy(s.endings) {
		u.leave(u.at)
		u.at++
		return
	}
	if s.start && inside && u.inner != u.at {
		u.inner, u.innerRun = u.at, 1
	}
	u.passes[u.at]++
	u.played = append(u.played, Played{u.at, max(u.pass, u.passes[u.at])})
	switch {
	case s.back && u.inner >= 0:
		if u.innerRun++; u.innerRun <= s.played() && !u.after {
			u.at = u.inner
			return
		}
		u.inner = -1
		u.leave(u.at)
		u.at++
	case u.goesBack(s):
		u.at, u.pass = u.start, u.pass+1
	case u.after && u.toFine && s.fine:
		u.ended = true
	case u.after && u.toCoda && s.toCoda != "" && u.coda(s.toCoda, u.at) >= 0:
		u.at = u.coda(s.toCoda, u.at)
		u.start, u.pass, u.inner, u.after = u.at, 1, -1, false
	case u.jumps(s):
	default:
		u.leave(u.at)
		u.at++
	}
}

// passBy reports whether an ending is not for this pass.
func (u *pieceUnfolder) passBy(endings []int) bool {
	low, high := slices.Min(endings), slices.Max(endings)
	group := u.groups[u.at]
	switch {
	case u.after && !group.again: // the last ending alone
		return high < group.last
	case slices.Contains(endings, u.pass):
		return false
	case u.pass > high:
		return u.passes[u.at] > 0 // one that was never played is not left out
	}
	// an ending of a later pass: it is played where no other is for this one
	if u.pass < len(group.numbers) && group.numbers[u.pass] {
		return len(u.played) == 0 || u.played[len(u.played)-1].Index != u.at-1 || u.at == group.from
	}
	u.pass = low
	return false
}

// An endingGroup is the endings that stand side by side: measures from up to before to.
type endingGroup struct {
	from, to int
	last     int // the highest number
	again    bool
	numbers  [maxEnding + 1]bool
}

// groupEndings settles which endings stand side by side; a first ending behind others
// begins a group of its own.
func (u *pieceUnfolder) groupEndings() {
	u.groups = make([]*endingGroup, len(u.measures))
	var g *endingGroup
	for i := range u.measures {
		s := &u.measures[i].signs
		if len(s.endings) == 0 {
			g = nil
			continue
		}
		if g == nil || s.opens && slices.Contains(s.endings, 1) {
			g = &endingGroup{from: i}
		}
		u.groups[i], g.to = g, i+1
		g.again = g.again || s.again
		for _, n := range s.endings {
			g.last, g.numbers[n] = max(g.last, n), true
		}
	}
}

// goesBack reports whether the backward repeat is taken.
func (u *pieceUnfolder) goesBack(s *signs) bool {
	if !s.back || u.after && !s.again {
		return false
	}
	times := s.played()
	if len(s.endings) > 0 {
		times = max(times, u.groups[u.at].last)
	}
	return u.pass < times
}

// played reports how often the backward repeat has its music played in all.
func (s *signs) played() int {
	if s.times < 1 {
		return 2
	}
	return min(maxEnding, s.times)
}

// leave closes the section where the measure ends it: behind its repeat or its last ending.
func (u *pieceUnfolder) leave(i int) {
	s := &u.measures[i].signs
	closes := s.back && len(s.endings) == 0
	if len(s.endings) > 0 {
		closes = u.groups[i].to == i+1
	}
	if closes {
		u.start, u.pass = i+1, 1
	}
}

// jumps makes the jump of D.C. or D.S., if it has not been made.
func (u *pieceUnfolder) jumps(s *signs) bool {
	if u.used[u.at] || !s.daCapo && s.dalSegno == "" {
		return false
	}
	to := 0
	if s.dalSegno != "" {
		if to = u.segno(s.dalSegno, u.at); to < 0 || to > u.at {
			return false
		}
	}
	u.used[u.at] = true
	u.toCoda, u.toFine = s.alCoda || !s.toFine, s.toFine || !s.alCoda
	u.at, u.start, u.pass, u.inner, u.after = to, to, 1, -1, true
	return true
}

// marks are the measures that bear a segno or a coda.
type marks struct {
	at      []int          // in order
	labeled map[string]int // the first of each label, in small letters
}

func (m *marks) add(i int, label string) {
	if label == "" {
		return
	}
	m.at = append(m.at, i)
	if m.labeled == nil {
		m.labeled = map[string]int{}
	}
	if label = strings.ToLower(label); label != unnamed {
		if _, known := m.labeled[label]; !known {
			m.labeled[label] = i
		}
	}
}

// find reports the measure of the label, else the last mark up to measure i and the first
// behind it; -1 for none.
func (m *marks) find(label string, i int) (before, behind int) {
	if k, known := m.labeled[strings.ToLower(label)]; known {
		return k, k
	}
	before, behind = -1, -1
	k, here := slices.BinarySearch(m.at, i)
	if here {
		k++
	}
	if k > 0 {
		before = m.at[k-1]
	}
	if k < len(m.at) {
		behind = m.at[k]
	}
	return before, behind
}

// segno finds the measure that D.S. leads to from a measure: by its label, else the nearest
// segno before it; -1 for none.
func (u *pieceUnfolder) segno(label string, from int) int {
	before, _ := u.segnos.find(label, from)
	return before
}

// coda finds the coda that "to coda" leads to from a measure: by its label, else the
// nearest behind it; -1 for none.
func (u *pieceUnfolder) coda(label string, from int) int {
	_, behind := u.codas.find(label, from)
	return behind
}
