package lattice

// A number is m × 2^(scaleBits·e), never negative: a float64 that neither overflows
// nor vanishes, however long the walks are. Numbers of one layer mostly share e, so
// that arithmetic is a comparison away from that of float64.
type number struct {
	m float64
	e int32
}

const (
	scaleBits = 512
	scaleUp   = 0x1p512
	scaleDown = 0x1p-512
	tooBig    = 0x1p256
	tooSmall  = 0x1p-256
)

// add adds w × b. Partial sums are not normal; see normal.
func (a *number) add(w float64, b number) {
	if a.e == b.e {
		a.m += float64(w * b.m)
		return
	}
	a.addFar(float64(w*b.m), b.e)
}

// addFar adds m × 2^(scaleBits·e), where e differs from that of a.
func (a *number) addFar(m float64, e int32) {
	switch {
	case m == 0:
	case a.m == 0:
		*a = number{m, e}
	case e < a.e:
		a.m += shift(m, e-a.e)
	default:
		*a = number{m + shift(a.m, a.e-e), e}
	}
}

// sub subtracts w × b, which is no greater than a apart from rounding.
func (a *number) sub(w float64, b number) {
	a.m -= shift(float64(w*b.m), b.e-a.e)
}

// normal brings m between tooSmall and tooBig, so that it can be multiplied by any
// weight; zero has e 0.
func (a number) normal() number {
	if a.m == 0 {
		return number{}
	}
	for a.m >= tooBig {
		a.m, a.e = a.m*scaleDown, a.e+1
	}
	for a.m < tooSmall {
		a.m, a.e = a.m*scaleUp, a.e-1
	}
	return a
}

// shift is m × 2^(scaleBits·e); what is too small for a float64 is zero.
func shift(m float64, e int32) float64 {
	switch {
	case e == 0 || m == 0:
		return m
	case e < -3:
		return 0
	}
	for ; e < 0; e++ {
		m *= scaleDown
	}
	for ; e > 0; e-- {
		m *= scaleUp
	}
	return m
}

// A cell holds what can come after one state.
type cell struct {
	weight number // the sum of the weights of all legal completions
	count  number // their number
}
