package survey

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A Trap is a place that misleads, and why.
type Trap struct {
	Measure int    `json:"measure"`
	Beat    string `json:"beat,omitempty"` // felt beats from 1
	Kind    string `json:"kind"`           // one of the constants below
	Words   string `json:"words"`
	Weight  int    `json:"weight"` // how much it misleads, 1 to 5
}

// The kinds of traps.
const (
	LooksLike   = "looks like"   // a figure that starts like a plain one and leaves it
	StartsLike  = "starts like"  // a measure that begins as an earlier one and ends otherwise
	Syncopation = "syncopation"  // after a row of plain beats
	Cancelled   = "cancelled"    // an accidental taken back in its measure
	StillHolds  = "still holds"  // one that holds later in its measure, where none is printed
	NewClef     = "clef"         // another clef
	NewMeter    = "meter"        // another meter
	OtherEnding = "other ending" // a repeat that goes on elsewhere the second time
	BigLeap     = "leap"         // more than an octave
	NoBreath    = "breath"       // longer without a rest than a breath lasts
)

// traps finds the traps, in order of measures.
func (s *Survey) traps(p *page) {
	s.figureTraps(p)
	s.beginnings(p)
	s.syncopations(p)
	s.accidentalTraps(p)
	s.turns(p)
	s.leaps(p)
	s.breaths(p)
	slices.SortStableFunc(s.Traps, func(a, b Trap) int { return a.Measure - b.Measure })
}

func (s *Survey) trap(measure int, beat, kind string, weight int, format string, args ...any) {
	s.Traps = append(s.Traps, Trap{measure, beat, kind, fmt.Sprintf(format, args...), weight})
}

// figureTraps finds the figures that the catalogue has as traps.
func (s *Survey) figureTraps(p *page) {
	for _, f := range s.Found {
		if shape := p.Catalogue.Shape(f.Shape); shape != nil && shape.LooksLike != "" {
			o := p.onsets[f.First]
			weight := 4
			if shape.Notes() < 4 {
				weight = 2
			}
			s.trap(p.number(f.Measure), p.beat(o), LooksLike, weight, "looks like a %s, but is another: %s", shape.LooksLike, shape.Words)
		}
	}
}

// beginnings finds the measures that begin as an earlier one and end otherwise. One that
// came whole before misleads nobody.
func (s *Survey) beginnings(p *page) {
	for i := range p.line.Measures {
		like, length := -1, 0
		whole := false
		for j := range i {
			n := p.alike(i, j)
			if n == len(p.in(i)) && n == len(p.in(j)) {
				whole = true
				break
			}
			if n >= max(3, (len(p.in(i))+1)/2) && n < len(p.in(i)) && n >= length {
				like, length = j, n
			}
		}
		if like < 0 || whole {
			continue
		}
		o := p.in(i)[length]
		weight := 2
		if i-like <= 2 {
			weight = 3
		}
		s.trap(p.number(i), p.beat(o), StartsLike, weight, "starts like %d and goes on otherwise from beat %s, to %s", p.number(like), p.beat(o), o.Pitch)
	}
}

// alike reports how many onsets measures i and j have in common from their start.
func (p *page) alike(i, j int) int {
	a, b := p.in(i), p.in(j)
	n := 0
	for n < len(a) && n < len(b) && a[n].Pitch == b[n].Pitch && p.at(a[n]) == p.at(b[n]) {
		n++
	}
	if n == len(a) && n == len(b) && n > 0 && a[n-1].Length != b[n-1].Length {
		n-- // it is held longer, or not so long
	}
	return n
}

// plainRow is how many measures without syncopation make it a surprise.
const plainRow = 4

func (s *Survey) syncopations(p *page) {
	row := 0
	for i := range p.line.Measures {
		var at *figure.Onset
		for k, o := range p.in(i) {
			beat := p.meters[i].Beat()
			if off := rhythm.Duration(p.at(o)) % beat; off != 0 && off+o.Length > beat && at == nil {
				at = &p.in(i)[k]
			}
		}
		switch {
		case at != nil && row >= plainRow:
			s.trap(p.number(i), p.beat(*at), Syncopation, 2, "syncopation after %d measures of plain beats: %s comes off the beat and holds over it", row, at.Pitch)
			row = 0
		case at != nil:
			row = 0
		case len(p.in(i)) > 1:
			row++
		}
	}
}

// accidentalTraps finds accidentals taken back in their measure, and those that hold on.
func (s *Survey) accidentalTraps(p *page) {
	for i := range p.line.Measures {
		altered := map[int]figure.Onset{} // by staff position, the note that set it
		told := map[int]bool{}
		for k, o := range p.in(i) {
			step, usual := o.Pitch.Step(), p.signatures[i].Alter(o.Pitch.Letter)
			before, had := altered[step]
			switch {
			case had && before.Pitch.Alter != o.Pitch.Alter && before.Pitch.Alter != usual:
				s.trap(p.number(i), p.beat(o), Cancelled, 3, "%s is taken back in the same measure: %s at beat %s", signed(before.Pitch), signed(o.Pitch), p.beat(o))
				told[step] = true
			case had && before.Pitch.Alter == o.Pitch.Alter && o.Pitch.Alter != usual && !told[step] && k > 1 && p.note(o).Accidental == 0 && p.in(i)[k-1].Pitch.Step() != step:
				s.trap(p.number(i), p.beat(o), StillHolds, 3, "%s holds to the barline: it comes again on beat %s with no sign", signed(o.Pitch), p.beat(o))
				told[step] = true
			}
			altered[step] = o
		}
	}
}

// signed names a note by its accidental: "F-sharp", "B-natural".
func signed(p theory.Pitch) string {
	return p.Letter.String() + "-" + [...]string{"double-flat", "flat", "natural", "sharp", "double-sharp"}[p.Alter+2]
}

// turns finds new clefs, new meters and other endings.
func (s *Survey) turns(p *page) {
	s.clefs(p)
	for i := 1; i < len(p.line.Measures); i++ {
		m := &p.line.Measures[i]
		if p.meters[i] != p.meters[i-1] {
			s.trap(m.Number, "", NewMeter, 4, "another meter: %s", p.meters[i])
		}
		if m.EndingStart && m.Ending > 1 {
			s.trap(m.Number, "", OtherEnding, 3, "the second time go on here: over the first ending, to the other")
		}
	}
}

// clefs finds new clefs, where they stand on the page.
func (s *Survey) clefs(p *page) {
	before := p.clefs[0]
	for _, c := range p.part.Clefs {
		switch beat := p.felt(c.Measure, c.At); {
		case c.Clef == before:
		case c.At > 0:
			s.trap(p.number(c.Measure), beat, NewClef, 3, "%s clef inside the measure, from beat %s", c.Clef, beat)
		default:
			s.trap(p.number(c.Measure), "", NewClef, 3, "%s clef from here", c.Clef)
		}
		before = c.Clef
	}
}

// leaps finds leaps of more than an octave without a rest before.
func (s *Survey) leaps(p *page) {
	for i := 1; i < len(p.onsets); i++ {
		a, b := p.onsets[i-1], p.onsets[i]
		low, high, way := a.Pitch, b.Pitch, "up"
		if low.MIDI() > high.MIDI() {
			low, high, way = high, low, "down"
		}
		if high.MIDI()-low.MIDI() > 12 && p.since(a, b) <= a.Length {
			s.trap(p.number(b.Measure), p.beat(b), BigLeap, 2, "%s %s, %s to %s", distance(low, high), way, a.Pitch, b.Pitch)
		}
	}
}

// since reports the time from the start of one onset to that of another.
func (p *page) since(a, b figure.Onset) rhythm.Duration {
	d := rhythm.Duration(p.note(b).At) - rhythm.Duration(p.note(a).At)
	for i := a.Measure; i < b.Measure; i++ {
		d += p.line.Measures[i].Length
	}
	return d
}

// beat says the felt beat of an onset; see felt.
func (p *page) beat(o figure.Onset) string { return p.felt(o.Measure, p.note(o).At) }

// felt says a place in measure i as a felt beat, from 1: "2", "2+1/2".
func (p *page) felt(i int, place rhythm.Offset) string {
	beat := int64(p.meters[i].Beat())
	at := int64(p.inFull(i, place))
	whole, rest := strconv.FormatInt(at/beat+1, 10), at%beat
	if rest == 0 {
		return whole
	}
	a, b := beat, rest
	for b != 0 {
		a, b = b, a%b
	}
	return fmt.Sprintf("%s+%d/%d", whole, rest/a, beat/a)
}

// leastGap is how long, in seconds, silence is at least to take a breath in.
const leastGap = 0.15

// breaths finds the stretches that no breath lasts for, and where to steal one: after the
// longest note, at a barline rather, when most of it is spent.
func (s *Survey) breaths(p *page) {
	loud, spent, slurred := 1, 0.0, p.slurred()
	type place struct {
		text string
		cost float64 // of a breath there, the less the better
		rest float64 // seconds since
	}
	var best *place
	var stolen []string
	from := 0
	tell := func(to int) {
		if len(stolen) > 0 {
			s.trap(p.number(from), "", NoBreath, 2, "no rest to breathe in from %s: steal a breath %s", Stretch{p.number(from), p.number(to)}, listed(stolen))
		}
		stolen, spent, best = nil, 0, nil
	}
	for i, o := range p.onsets {
		if i == 0 {
			from = o.Measure
		}
		for _, d := range p.line.Measures[o.Measure].Dynamics {
			loud = loudness(d.Mark, loud)
		}
		limit := p.Instrument.Breath[loud]
		length := p.seconds(o.Measure, o.Length)
		if best != nil {
			best.rest += length
		}
		if spent += length; spent > limit && best != nil {
			stolen = append(stolen, best.text)
			spent, best = best.rest, nil
		}
		if i+1 == len(p.onsets) {
			break
		}
		next := p.onsets[i+1]
		gap := p.seconds(o.Measure, p.since(o, next)-o.Length)
		if gap >= leastGap || p.last(o).Breath {
			tell(o.Measure)
			from = next.Measure
			continue
		}
		cost := 1 / length
		if next.Measure != o.Measure {
			cost /= 2
		}
		if slurred[i] {
			cost *= 3
		}
		if spent > limit/2 && (best == nil || cost < best.cost) {
			best = &place{fmt.Sprintf("after %s in %d", o.Pitch, p.number(o.Measure)), cost, 0}
		}
	}
	tell(p.onsets[len(p.onsets)-1].Measure)
}

// stolenTold is how many stolen breaths are named of one stretch.
const stolenTold = 4

func listed(list []string) string {
	if n := len(list); n > stolenTold {
		list = append(list[:stolenTold:stolenTold], fmt.Sprintf("and %d more", n-stolenTold))
	}
	return strings.Join(list, ", ")
}

// loudness is the index into an instrument's breath at a dynamic; before is that in force.
func loudness(mark string, before int) int {
	switch mark {
	case "pp", "p":
		return 0
	case "mp", "mf":
		return 1
	case "f", "ff":
		return 2
	}
	return before
}

// last reports the note that the onset ends with: itself, or the last that is tied to it.
func (p *page) last(o figure.Onset) *score.Note {
	m, k := o.Measure, o.Note
	n := &p.line.Measures[m].Notes[k]
	for n.TieStart {
		if k++; k == len(p.line.Measures[m].Notes) {
			if m, k = m+1, 0; m == len(p.line.Measures) || len(p.line.Measures[m].Notes) == 0 {
				return n
			}
		}
		next := &p.line.Measures[m].Notes[k]
		if next.Rest || !next.TieStop {
			return n
		}
		n = next
	}
	return n
}

// slurred tells of each onset whether a slur goes on from it.
func (p *page) slurred() []bool {
	out := make([]bool, len(p.onsets))
	open := false
	for i, o := range p.onsets {
		open = open && !p.note(o).SlurStop && !p.last(o).SlurStop || p.note(o).SlurStart
		out[i] = open
	}
	return out
}
