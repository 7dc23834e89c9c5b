package survey

import (
	"math"

	"onward/compose/figure"
	"onward/rhythm"
	"onward/theory"
)

// A Key is a signature with the mode that the notes tell, from a measure on.
type Key struct {
	Measure   int    `json:"measure"`
	Name      string `json:"name"`      // as written
	Sounding  string `json:"sounding"`  // as it sounds
	Signature string `json:"signature"` // "2 flats"
	Fifths    int    `json:"fifths"`    // sharps, flats negative
	Mode      string `json:"mode"`

	Written theory.Key `json:"-"`
}

// A Region is a row of measures in another key than the signature's.
type Region struct {
	First int    `json:"first"`
	Last  int    `json:"last"`
	Key   string `json:"key"`      // as written
	Sound string `json:"sounding"` // as it sounds
	By    string `json:"by"`       // the note that tells it, as in "F#"

	Written theory.Key `json:"-"`
}

// How likely each degree of a key is to stand in a measure. Source: the key profiles of
// Temperley, Music and Probability (2007), from memory.
var (
	majorDegrees  = [7]float64{.748, .488, .670, .460, .715, .366, .400}
	minorDegrees  = [7]float64{.712, .474, .618, .460, .747, .404, .133}
	raisedDegrees = [7]float64{5: .067, 6: .330} // of minor
)

const (
	offScale   = .06 // any other note
	leadsTo    = 1.0 // for a leading tone off the signature that goes to its tonic
	goAway     = 1.5 // against a change of key
	finalTonic = 6.0 // for a key on whose tonic a stretch ends
	farKeys    = 4   // fifths away from the signature that are thought of
	toldAfter  = 8   // measures of a key ahead of the first note that tells it
	toldBefore = 4   // the same after the last
)

// likelihood reports how well the onsets from a to b go with a key, as a logarithm.
func (p *page) likelihood(k theory.Key, a, b int) float64 {
	sum := 0.0
	for i := a; i < b; i++ {
		o := p.onsets[i]
		if p.ornament(i) {
			continue
		}
		degree, off := k.DegreeOf(o.Pitch.Class())
		share := offScale
		switch {
		case off == 0 && k.Mode == theory.Major:
			share = majorDegrees[degree-1]
		case off == 0:
			share = minorDegrees[degree-1]
		case off == 1 && k.Mode == theory.Minor && degree >= 6:
			share = raisedDegrees[degree-1]
		}
		beats := float64(o.Length) / float64(p.meters[o.Measure].Beat())
		sum += math.Log(share) * (0.5 + 0.5*min(beats, 2))
		lead := k.LeadingTone()
		if i > 0 && p.onsets[i-1].Pitch.Class() == lead && o.Pitch.Class() == k.Tonic() && !plainIn(p.signatures[o.Measure], lead) {
			sum += leadsTo
		}
	}
	return sum
}

// ornament reports whether the onset is a chromatic neighbour or passing note: off the
// signature, a half step from the notes on both sides. It tells no key.
func (p *page) ornament(i int) bool {
	if i == 0 || i+1 == len(p.onsets) {
		return false
	}
	before, o, next := p.onsets[i-1], p.onsets[i], p.onsets[i+1]
	half := func(a, b figure.Onset) bool {
		d := a.Pitch.MIDI() - b.Pitch.MIDI()
		return (d == 1 || d == -1) && p.since(a, b) <= a.Length+rhythm.Eighth
	}
	return !plainIn(p.signatures[o.Measure], o.Pitch.Class()) && half(before, o) && half(o, next)
}

// keys settles the keys: first each signature's mode, then the measures that leave it.
func (s *Survey) keys(p *page) {
	p.homes = make([]theory.Key, len(p.signatures))
	for from := 0; from < len(p.signatures); {
		to := from + 1
		for to < len(p.signatures) && p.signatures[to].Fifths == p.signatures[from].Fifths {
			to++
		}
		home := p.mode(from, to)
		for i := from; i < to; i++ {
			p.homes[i] = home
		}
		k := Key{p.number(from), home.String(), home.Transpose(p.sounds).String(), home.Signature(), home.Fifths, home.Mode.String(), home}
		if from == 0 {
			s.Key, s.Writing = k, home
		} else {
			s.Changes = append(s.Changes, k)
		}
		from = to
	}
	for from := 0; from < len(p.homes); {
		to := from + 1
		for to < len(p.homes) && p.homes[to] == p.homes[from] {
			to++
		}
		s.away(p, from, to)
		from = to
	}
}

// mode reports major or minor for the signature of the measures from a to b.
func (p *page) mode(a, b int) theory.Key {
	major := theory.Key{Fifths: p.signatures[a].Fifths}
	minor := theory.Key{Fifths: major.Fifths, Mode: theory.Minor}
	first, last := p.first[a], p.first[b]
	if first == last {
		return p.signatures[a]
	}
	lead := p.likelihood(minor, first, last) - p.likelihood(major, first, last)
	switch end := p.onsets[last-1].Pitch.Class(); {
	case end == minor.Tonic():
		lead += finalTonic
	case end == major.Tonic():
		lead -= finalTonic
	}
	if lead > 0 {
		return minor
	}
	return major
}

// away finds the measures from a to b, of one signature, that stand in other keys: the
// likeliest row of keys, a change of key being unlikely (Viterbi).
func (s *Survey) away(p *page, a, b int) {
	home := p.homes[a]
	keys := []theory.Key{home}
	for d := -farKeys; d <= farKeys; d++ {
		for _, mode := range []theory.Mode{theory.Major, theory.Minor} {
			if k := (theory.Key{Fifths: home.Fifths + d, Mode: mode}); k != home && k.Fifths >= -7 && k.Fifths <= 7 {
				keys = append(keys, k)
			}
		}
	}
	best := make([]float64, len(keys))
	from := make([][]int, b-a)
	for i := a; i < b; i++ {
		top := 0
		for k := range keys {
			if best[k] > best[top] {
				top = k
			}
		}
		next := make([]float64, len(keys))
		from[i-a] = make([]int, len(keys))
		for k := range keys {
			from[i-a][k], next[k] = k, best[k]
			if i > a && best[top]-goAway > best[k] {
				from[i-a][k], next[k] = top, best[top]-goAway
			}
			if i == a && k > 0 {
				next[k] -= goAway
			}
			next[k] += p.likelihood(keys[k], p.first[i], p.first[i+1])
		}
		best = next
	}
	path := make([]int, b-a)
	k := 0
	for j := range keys {
		if best[j] > best[k] {
			k = j
		}
	}
	for i := b - a - 1; i >= 0; i-- {
		path[i] = k
		k = from[i][k]
	}
	for i := 0; i < len(path); {
		j := i + 1
		for j < len(path) && path[j] == path[i] {
			j++
		}
		if path[i] != 0 {
			s.region(p, a+i, a+j, home, keys[path[i]])
		}
		i = j
	}
}

// region notes that measures stand in another key, where a note that the signature lacks
// tells it and its tonic sounds.
func (s *Survey) region(p *page, a, b int, home, k theory.Key) {
	var told, tonic bool
	var first, last int // where notes tell it
	var by theory.Class
	triad := map[theory.Class]bool{}
	for i := p.first[a]; i < p.first[b]; i++ {
		c := p.onsets[i].Pitch.Class()
		tonic = tonic || c == k.Tonic()
		triad[c] = triad[c] || k.Triad(1).Has(c)
		if c == k.Tonic() || p.ornament(i) || !inScale(k, c) || plainIn(home, c) {
			continue
		}
		if !told || c == k.LeadingTone() {
			by = c
		}
		if last = p.onsets[i].Measure; !told {
			told, first = true, last
		}
	}
	for a < b && len(p.in(a)) == 0 {
		a++
	}
	for b > a && len(p.in(b-1)) == 0 {
		b--
	}
	a, b = max(a, first-toldAfter), min(b, last+1+toldBefore)
	members := 0
	for _, in := range triad {
		if in {
			members++
		}
	}
	if told && tonic && members > 1 {
		s.Tonicised = append(s.Tonicised, Region{p.number(a), p.number(b - 1), k.String(), k.Transpose(p.sounds).String(), by.String(), k})
	}
}

// plainIn reports whether the signature has the class.
func plainIn(k theory.Key, c theory.Class) bool { return k.Alter(c.Letter) == c.Alter }

// inScale reports whether the class belongs to the key, in minor with sixth and seventh
// raised too.
func inScale(k theory.Key, c theory.Class) bool {
	degree, off := k.DegreeOf(c)
	return off == 0 || off == 1 && k.Mode == theory.Minor && degree >= 6
}
