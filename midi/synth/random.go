package synth

import "math"

// noise is a small stream of random numbers, the same on every machine: the
// splitmix64 generator (Steele, Lea & Flood 2014). The value is the seed.
type noise uint64

func (n *noise) next() uint64 {
	*n += 0x9e3779b97f4a7c15
	z := uint64(*n)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// unit reports a number from 0 up to 1.
func (n *noise) unit() float64 { return float64(n.next()>>11) / (1 << 53) }

// phase reports an angle from 0 up to a full turn, in radians.
func (n *noise) phase() float64 { return 2 * math.Pi * n.unit() }

// white reports a number from -1 up to 1.
func (n *noise) white() float64 { return 2*n.unit() - 1 }

// seedOf makes a seed from a name, so that one voice's sound does not hang on the
// order in which voices are made (FNV-1a).
func seedOf(name string, zone int) noise {
	h := uint64(14695981039346656037)
	for _, c := range []byte(name) {
		h = (h ^ uint64(c)) * 1099511628211
	}
	return noise(h + uint64(zone)*0x9e3779b97f4a7c15)
}
