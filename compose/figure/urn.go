package figure

import "math"

// An urn is a code for signs by how often each came before: of n signs so far, one that
// came k times costs log2((n+newness)/k), and a new one log2((n+newness)/newness)
// besides its name. What a row of signs costs does not depend on their order (Ewens,
// "The sampling theory of selectively neutral alleles", Theoretical Population Biology
// 3, 1972; as a code, Rissanen's predictive one).
type urn struct {
	newness               int
	kinds, signs, repeats int
}

// How likely a new sign is: as if so many had been new before the first. An exercise
// keeps to few rhythms and lays many shapes on them.
const (
	newCells  = 2
	newShapes = 8
)

// put adds a sign that comes n times.
func (u *urn) put(n int) {
	if n > 0 {
		u.kinds, u.signs, u.repeats = u.kinds+1, u.signs+n, u.repeats+logGamma(n)
	}
}

// bits reports what all signs cost, without names.
func (u *urn) bits() int {
	return logGamma(u.newness+u.signs) - logGamma(u.newness) - u.repeats - u.kinds*logBits(float64(u.newness))
}

// price reports what one more sign costs about that came n times in the whole; 0 for a
// new one, without its name.
func (u *urn) price(n int) int {
	if n == 0 {
		n = u.newness
	}
	return logBits(float64(u.signs+u.newness) / float64(n))
}

// entry reports what a sign that comes n times, at least once, costs more, one after the
// other, than at its price, without its name.
func (u *urn) entry(n int) int {
	return n*logBits(float64(n)) - logGamma(n) - logBits(float64(u.newness))
}

// logGamma reports the binary logarithm of (n-1)! in thousandths of a bit.
func logGamma(n int) int {
	l, _ := math.Lgamma(float64(n))
	return int(math.Round(bit * l / math.Ln2))
}
