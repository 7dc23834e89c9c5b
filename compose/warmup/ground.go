package warmup

import (
	"hash"
	"hash/fnv"

	"onward/theory"
)

func newHash() hash.Hash64 { return fnv.New64a() }

// A ground is a written key at its place in the range. Degrees count from the tonic there,
// which is 1; the octave is 8, the seventh below 0.
type ground struct {
	key       theory.Key
	tonic     theory.Pitch
	within    theory.Range
	low, high int // the lowest and the highest degree within the range
}

// settle finds the place of a key's tonic in a range: where the most of the scale up to the
// twelfth lies above it, and some below it. It is false where neither a fifth above lies
// in it nor a fourth above and a fourth below.
func settle(key theory.Key, within theory.Range) (ground, bool) {
	var best ground
	most := -1
	for octave := within.Low.Octave - 1; octave <= within.High.Octave; octave++ {
		g := ground{key: key, tonic: key.Tonic().In(octave), within: within}
		if !within.Has(g.tonic) {
			continue
		}
		for g.high = 1; g.has(g.high + 1); g.high++ {
		}
		for g.low = 1; g.has(g.low - 1); g.low-- {
		}
		if room := 2*min(g.high, 12) + min(1-g.low, 4); room > most && (g.high >= 5 || g.around()) {
			best, most = g, room
		}
	}
	return best, most >= 0
}

// around says whether the range holds a scale of some length on both sides of the tonic.
func (g *ground) around() bool { return g.high >= 4 && g.low <= -2 }

// has says whether a degree lies within the range, in minor raised and natural.
func (g *ground) has(degree int) bool {
	return g.within.Has(g.at(degree, false)) && g.within.Has(g.at(degree, true))
}

// at reports the pitch of a degree; rising is the scale that rises to the tonic.
func (g *ground) at(degree int, rising bool) theory.Pitch {
	class := g.key.Degree(degree)
	if rising {
		class = g.key.Melodic(degree)
	}
	return class.In((g.tonic.Step() + degree - 1) / 7)
}

// A step is a degree of the scale in a stream; in minor it may be told which scale it is of.
type step struct {
	degree int
	way    way
}

// A way says which of the two scales of minor a degree is of.
type way int

const (
	byLine  way = iota // as the line around it goes
	rising             // raised
	falling            // natural
)

// line makes degrees a stream.
func line(degrees ...int) []step {
	s := make([]step, len(degrees))
	for i, d := range degrees {
		s[i].degree = d
	}
	return s
}

// run lists the degrees from one to another by step, both counted.
func run(from, to int) []int {
	degrees := []int{from}
	for from != to {
		if from < to {
			from++
		} else {
			from--
		}
		degrees = append(degrees, from)
	}
	return degrees
}

// sing turns steps into pitches: in minor the sixth and the seventh are raised where the
// line goes on to the tonic above, and where it only dips to them from it.
func (g *ground) sing(steps []step) []theory.Pitch {
	pitches := make([]theory.Pitch, len(steps))
	for i, s := range steps {
		up := s.way == rising || s.way == byLine && raised(steps, i)
		pitches[i] = g.at(s.degree, up)
	}
	return pitches
}

// ofScale is a degree's place in the scale, 1 to 7.
func ofScale(degree int) int { return ((degree-1)%7+7)%7 + 1 }

// raised says whether step i of a stream is of the rising scale.
func raised(steps []step, i int) bool {
	if ofScale(steps[i].degree) < 6 {
		return false
	}
	j := i
	for j+1 < len(steps) && steps[j+1].degree == steps[j].degree-1 { // down to where it turns
		j++
	}
	if ofScale(steps[j].degree) < 6 || steps[i].degree-steps[j].degree > 1 {
		return false
	}
	for ofScale(steps[j].degree) >= 6 {
		if j+1 == len(steps) || steps[j+1].degree != steps[j].degree+1 {
			return false
		}
		j++
	}
	return true
}

// zigzag lists n steps away from home and back that begin at home and end one step from it:
// 0 1 2 1 for four, 0 2 1 for three.
func zigzag(n int) []int {
	if n == 1 {
		return []int{0}
	}
	up := n / 2
	away := run(0, up)
	if n%2 == 1 {
		away = append(run(0, up-1), up+1, up)
	}
	for top := up - 1; top >= 1; top-- {
		away = append(away, top)
	}
	return away
}
