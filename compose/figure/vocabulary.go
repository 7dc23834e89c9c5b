package figure

import (
	"cmp"
	"math"
	"slices"

	"onward/theory"
)

// A Vocabulary is the figures that a player has drilled. Make one with Learn,
// ReadVocabulary or Merge; the zero Vocabulary knows nothing.
type Vocabulary struct {
	// Total is how many notes the drilled parts have, Explained how many of them
	// lie in figures.
	Total     int          `toml:"total" json:"total"`
	Explained int          `toml:"explained" json:"explained"`
	Keys      []KeyCount   `toml:"-" json:"keys"` // written keys
	Meters    []MeterCount `toml:"meter,omitempty" json:"meters"`
	Cells     []CellCount  `toml:"cell,omitempty" json:"cells"`
	Figures   []Entry      `toml:"figure,omitempty" json:"figures"` // in order of shape, then cell
	// Own are the shapes among the figures that the catalogue has not.
	Own []Own `toml:"own,omitempty" json:"own,omitempty"`
}

// An Entry is one figure of a vocabulary.
type Entry struct {
	Figure
	// Count is how many times it stands in the drilled parts as a figure of its own, by
	// the description that is shortest.
	Count int `toml:"count" json:"count"`
	// Within is how many times more it stands there as a part of a longer figure, or
	// as another name for the same notes.
	Within int `toml:"within" json:"within"`
	// Notes is how many notes of the parts it explains: Count times its notes.
	Notes int `toml:"notes" json:"notes"`
}

// A CellCount is a rhythm cell and how many times it was met, its shape known or not.
type CellCount struct {
	Cell  string `toml:"cell" json:"cell"`
	Count int    `toml:"count" json:"count"`
}

// A KeyCount is a key and how many measures stand in it.
type KeyCount struct {
	Key      theory.Key `json:"key"`
	Measures int        `json:"measures"`
}

// A MeterCount is a meter, as rhythm.Meter.String gives it, and how many measures
// stand in it.
type MeterCount struct {
	Meter    string `toml:"meter" json:"meter"`
	Measures int    `toml:"measures" json:"measures"`
}

// find reports where the figure stands or belongs in v.Figures.
func (v Vocabulary) find(f Figure) (int, bool) {
	return slices.BinarySearchFunc(v.Figures, f, func(e Entry, f Figure) int { return compareFigures(e.Figure, f) })
}

func compareFigures(a, b Figure) int {
	return cmp.Or(cmp.Compare(a.Shape, b.Shape), cmp.Compare(a.Cell, b.Cell))
}

// Knows reports whether the figure is in the vocabulary.
func (v Vocabulary) Knows(f Figure) bool {
	_, ok := v.find(f)
	return ok
}

// Weight reports how much the figure was drilled: 0 for an unknown one, 1 for the
// most drilled, with the square root of how often they were met between. A meeting
// inside a longer figure counts half.
func (v Vocabulary) Weight(f Figure) float64 {
	i, ok := v.find(f)
	if !ok {
		return 0
	}
	return math.Sqrt(float64(v.Figures[i].meetings()) / float64(v.most()))
}

// Weights reports the weight of every entry, in the order of Figures.
func (v *Vocabulary) Weights() []float64 {
	most := float64(v.most())
	out := make([]float64, len(v.Figures))
	for i, e := range v.Figures {
		out[i] = math.Sqrt(float64(e.meetings()) / most)
	}
	return out
}

// most reports how often the most drilled figure was met.
func (v *Vocabulary) most() int {
	most := 1
	for _, e := range v.Figures {
		most = max(most, e.meetings())
	}
	return most
}

// meetings counts how often the entry was met, in halves.
func (e Entry) meetings() int { return 2*e.Count + e.Within }

// Coverage reports the share, 0 to 1, of a part's notes that lie in figures of the
// vocabulary: found as RecognizeIn finds them, total the length of its Onsets.
// Of no notes it is 0.
func (v Vocabulary) Coverage(found []Found, total int) float64 {
	known := 0
	for _, f := range found {
		if v.Knows(f.Figure) {
			known += f.Notes
		}
	}
	if total == 0 {
		return 0
	}
	return float64(known) / float64(total)
}

// add counts an entry in, keeping the order.
func (v *Vocabulary) add(e Entry) {
	i, ok := v.find(e.Figure)
	if !ok {
		v.Figures = slices.Insert(v.Figures, i, e)
		return
	}
	v.Figures[i].Count += e.Count
	v.Figures[i].Within += e.Within
	v.Figures[i].Notes += e.Notes
}

// Merge reports the vocabulary of a player who has drilled what v and w hold. Shapes of
// the player's own that move alike become one.
func (v Vocabulary) Merge(w Vocabulary) Vocabulary {
	if len(w.Own) > 0 {
		own, changed := mergeOwn(v.Own, w.Own)
		v.Own, w = own, w.renamed(changed)
	}
	v.Figures = slices.Clone(v.Figures)
	for _, e := range w.Figures {
		v.add(e)
	}
	v.Cells = merge(v.Cells, w.Cells, cellParts)
	v.Keys = merge(v.Keys, w.Keys, func(k *KeyCount) (theory.Key, *int) { return k.Key, &k.Measures })
	v.Meters = merge(v.Meters, w.Meters, func(m *MeterCount) (string, *int) { return m.Meter, &m.Measures })
	v.Total += w.Total
	v.Explained += w.Explained
	return v
}

// merge adds up two lists of counts; what is new comes last.
func merge[T any, N comparable](a, b []T, parts func(*T) (N, *int)) []T {
	a = slices.Clone(a)
	for _, y := range b {
		name, count := parts(&y)
		i := slices.IndexFunc(a, func(x T) bool { n, _ := parts(&x); return n == name })
		if i < 0 {
			a = append(a, y)
			continue
		}
		_, sum := parts(&a[i])
		*sum += *count
	}
	return a
}
