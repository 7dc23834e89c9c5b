package musicxml

import (
	"slices"
	"strconv"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A pieceReader takes all that sounds in one part.
type pieceReader struct {
	partReader
	id           string
	all          []rawPiece
	now          *rawPiece // the measure under way
	instruments  instruments
	sounds       theory.Interval // from written to sounding, as it stands
	written      theory.Key
	moded        bool
	staves       int
	micros       int               // the tempo before, 0 for none
	endings      []int             // of the bracket that is open
	slurs        map[string]string // open slurs by number, with their voice
	free         bool              // no meter
	line         *score.Part
	lineWarnings []Warning
	lineClefs    []PlacedClef
}

// A rawPiece is one measure of one part.
type rawPiece struct {
	number         int
	label          string
	implicit, free bool
	meter          *rhythm.Meter // new
	key            theory.Key    // concert, in force
	length         rhythm.Duration
	notes          []PieceNote
	dynamics       []score.Dynamic
	hairpins       []score.Hairpin
	chords         []PieceChord
	tempos         []PieceTempo
	tempoWord      string
	rehearsal      string
	signs          signs
}

func newPieceReader(head partHead) *pieceReader {
	return &pieceReader{partReader: *newPartReader(head), id: head.id, staves: 1, slurs: map[string]string{},
		instruments: readInstruments(head.name, head.info)}
}

// measure takes one measure element.
func (p *pieceReader) measure(e *element) error {
	before := 0
	if i := len(p.all) - 1; i >= 0 {
		before = p.all[i].number
	}
	p.all = append(p.all, rawPiece{label: e.attr("number"), key: p.written.Transpose(p.sounds), free: p.free})
	p.now = &p.all[len(p.all)-1]
	p.m = &rawMeasure{label: p.now.label}
	p.now.number, p.now.implicit = numberOf(e, before)
	p.now.signs.endings = p.endings
	p.start()
	for _, k := range e.kids {
		if err := p.inMeasure(k); err != nil {
			return placed(p.now.label, k.atLine(err))
		}
	}
	p.now.length = p.end
	slices.SortStableFunc(p.now.notes, func(a, b PieceNote) int { return int(a.At - b.At) })
	return nil
}

func (p *pieceReader) inMeasure(e *element) error {
	switch e.name {
	case "note":
		return p.note(e)
	case "backup":
		_, err := p.move(e.word("duration"), -1)
		return err
	case "forward":
		_, err := p.move(e.word("duration"), 1)
		return err
	case "attributes":
		return p.attributes(e)
	case "direction":
		p.direction(e)
	case "harmony":
		p.harmony(e)
	case "sound":
		p.sound(e, p.at)
	case "barline":
		p.barline(e)
	}
	return nil
}

func (p *pieceReader) attributes(e *element) error {
	for _, k := range e.kids {
		switch k.name {
		case "divisions":
			if err := p.divide(k.text); err != nil {
				return err
			}
		case "staves":
			if n, err := strconv.Atoi(strings.TrimSpace(k.text)); err == nil {
				p.staves = max(p.staves, n)
			}
		case "key":
			p.key(k)
		case "time":
			if err := p.time(k); err != nil {
				return err
			}
		case "transpose":
			if err := p.transposition(k); err != nil {
				return err
			}
		}
	}
	return nil
}

// key takes a key; one on a staff other than the first is passed over, for the pitches
// bear their alterations.
func (p *pieceReader) key(e *element) {
	if n := e.attr("number"); n != "" && n != "1" {
		return
	}
	fifths, err := strconv.Atoi(e.word("fifths"))
	if err != nil {
		fifths = 0
	}
	if fifths < -7 || fifths > 7 {
		fifths = enharmonic(fifths)
	}
	p.written = theory.Key{Fifths: fifths}
	switch e.word("mode") {
	case "minor":
		p.written.Mode, p.moded = theory.Minor, true
	case "major":
		p.moded = true
	}
	p.concert()
}

// concert settles the key as it sounds, from the start of the measure on.
func (p *pieceReader) concert() {
	if p.at > 0 {
		return
	}
	k := p.written.Transpose(p.sounds)
	if k.Fifths < -7 || k.Fifths > 7 {
		k.Fifths = enharmonic(k.Fifths)
	}
	p.now.key = k
}

func (p *pieceReader) time(e *element) error {
	if n := e.attr("number"); n != "" && n != "1" {
		return nil
	}
	if p.free = e.has("senza-misura"); p.free {
		p.now.free = true
		p.warn("music without a meter is counted in quarters")
		return nil
	}
	var reader partReader // its rules of what is a meter
	reader.m = &rawMeasure{}
	if err := reader.time(e, ""); err != nil {
		return err
	}
	var m score.Measure
	reader.m.signs[0].take(&m)
	for m.Meter.Unit > 32 { // as fine as a take counts
		m.Meter.Beats, m.Meter.Unit = (m.Meter.Beats+1)/2, m.Meter.Unit/2
	}
	p.now.meter, p.now.free = m.Meter, false
	return nil
}

func (p *pieceReader) transposition(e *element) error {
	if n := e.attr("number"); n != "" && n != "1" {
		return nil
	}
	var reader partReader
	if err := reader.transpose(e); err != nil {
		return err
	}
	p.sounds = *reader.sounds
	p.concert()
	return nil
}

// part is the part as it is handed on, with as many measures as the piece.
func (p *pieceReader) part(measures []PieceMeasure) PiecePart {
	n := len(measures)
	out := PiecePart{
		ID: p.id, Name: p.name, Instruments: p.instruments.settled(p.staves), Staves: p.staves, Moded: p.moded, Line: p.line, LineWarnings: p.lineWarnings, Clefs: p.lineClefs,
		Keys: make([]theory.Key, n), Notes: make([][]PieceNote, n), Dynamics: make([][]score.Dynamic, n), Hairpins: make([][]score.Hairpin, n),
		Chords: make([][]PieceChord, n),
	}
	var key theory.Key
	for i := range n {
		if i < len(p.all) {
			m := &p.all[i]
			key = m.key
			out.Notes[i], out.Dynamics[i], out.Hairpins[i], out.Chords[i] = m.notes, m.dynamics, m.hairpins, m.chords
		}
		out.Keys[i] = key
	}
	return out
}
