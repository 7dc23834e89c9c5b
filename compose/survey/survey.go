// Package survey looks a real part over as a good teacher does before it is played: its
// key, meter and form, where it leaves them, how far it goes, where it is dense, what in it
// misleads, which of its figures are known, and on which rung of the ladder it stands.
package survey

import (
	"fmt"
	"slices"
	"strings"

	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// Options say for whom a part is looked over.
type Options struct {
	Instrument theory.Instrument
	Catalogue  *figure.Catalogue
	Ladder     *ladder.Ladder
	// Vocabulary is the figures that the player drilled; nil where nobody knows. Then the
	// figures of the rungs below Rung count as known, or all up to the part's own rung.
	Vocabulary *figure.Vocabulary
	// Rung is the player's, 0 for the part's own.
	Rung int
}

// A Survey is what there is to see in a part. Its JSON names do not change. Measures are
// printed numbers, an upbeat 0; pitches are those on the page.
type Survey struct {
	Title      string         `json:"title"`
	Composer   string         `json:"composer,omitempty"`
	Part       string         `json:"part"`
	Number     int            `json:"number"` // of the part in the file, from 1
	Instrument string         `json:"instrument"`
	Reading    string         `json:"reading"` // one of the constants below
	Clef       string         `json:"clef"`
	Key        Key            `json:"key"`
	Changes    []Key          `json:"key_changes"` // signatures after the first
	Tonicised  []Region       `json:"tonicised"`
	Meters     []Meter        `json:"meters"`
	Tempo      Tempo          `json:"tempo"`
	Words      []Word         `json:"words"`
	Dynamics   []Word         `json:"dynamics"`
	Form       Form           `json:"form"`
	Range      Range          `json:"range"`
	Accidental Accidentals    `json:"accidentals"`
	Graces     Tally          `json:"grace_notes"`
	Densest    Dense          `json:"densest"`  // most notes in a measure
	Heaviest   Heavy          `json:"heaviest"` // most to take in
	Rests      []Rest         `json:"rests"`    // of two measures and more
	Traps      []Trap         `json:"traps"`    // in order of measures
	Vocabulary Coverage       `json:"vocabulary"`
	Rung       Rung           `json:"rung"`
	Load       []MeasuredLoad `json:"load"`     // of each measure as written
	Left       []string       `json:"left_out"` // what the page has otherwise

	Rungs   int                 `json:"-"` // of the ladder
	Page    *score.Part         `json:"-"` // the part as it stands
	Own     *score.Part         `json:"-"` // the part as the player's instrument is written
	Found   []figure.Found      `json:"-"` // its figures
	Writing theory.Key          `json:"-"` // written key
	Beat    rhythm.Meter        `json:"-"` // the first meter
	Pieces  *musicxml.PiecePart `json:"-"`
}

// How a part's page goes with the player's instrument.
const (
	AsWritten  = "as written" // it is written for the instrument, or one written alike
	NotSaid    = "not said"   // the file has no transposition: it is taken for the instrument's
	Transposed = "transposed" // it is written for another: the player transposes
)

// maxLeft is how many warnings of the file's reader are told.
const maxLeft = 6

// Of looks over the part of the index. It fails where the part is not one line, or has no
// notes.
func Of(piece *musicxml.Piece, index int, o Options) (*Survey, error) {
	part := &piece.Parts[index]
	if part.Line == nil {
		why := "its voices are not one line"
		if n := len(part.LineWarnings); n > 0 {
			why = part.LineWarnings[n-1].Text
		}
		return nil, fmt.Errorf("part %d, %s: %s; give a part of one line", index+1, part.Name, why)
	}
	p := newPage(piece, part, o)
	if len(p.onsets) == 0 {
		return nil, fmt.Errorf("part %d, %s: it has no notes to play", index+1, part.Name)
	}
	s := &Survey{
		Title: piece.Title, Composer: piece.Composer, Part: part.Name, Number: index + 1,
		Instrument: o.Instrument.ID, Reading: p.reading, Clef: p.clefs[0].String(),
		Rungs: len(o.Ladder.Rungs), Page: p.line, Own: &p.own, Beat: p.meters[0], Pieces: part,
	}
	s.empty()
	s.keys(p)
	s.time(p)
	s.form(p)
	s.span(p)
	s.signs(p)
	s.rests(p)
	s.difficulty(p)
	s.figures(p)
	s.traps(p)
	s.leftOut(part.LineWarnings)
	for _, w := range piece.Warnings {
		if w.Part == part.Name {
			s.leftOut([]musicxml.Warning{w})
		}
	}
	return s, nil
}

// leftOut notes what the survey did not see, each thing once.
func (s *Survey) leftOut(warnings []musicxml.Warning) {
	for _, w := range warnings {
		text := w.Text
		if w.Measure != "" {
			text = "from measure " + w.Measure + ": " + text
		}
		if len(s.Left) < maxLeft && !slices.ContainsFunc(s.Left, func(had string) bool { return strings.HasSuffix(had, w.Text) }) {
			s.Left = append(s.Left, text)
		}
	}
}

// empty makes lists of nothing, so that the JSON has [] where there is none.
func (s *Survey) empty() {
	s.Changes, s.Tonicised, s.Words, s.Dynamics = []Key{}, []Region{}, []Word{}, []Word{}
	s.Rests, s.Traps, s.Left = []Rest{}, []Trap{}, []string{}
	s.Range.Beyond, s.Graces.Measures = []string{}, []int{}
	s.Accidental.Measures, s.Accidental.Notes = []int{}, []AccidentalNote{}
	s.Vocabulary.Figures = []Figure{}
}
