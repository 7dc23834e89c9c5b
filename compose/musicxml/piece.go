package musicxml

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"onward/compose/score"
	"onward/rhythm"
	"onward/theory"
)

// A Piece is a printed score as it sounds: every part with all its voices, and the order
// in which its measures are played. Read makes written lines of a file; ReadPiece leaves
// the page aside and keeps what is heard.
type Piece struct {
	Title, Composer string
	Parts           []PiecePart // at least one
	Measures        []PieceMeasure
	Order           []Played // repeats, endings and jumps followed; at least one measure
	Warnings        []Warning
}

// A Played measure is one playing of a measure.
type Played struct {
	Index int // into Piece.Measures
	Pass  int // 1 the first time through, 2 on the repeat, in a second ending too
}

// A PieceMeasure is what one measure is to all parts.
type PieceMeasure struct {
	Number    int // printed; that of the measure before where it has none
	Label     string
	Implicit  bool            // not numbered on the page
	Length    rhythm.Duration // as long as its longest part, its meter's where all are empty
	Meter     rhythm.Meter    // in force
	Rehearsal string
	// Tempos are in order. The first measure has one at 0: where the file gives none it is
	// what the words at the start mean, else a quarter = 120, and Warnings say so.
	Tempos []PieceTempo
	signs  signs
}

// A PieceTempo is a tempo from At in its measure on.
type PieceTempo struct {
	At               rhythm.Offset
	MicrosPerQuarter int
}

// A PiecePart is one part with all that sounds in it.
type PiecePart struct {
	ID, Name    string
	Instruments []PieceInstrument // at least one; PieceNote.Instrument indexes them
	Staves      int
	Keys        []theory.Key // concert key in force in each measure
	// Moded says that the file tells major from minor.
	Moded    bool
	Notes    [][]PieceNote // of each measure, in order of At, grace notes ahead of theirs
	Dynamics [][]score.Dynamic
	Hairpins [][]score.Hairpin
	Chords   [][]PieceChord // chord symbols of each measure
	// Line is the part as one line (see Read), nil where it cannot be read as one; Sounds
	// is in it. LineWarnings say how it differs from the page, or why it is nil.
	Line         *score.Part
	LineWarnings []Warning
	// Clefs are those of the line's staff in order, where they stand on the page; the line
	// has one that changes inside a measure at the start of the next.
	Clefs []PlacedClef
}

// A PlacedClef is a clef that stands At in the measure.
type PlacedClef struct {
	Measure int // into Piece.Measures
	At      rhythm.Offset
	Clef    theory.Clef
}

// Sounding reports how many notes of the part sound, each tied note counted.
func (p *PiecePart) Sounding() int {
	n := 0
	for _, m := range p.Notes {
		n += len(m)
	}
	return n
}

// A PieceInstrument is what a part's notes are played with.
type PieceInstrument struct {
	ID, Name   string
	Program    int // General MIDI program, 0 to 127
	Percussion bool
}

// A PieceNote is one note that sounds.
type PieceNote struct {
	At         rhythm.Offset
	Length     rhythm.Duration // 0 for a grace note
	Key        uint8           // MIDI number as it sounds; of percussion what is struck
	Voice      string
	Instrument int
	Grace      bool
	Chord      bool  // a further member of the chord that the note before it belongs to
	Velocity   uint8 // 0 where the dynamics say it
	// Passes are the passes in which the note sounds; nil for all.
	Passes []int

	TieStart, TieStop                         bool
	Slurred                                   bool // joined to the next
	Staccato, Tenuto, Accent, Marcato, Breath bool
}

// ReadPiece reads a MusicXML document, partwise or timewise, by any program, to be played. What it does
// not know it passes over; what it plays otherwise than it stands there it says in
// Warnings. It fails, naming part and measure, on what makes the times or pitches of a part
// unknown, and where Read fails for the whole document.
func ReadPiece(r io.Reader) (*Piece, error) {
	text, err := readAll(r, maxSize)
	if err != nil {
		return nil, err
	}
	return readPiece(text)
}

// ReadPieceFile is ReadPiece for a file of any suffix; see ReadFile.
func ReadPieceFile(name string, r io.ReaderAt, size int64) (*Piece, error) {
	text, err := textOfFile(r, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	p, err := readPiece(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	inFile(p.Warnings, name)
	for i := range p.Parts {
		inFile(p.Parts[i].LineWarnings, name)
	}
	return p, nil
}

func readPiece(text []byte) (*Piece, error) {
	doc := pieceDocument{document: document{parser: newParser(text)}}
	err := doc.read(func(head partHead) taker {
		return &pieceTaker{doc: &doc, reader: newPieceReader(head), line: newPartReader(head)}
	})
	if err != nil {
		return nil, err
	}
	return doc.finish()
}

// A pieceDocument is a piece under way.
type pieceDocument struct {
	document
	piece   Piece
	readers []*pieceReader
}

// A pieceTaker reads one part twice over: as it sounds, and as one line.
type pieceTaker struct {
	doc     *pieceDocument
	reader  *pieceReader
	line    *partReader
	refused error // why it is no line
}

func (t *pieceTaker) measure(e *element) error {
	if t.refused == nil {
		t.refused = t.line.measure(e)
	}
	return t.reader.measure(e)
}

func (t *pieceTaker) done() error {
	part, err := t.line.finish(t.refused)
	if t.reader.lineWarnings = t.line.warnings; err != nil {
		t.reader.lineWarnings = append(t.reader.lineWarnings, Warning{Part: t.line.name, Times: 1, Text: "it cannot be read as one line: " + err.Error()})
	} else {
		part.Name = t.line.name
		t.reader.line, t.reader.lineClefs = &part, t.line.clefs
	}
	t.doc.readers = append(t.doc.readers, t.reader)
	return nil
}

// finish joins what the parts say.
func (d *pieceDocument) finish() (*Piece, error) {
	p := &d.piece
	p.Warnings = d.warnings
	p.Title, p.Composer = oneLine(d.score.Title), oneLine(d.score.Composer)
	most := 0
	for _, r := range d.readers {
		most = max(most, len(r.all))
	}
	if most == 0 {
		return nil, fmt.Errorf("the score has no part with music in it")
	}
	p.Measures = d.joined(most)
	d.opening()
	for _, r := range d.readers {
		p.Parts = append(p.Parts, r.part(p.Measures))
		p.Warnings = append(p.Warnings, r.warnings...)
	}
	var err error
	p.Order, err = unfold(p.Measures)
	return p, err
}

// joined settles what each measure is to all parts: its head from the first part that has
// it, the signs of all.
func (d *pieceDocument) joined(most int) []PieceMeasure {
	all := make([]PieceMeasure, most)
	meter := rhythm.Meter{Beats: 4, Unit: 4}
	for i := range all {
		m := &all[i]
		first := true
		free := false
		for _, r := range d.readers {
			if i >= len(r.all) {
				continue
			}
			raw := &r.all[i]
			if first {
				m.Number, m.Label, m.Implicit, first = raw.number, raw.label, raw.implicit, false
				if raw.meter != nil {
					meter = *raw.meter
				}
				free = raw.free
			}
			m.Length = max(m.Length, raw.length)
			m.Tempos = append(m.Tempos, raw.tempos...)
			m.signs.join(&raw.signs)
			if m.Rehearsal == "" {
				m.Rehearsal = raw.rehearsal
			}
		}
		m.Meter = meter
		if m.Length == 0 {
			m.Length = meter.Measure()
		}
		if free { // no meter: counted in quarters
			m.Meter = rhythm.Meter{Beats: int(min(255, (m.Length+rhythm.Quarter-1)/rhythm.Quarter)), Unit: 4}
		}
		m.Tempos = inOrder(m.Tempos)
	}
	return all
}

// inOrder sorts tempos, and keeps the first of those at one place.
func inOrder(tempos []PieceTempo) []PieceTempo {
	slices.SortStableFunc(tempos, func(a, b PieceTempo) int { return cmp.Compare(a.At, b.At) })
	return slices.CompactFunc(tempos, func(a, b PieceTempo) bool { return a.At == b.At })
}

// Part finds a part by its number, from 1, or by its name or id, in any case of letters; or
// by a piece of its name that no other part has.
func (p *Piece) Part(which string) (int, bool) {
	return choose(which, len(p.Parts), func(i int) (name, id string) { return p.Parts[i].Name, p.Parts[i].ID })
}

// choose finds one of n parts; see Piece.Part.
func choose(which string, n int, part func(int) (name, id string)) (int, bool) {
	which = oneLine(which)
	for i := range n {
		if fmt.Sprint(i+1) == which {
			return i, true
		}
	}
	if which == "" {
		return 0, false
	}
	for _, fits := range []func(name, id string) bool{
		func(name, id string) bool { return strings.EqualFold(name, which) || strings.EqualFold(id, which) },
		func(name, _ string) bool { return strings.Contains(strings.ToLower(name), strings.ToLower(which)) },
	} {
		var found []int
		for i := range n {
			if fits(part(i)) {
				found = append(found, i)
			}
		}
		if len(found) > 0 {
			return found[0], len(found) == 1
		}
	}
	return 0, false
}
