package survey

import (
	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A page is a part with what is in force in each of its measures.
type page struct {
	Options
	piece   *musicxml.Piece
	part    *musicxml.PiecePart
	line    *score.Part
	own     score.Part // as the player's instrument is written
	reading string
	sounds  theory.Interval // from the page to what sounds

	signatures []theory.Key // as they stand, in each measure
	homes      []theory.Key // with the mode that the notes tell
	meters     []rhythm.Meter
	clefs      []theory.Clef
	micros     []int // of a quarter, at the measure's start
	onsets     []figure.Onset
	first      []int // the first onset of each measure; one more at the end
}

func newPage(piece *musicxml.Piece, part *musicxml.PiecePart, o Options) *page {
	p := &page{Options: o, piece: piece, part: part, line: part.Line, onsets: figure.Onsets(part.Line)}
	p.transpose()
	micros := 0
	for i := range p.line.Measures {
		k, m, c := theory.Key{}, rhythm.Meter{Beats: 4, Unit: 4}, theory.Treble
		if i > 0 {
			k, m, c = p.signatures[i-1], p.meters[i-1], p.clefs[i-1]
		}
		ms := &p.line.Measures[i]
		if ms.Key != nil {
			k = *ms.Key
		}
		if ms.Meter != nil {
			m = *ms.Meter
		}
		if ms.Clef != nil {
			c = *ms.Clef
		}
		if i < len(piece.Measures) {
			for _, t := range piece.Measures[i].Tempos {
				if t.At == 0 || micros == 0 {
					micros = t.MicrosPerQuarter
				}
			}
		}
		p.signatures, p.meters, p.clefs = append(p.signatures, k), append(p.meters, m), append(p.clefs, c)
		p.micros = append(p.micros, micros)
		if i < len(piece.Measures) {
			for _, t := range piece.Measures[i].Tempos {
				micros = t.MicrosPerQuarter
			}
		}
	}
	p.first = make([]int, len(p.line.Measures)+1)
	next := 0
	for i := range p.first {
		for next < len(p.onsets) && p.onsets[next].Measure < i {
			next++
		}
		p.first[i] = next
	}
	return p
}

// transpose settles how the page goes with the player's instrument.
func (p *page) transpose() {
	in := p.Instrument
	p.sounds, p.own, p.reading = p.line.Sounds, *p.line, AsWritten
	switch by := p.line.Sounds.Add(in.Sounds.Neg()); {
	case by == theory.Unison:
	case p.line.Sounds == theory.Unison && p.line.Measures[0].Clef != nil && *p.line.Measures[0].Clef == in.Clef:
		p.sounds, p.reading = in.Sounds, NotSaid
	default:
		p.own, p.reading = score.Transpose(*p.line, by), Transposed
	}
}

// in lists the onsets of measure i.
func (p *page) in(i int) []figure.Onset { return p.onsets[p.first[i]:p.first[i+1]] }

func (p *page) number(i int) int { return p.line.Measures[i].Number }

func (p *page) note(o figure.Onset) *score.Note { return &p.line.Measures[o.Measure].Notes[o.Note] }

// at reports where the onset stands in its measure; see inFull.
func (p *page) at(o figure.Onset) rhythm.Offset { return p.inFull(o.Measure, p.note(o).At) }

// inFull reports a place of measure i, in a pickup as in the full measure that it ends.
func (p *page) inFull(i int, at rhythm.Offset) rhythm.Offset {
	m := &p.line.Measures[i]
	if full := p.meters[i].Measure(); m.Implicit && i == 0 && m.Length < full {
		at = at.Add(full - m.Length)
	}
	return at
}

// seconds reports how long so much of measure i lasts.
func (p *page) seconds(i int, d rhythm.Duration) float64 {
	return float64(d) / float64(rhythm.Quarter) * float64(p.micros[i]) / 1e6
}
