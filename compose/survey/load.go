package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"onward/compose/figure"
	"onward/rhythm"
)

// Dense is a measure by its notes, grace notes counted.
type Dense struct {
	Measure int `json:"measure"`
	Notes   int `json:"notes"`
}

// Heavy is a measure by its load.
type Heavy struct {
	Measure int     `json:"measure"`
	Load    float64 `json:"load"` // figures a second
}

// A MeasuredLoad is the load of one measure.
type MeasuredLoad = Heavy

// A Rung is how hard the part is to read at sight.
type Rung struct {
	Rung       int      `json:"rung"`
	Mean       float64  `json:"mean_load"`  // figures a second
	Difficulty float64  `json:"difficulty"` // of the whole, as one figure
	Aspects    []Aspect `json:"aspects"`    // the highest first
	Asked      int      `json:"asked,omitempty"`
	// Slower is at how many percent of its tempo the part is as hard as a read of the rung
	// asked for; 0 where none was, or it is no harder.
	Slower int `json:"slower_percent,omitempty"`
}

// An Aspect is one side of the part, and the rung that has it.
type Aspect struct {
	Name string `json:"name"`
	Rung int    `json:"rung"`
}

// slowest is the least percentage that is worth a word.
const slowest = 30

// difficulty rates the part as the player's instrument reads it.
func (s *Survey) difficulty(p *page) {
	r := p.Ladder.Rate(&p.own, &p.Instrument, p.Catalogue, p.Vocabulary)
	s.Rung = Rung{Rung: r.Rung, Mean: round(r.Mean), Difficulty: round(r.Difficulty), Asked: p.Options.Rung}
	for _, a := range r.Aspects {
		s.Rung.Aspects = append(s.Rung.Aspects, Aspect{a.Name, a.Rung})
	}
	for i, l := range r.Load {
		s.Load = append(s.Load, MeasuredLoad{p.number(i), round(l)})
		if l > s.Heaviest.Load && (p.number(i) != 0 || len(r.Load) == 1) { // an upbeat is short, not hard
			s.Heaviest = Heavy{p.number(i), round(l)}
		}
	}
	if n := p.Options.Rung; n >= 1 && n <= len(p.Ladder.Rungs) {
		if percent := int(100 * p.Ladder.Rungs[n-1].Aim / r.Difficulty); percent < 100 {
			s.Rung.Slower = max(percent, slowest)
		}
	}
}

func round(x float64) float64 { return math.Round(x*1000) / 1000 }

// Coverage is how much of the part the player's figures explain.
type Coverage struct {
	// Share is how much of the notes, 0 to 1, lies in known figures.
	Share float64 `json:"coverage"`
	// By says what is known: ByVocabulary, or ByRung: what the rungs below the one asked
	// for hold, else the part's own rung and those below.
	By      string   `json:"known_by"`
	Notes   int      `json:"notes"`
	Figures []Figure `json:"figures"` // the new ones first, each kind by how often it comes
	New     int      `json:"new"`     // how many of them are
}

// What is known of the player.
const (
	ByVocabulary = "vocabulary"
	ByRung       = "rung"
)

// A Figure is one that the part is made of, where it comes, and what it is there first.
type Figure struct {
	figure.Figure
	Words    string   `json:"words"`
	Count    int      `json:"count"`
	Notes    int      `json:"notes"` // in all
	Known    bool     `json:"known"`
	Level    int      `json:"level"` // the rung that has it
	Measures []int    `json:"measures"`
	Pitches  []string `json:"pitches"` // of the first
	Rhythm   string   `json:"rhythm"`  // its cell in note values
}

// figures tells the figures that the part is made of.
func (s *Survey) figures(p *page) {
	c := &s.Vocabulary
	c.Notes, c.By = len(p.onsets), ByVocabulary
	rung := p.Options.Rung - 1
	if rung < 0 {
		rung = s.Rung.Rung
	}
	if p.Vocabulary == nil {
		c.By = ByRung
	}
	s.Found = p.Catalogue.RecognizeIn(p.line, p.Vocabulary)
	index := map[figure.Figure]int{}
	known := 0
	for _, f := range s.Found {
		if f.Shape == "" {
			continue
		}
		shape, cell := p.Catalogue.Shape(f.Shape), p.Catalogue.Cell(f.Cell)
		level := max(shape.Level, cell.Level)
		knows := level <= rung
		if p.Vocabulary != nil {
			knows = p.Vocabulary.Knows(f.Figure)
		}
		if knows {
			known += f.Notes
		}
		at, had := index[f.Figure]
		if !had {
			at = len(c.Figures)
			index[f.Figure] = at
			one := Figure{Figure: f.Figure, Words: FigureWords(shape, cell), Known: knows, Level: level, Rhythm: rhythm.FormatCell(cell.Events)}
			for _, o := range p.onsets[f.First : f.First+f.Notes] {
				one.Pitches = append(one.Pitches, o.Pitch.String())
			}
			c.Figures = append(c.Figures, one)
			if !knows {
				c.New++
			}
		}
		one := &c.Figures[at]
		one.Count, one.Notes = one.Count+1, one.Notes+f.Notes
		one.Measures = noted(one.Measures, p.number(f.Measure))
	}
	c.Share = round(float64(known) / float64(c.Notes))
	sortFigures(c.Figures)
}

// FigureWords say what a player would call the shape on the cell.
func FigureWords(shape *figure.Shape, cell *rhythm.Cell) string {
	if cell.Onsets() == 1 {
		return fmt.Sprintf("%s: %s", shape.Words, cell.Name)
	}
	return fmt.Sprintf("%s, as %s", shape.Words, cell.Name)
}

// Hard lists the figures of several notes to drill before the part is played: the new ones,
// then known ones of the highest levels, at most so many.
func (s *Survey) Hard(most int) []Figure {
	var out []Figure
	for _, f := range s.Vocabulary.Figures {
		if len(f.Pitches) > 1 && !f.Known {
			out = append(out, f)
		}
	}
	var rest []Figure
	for _, f := range s.Vocabulary.Figures {
		if len(f.Pitches) > 1 && f.Known {
			rest = append(rest, f)
		}
	}
	slices.SortStableFunc(rest, func(a, b Figure) int { return b.Level - a.Level })
	out = append(out, rest...)
	return out[:min(most, len(out))]
}

// sortFigures puts the new ones first, each kind by how often it comes.
func sortFigures(list []Figure) {
	slices.SortStableFunc(list, func(a, b Figure) int {
		if a.Known != b.Known {
			if a.Known {
				return 1
			}
			return -1
		}
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(b.Notes, a.Notes), cmp.Compare(a.Shape, b.Shape), cmp.Compare(a.Cell, b.Cell))
	})
}
