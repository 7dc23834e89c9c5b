package fit

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"onward/compose/idiom"
)

// A clustering sorts tunes into classes by the cells of their measures.
type clustering struct {
	columns map[string]int // of cells
	centers [][]float64
	beat    int
	length  int
}

// cells reports what stands on each beat of a measure, as names.
func (c *clustering) cells(r idiom.Rhythm) []string {
	var all []string
	for start := 0; start < c.length; start += c.beat {
		name := ""
		for _, p := range r {
			if p.Onset >= start && p.Onset < start+c.beat {
				name += strconv.Itoa(p.Onset-start) + "+" + strconv.Itoa(min(p.Ticks, 2*c.beat)) + " "
			}
		}
		all = append(all, name)
	}
	return all
}

// point reports the square roots of the shares that the cells have of a tune's measures.
func (c *clustering) point(rhythms []idiom.Rhythm) []float64 {
	share := make([]float64, len(c.columns))
	total := 0.0
	for _, r := range rhythms {
		for _, cell := range c.cells(r) {
			if k, ok := c.columns[cell]; ok {
				share[k]++
				total++
			}
		}
	}
	for k := range share {
		share[k] = math.Sqrt(share[k] / max(1, total))
	}
	return share
}

// cluster sorts tunes into so many classes by k-means, the best of a few starts; known are
// the rhythms whose cells count. The same tunes give the same classes.
func cluster(tunes [][]idiom.Rhythm, known []idiom.Rhythm, classes, beat, length int) *clustering {
	c := &clustering{columns: map[string]int{}, beat: beat, length: length}
	for _, r := range known {
		for _, cell := range c.cells(r) {
			if _, ok := c.columns[cell]; !ok {
				c.columns[cell] = len(c.columns)
			}
		}
	}
	points := make([][]float64, len(tunes))
	for i, rhythms := range tunes {
		points[i] = c.point(rhythms)
	}
	classes = min(classes, len(points))
	best := math.Inf(1)
	for start := range uint64(6) {
		centers, cost := kMeans(points, classes, rand.New(rand.NewPCG(start, 1)))
		if cost < best {
			best, c.centers = cost, centers
		}
	}
	return c
}

// classOf reports the class of a tune: the nearest center's.
func (c *clustering) classOf(rhythms []idiom.Rhythm) int {
	at, _ := nearest(c.centers, c.point(rhythms))
	return at
}

func nearest(centers [][]float64, p []float64) (at int, distance float64) {
	distance = math.Inf(1)
	for k, c := range centers {
		d := 0.0
		for i, v := range c {
			d += float64((v - p[i]) * (v - p[i]))
		}
		if d < distance {
			at, distance = k, d
		}
	}
	return at, distance
}

// kMeans starts from points far from each other (k-means++), and reports the centers and
// the sum of the squared distances to them.
func kMeans(points [][]float64, k int, rng *rand.Rand) ([][]float64, float64) {
	centers := [][]float64{slices.Clone(points[rng.IntN(len(points))])}
	for len(centers) < k {
		total := 0.0
		far := make([]float64, len(points))
		for i, p := range points {
			_, far[i] = nearest(centers, p)
			total += far[i]
		}
		x, at := rng.Float64()*total, 0
		for at < len(points)-1 && x >= far[at] {
			x -= far[at]
			at++
		}
		centers = append(centers, slices.Clone(points[at]))
	}
	cost := math.Inf(1)
	for range 100 {
		sums, sizes, now := make([][]float64, k), make([]float64, k), 0.0
		for _, p := range points {
			at, d := nearest(centers, p)
			now += d
			sizes[at]++
			if sums[at] == nil {
				sums[at] = make([]float64, len(p))
			}
			for i, v := range p {
				sums[at][i] += v
			}
		}
		if now >= cost {
			break
		}
		cost = now
		for c := range centers {
			for i := range sums[c] {
				centers[c][i] = sums[c][i] / sizes[c]
			}
		}
	}
	return centers, cost
}
