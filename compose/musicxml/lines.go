package musicxml

import (
	"errors"
	"fmt"
	"io"
	"strconv"

	"onward/compose/score"
)

// Lines are the parts of a file as Read reads them, with what tells whose each is.
type Lines struct {
	Title    string
	Parts    []Line // at least one, in the file's order; at least one of them was read
	Warnings []Warning
}

// A Line is one part of a file.
type Line struct {
	ID, Name    string // the name is the id where the file gives none
	Staves      int    // at least 1
	Instruments []PieceInstrument
	Unpitched   bool        // a part for percussion: it has notes, but none with a pitch
	Part        *score.Part // nil where it could not be read
}

// ReadLinesFile is ReadFile for one who chooses among the parts.
func ReadLinesFile(name string, r io.ReaderAt, size int64) (*Lines, error) {
	text, err := textOfFile(r, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	doc, err := readLines(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	inFile(doc.warnings, name)
	return &Lines{Title: doc.score.Title, Parts: doc.lines, Warnings: doc.warnings}, nil
}

// Choose finds a part by its number, from 1, or its name, as Piece.Part does.
func (l *Lines) Choose(which string) (int, bool) {
	return choose(which, len(l.Parts), func(i int) (name, id string) { return l.Parts[i].Name, l.Parts[i].ID })
}

// Percussion reports whether the part is for drums or for pitched percussion.
func (l *Line) Percussion() bool {
	if l.Unpitched {
		return true
	}
	for _, in := range l.Instruments {
		if in.Percussion {
			return true
		}
	}
	program, known := l.named()
	return known && (program >= glockenspiel && program <= dulcimer || program == timpani)
}

// Keyboard reports whether the part is for a keyboard or a harp: it stands on several
// staves, or is called so. A program alone does not tell, for many files have a piano's
// for whatever they do not know.
func (l *Line) Keyboard() bool {
	program, known := l.named()
	return l.Staves > 1 || known && (program <= celesta || program >= organ && program <= accordion || program == harp)
}

// named reports the program that the part's name tells, else its instrument's name.
func (l *Line) named() (program int, known bool) {
	if program, known = programOf(l.Name); !known && len(l.Instruments) > 0 {
		program, known = programOf(l.Instruments[0].Name)
	}
	return program, known
}

// A lineDocument is a file read part by part as lines.
type lineDocument struct {
	document
	lines   []Line
	refused error // why the first part that could not be read could not
}

// readLines fails where no part can be read.
func readLines(text []byte) (*lineDocument, error) {
	doc := lineDocument{document: document{parser: newParser(text)}}
	err := doc.read(func(head partHead) taker {
		return &lineTaker{doc: &doc, head: head, reader: newPartReader(head), staves: 1}
	})
	switch {
	case err != nil:
		return nil, err
	case len(doc.score.Parts) > 0:
		return &doc, nil
	case doc.refused != nil:
		return nil, doc.refused
	}
	return nil, fmt.Errorf("the score has no part with music in it")
}

// A lineTaker takes one part as a line into the document's score; one that cannot be read
// is left out.
type lineTaker struct {
	doc     *lineDocument
	head    partHead
	reader  *partReader
	staves  int
	refused error
}

func (t *lineTaker) measure(e *element) error {
	for _, a := range e.all("attributes") {
		if n, err := strconv.Atoi(a.word("staves")); err == nil {
			t.staves = max(t.staves, n)
		}
	}
	if t.refused == nil {
		t.refused = t.reader.measure(e)
	}
	return nil
}

func (t *lineTaker) done() error {
	d, info := t.doc, t.head.info
	instruments := readInstruments(t.head.name, info)
	line := Line{ID: t.head.id, Name: t.head.name, Staves: t.staves, Instruments: instruments.settled(t.staves)}
	part, err := t.reader.finish(t.refused)
	if err != nil {
		line.Unpitched = errors.Is(err, errUnpitched)
		d.lines = append(d.lines, line)
		if d.refused == nil {
			d.refused = fmt.Errorf("part %.100s: %w", line.Name, err)
		}
		d.warnings = append(d.warnings, Warning{Part: line.Name, Times: 1, Text: "the part was left out: " + err.Error()})
		return nil
	}
	part.Name, part.Abbreviation = oneLine(info.word("part-name")), oneLine(info.word("part-abbreviation"))
	if program, err := strconv.Atoi(info.kid("midi-instrument").word("midi-program")); err == nil && program >= 1 && program <= 128 {
		part.Program = program - 1
	}
	line.Part = &part
	d.lines = append(d.lines, line)
	d.score.Parts = append(d.score.Parts, part)
	d.warnings = append(d.warnings, t.reader.warnings...)
	return nil
}
