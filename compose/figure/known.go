package figure

import (
	"cmp"
	"math"
	"slices"
	"time"

	"onward/theory"
)

// A Practice is a time at which a player met a figure: in an exercise that was learned, or
// in a take.
type Practice struct {
	At time.Time
	Meeting
	// Slipped says that it did not come out as written.
	Slipped bool
}

// A Family is keys that lie alike: of one mode, and with about as many signs.
type Family struct {
	Signs int // -2 four flats and more, -1 two or three flats, 0 one sign or none, 1 and 2 sharps likewise
	Mode  theory.Mode
}

// FamilyOf is the family that the key belongs to.
func FamilyOf(k theory.Key) Family {
	f := Family{Mode: k.Mode}
	switch n := max(k.Fifths, -k.Fifths); {
	case n >= 4:
		f.Signs = 2
	case n >= 2:
		f.Signs = 1
	}
	if k.Fifths < 0 {
		f.Signs = -f.Signs
	}
	return f
}

// String says which keys the family has: "2 or 3 flats, major".
func (f Family) String() string {
	signs := [...]string{"4 flats or more", "2 or 3 flats", "1 sign or none", "2 or 3 sharps", "4 sharps or more"}
	return signs[f.Signs+2] + ", " + f.Mode.String()
}

// A Known is how well a figure is known in a family of keys.
type Known struct {
	Figure
	Family Family
	Share  float64   // 0 not at all, towards 1 by heart
	Times  int       // how often it was met
	Last   time.Time // when it was met last without a slip; zero if never
}

// How knowing grows and fades. The forms are of others, the numbers this program's own.
const (
	// learningRate is the power by which what is left to learn shrinks with practice:
	// the power law of practice (Newell & Rosenbloom, "Mechanisms of skill acquisition
	// and the law of practice", 1981).
	learningRate = 0.5
	// A half-life is so many days to the power of two: dayGain times the square root of
	// the days of practice, less slipLoss times that of the slips: half-life regression
	// (Settles & Meeder, "A trainable spaced repetition model for language learning",
	// ACL 2016). After one day it is 3 days, after four 8, after nine 23, after sixteen 64.
	dayGain  = 1.5
	slipLoss = 0.5
	// shortest is the shortest half-life, in days.
	shortest = 0.5
)

// Knowing reports how well each figure that was met is known now, in each family of keys
// that it was met in, by shape, cell and family. What was met n times on one day counts
// log2(1+n); the sum s of that over the days (UTC) leaves (1+s)^-learningRate to learn;
// what was learned halves with each half-life since the last time. Slips teach nothing,
// refresh nothing and shorten the half-life. It depends on nothing but the practice and now, so that it can
// always be computed anew; the order of the list does not matter, and what lies after now
// counts as met now.
func Knowing(all []Practice, now time.Time) []Known {
	type subject struct {
		Figure
		Family
	}
	histories := map[subject]*history{}
	for _, p := range all {
		s := subject{p.Figure, FamilyOf(p.Key)}
		if histories[s] == nil {
			histories[s] = &history{days: map[int64]int{}}
		}
		histories[s].add(p)
	}
	var known []Known
	for s, h := range histories {
		known = append(known, Known{s.Figure, s.Family, h.share(now), h.times, h.last})
	}
	slices.SortFunc(known, func(a, b Known) int {
		return cmp.Or(compareFigures(a.Figure, b.Figure), cmp.Compare(a.Family.Signs, b.Family.Signs), cmp.Compare(a.Family.Mode, b.Family.Mode))
	})
	return known
}

// A history is how a figure was practised.
type history struct {
	days  map[int64]int // times by day since 1970
	times int
	slips int
	last  time.Time
}

func (h *history) add(p Practice) {
	h.times += p.Times
	if p.Slipped {
		h.slips += p.Times
		return
	}
	if p.At.After(h.last) {
		h.last = p.At
	}
	h.days[int64(math.Floor(float64(p.At.Unix())/86400))] += p.Times
}

func (h *history) share(now time.Time) float64 {
	var days []int64
	for d := range h.days {
		days = append(days, d)
	}
	slices.Sort(days) // so that the sum is the same each time
	practice := 0.0
	for _, d := range days {
		practice += math.Log2(1 + float64(h.days[d]))
	}
	halfLife := max(shortest, math.Exp2(dayGain*math.Sqrt(float64(len(days)))-slipLoss*math.Sqrt(float64(h.slips))))
	since := max(0, now.Sub(h.last).Hours()/24)
	return (1 - math.Pow(1+practice, -learningRate)) * math.Exp2(-since/halfLife)
}

// Weighed is the vocabulary with each figure counted by how well it is known, at best in
// any family: a hundred times for all that is by heart. Figures that are known and not in
// it are added; those not met are as if they had only been seen.
func (v Vocabulary) Weighed(c *Catalogue, known []Known) Vocabulary {
	shares := map[Figure]float64{}
	for _, k := range known {
		if s := c.Shape(k.Shape); s != nil && c.Cell(k.Cell) != nil && s.Notes() == c.Cell(k.Cell).Onsets() {
			shares[k.Figure] = max(shares[k.Figure], k.Share)
		}
	}
	for _, e := range v.Figures {
		shares[e.Figure] += 0
	}
	v.Figures = nil
	for f, share := range shares {
		e := Entry{Figure: f, Count: int(math.Round(100 * share)), Within: 1}
		e.Notes = e.Count * c.Shape(f.Shape).Notes()
		v.add(e)
	}
	return v
}
