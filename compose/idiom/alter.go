package idiom

// The neighbours of an altered note count up to so many steps.
const alterSpan = 2

// lean is how many notes the more general chance weighs in AlterOdds, and seldom the chance
// of an alteration ahead of all counts. Both are hand-set.
const (
	lean   = 4.0
	seldom = 0.01
)

// CountAlter adds to how often a note on a degree, 0 the tonic, arrived at by so many steps
// and left by so many, is lowered (-1), natural (0) or raised (1) against the major or
// natural minor scale.
func (m *Meter) CountAlter(degree, arrive, leave int, minor bool, alter, times int) {
	m.alter[number(minor)][mod(degree, 7)][clip(arrive, alterSpan)+alterSpan][clip(leave, alterSpan)+alterSpan][clip(alter, 1)+1] += times
}

// AlterOdds reports the chances that a note is lowered, natural or raised; see CountAlter.
// The raised sixth and seventh of minor are among them. They sum to 1.
func (m *Meter) AlterOdds(degree, arrive, leave int, minor bool) (flat, natural, sharp float64) {
	of := &m.alter[number(minor)][mod(degree, 7)]
	from, to := clip(arrive, alterSpan)+alterSpan, clip(leave, alterSpan)+alterSpan
	var all, left [3]int
	for a := range of {
		for l := range of[a] {
			for k, n := range of[a][l] {
				all[k] += n
				if l == to {
					left[k] += n
				}
			}
		}
	}
	p := [3]float64{seldom, 1 - 2*seldom, seldom}
	for _, counts := range [][3]int{all, left, of[from][to]} {
		sum := float64(counts[0]+counts[1]+counts[2]) + lean
		for k, n := range counts {
			p[k] = (float64(n) + float64(lean*p[k])) / sum
		}
	}
	return p[0], p[1], p[2]
}

func number(b bool) int {
	if b {
		return 1
	}
	return 0
}
