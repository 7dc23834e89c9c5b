// Package progress is the ladder that moves: from the takes that a player marked it tells
// what this player can take in, and proposes what to read next, so that 80 to 90 % of the
// measures come out right at an unbroken pulse. It proposes and forces nothing. It is pure:
// the model can always be made anew from the history.
//
// The rule. A measure is right if pitch and rhythm both are. Its chance of it is logistic in
// ability less load, as in the model of Rasch ("Probabilistic models for some intelligence
// and attainment tests", 1960), both as natural logarithms of figures a second, so that a
// slower tempo is less load by its ratio:
//
//	P(right) = 1 / (1 + exp(-(ability - ln(load × tempo)) / slope))
//
// Ability is a sum of parts, each with what is not known of it, as in the random-effects
// models of De Boeck & Wilson ("Explanatory item response models", 2004): the player's own,
// one for each style and family of keys, what unknown figures cost and what each pressure
// does, the form of the day, and the weakness of each figure that stands in the measure.
// The measures of a take move all of them by Bayes' rule, and the result is kept as a normal
// distribution: expectation propagation, as in Herbrich, Minka & Graepel ("TrueSkill", 2006);
// a rating that grows less certain while it
// is not seen is Glickman's ("Parameter estimation in large dynamic paired comparison
// experiments", 1999). These sources are named from memory; the numbers are this program's own,
// chosen by the simulation in the tests.
package progress

import (
	"math"
	"time"

	"onward/compose/figure"
	"onward/compose/ladder"
)

// A Measure is one printed measure of a take as the player marked it.
type Measure struct {
	// Load is its load at the page's tempo, in figures a second. A measure of no load, as
	// of rests alone, tells nothing and is passed over.
	Load float64
	// Unknown is the share of its notes, 0 to 1, in figures that the player does not know.
	Unknown float64
	Key     figure.Family // of the written key
	Figures []figure.Figure
	// Pitch and Rhythm say that it slipped so.
	Pitch, Rhythm bool
}

// right reports whether it came out as written.
func (m *Measure) right() bool { return !m.Pitch && !m.Rhythm }

// tells reports whether it had anything to take in.
func (m *Measure) tells() bool { return m.Load > 0 && !math.IsInf(m.Load, 1) }

// A Take is one pass through a read, as the player marked it.
type Take struct {
	At       time.Time
	Style    string
	Rung     int      // of its read, 1 to 12
	Percent  int      // tempo, in percent of the page's; 0 counts as 100
	Pressure []string // any of Pressures, in any order
	Measures []Measure
	// StoppedAt is the index of the measure in which the player stopped, -1 if the player
	// kept going. That measure counts as slipped; those after it were not played.
	StoppedAt int
	// Marked says that the player said what slipped. A take that is not marked teaches
	// nothing at all.
	Marked bool
}

// percent reports the tempo in percent.
func (t *Take) percent() int {
	if t.Percent <= 0 {
		return 100
	}
	return t.Percent
}

// stopped reports whether the player stopped.
func (t *Take) stopped() bool { return t.StoppedAt >= 0 && t.StoppedAt < len(t.Measures) }

// played lists the measures that tell something, as they came out.
func (t *Take) played() []Measure {
	var out []Measure
	for i, m := range t.Measures {
		if t.stopped() && i > t.StoppedAt {
			break
		}
		if t.stopped() && i == t.StoppedAt {
			m.Rhythm = true
		}
		if m.tells() {
			out = append(out, m)
		}
	}
	return out
}

// share reports the share of its measures that were right, those not played included; 1 of
// no measures.
func (t *Take) share() float64 {
	right, all := 0, 0
	for i := range t.Measures {
		if !t.Measures[i].tells() {
			continue
		}
		all++
		if t.Measures[i].right() && (!t.stopped() || i < t.StoppedAt) {
			right++
		}
	}
	if all == 0 {
		return 1
	}
	return float64(right) / float64(all)
}

// An Ask is what a proposal is wanted for.
type Ask struct {
	Style string
	// Share is what the style bears of a rung's load (styles.Sheet.Load); 0 counts as 1.
	Share float64
	Now   time.Time
	// Known is how well the figures are known now (figure.Knowing); nil if nothing is.
	Known []figure.Known
	// Rung is where a player without a history wants to start, 0 for no wish.
	Rung int
}

// A Proposal is what to read next.
type Proposal struct {
	Rung     int     // 1 to 12
	Coverage float64 // share of the notes in known figures, 0 to 1
	New      int     // kinds of figures that are not known yet
	Percent  int     // tempo in percent of the page's, 70 to 100, in fives
	// Wanted are figures that should come back, the weakest first; at most six.
	Wanted []figure.Figure
	// WeakKeys are the families of written keys in which the player reads clearly worse,
	// the weakest first. Key is the one that this read should be in; mostly nil.
	WeakKeys []figure.Family
	Key      *figure.Family
	// Pressure is what to add to an ordinary take, of Pressures; mostly nothing.
	Pressure []string
	// Expected is the share of measures, 0 to 1, that should come out right.
	Expected float64
	// Why says the reasons, a plain sentence each, for the player to read.
	Why []string
}

// Read makes the model of a history, oldest take first.
func Read(history []Take, rungs *ladder.Ladder) *Model {
	m := New(rungs)
	for i := range history {
		m.Add(history[i])
	}
	return m
}
