package musicxml

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"onward/compose/score"
)

// A Warning says what in a file was read otherwise than it stands there.
type Warning struct {
	File    string // "" from Read
	Part    string // the part's name or id; "" for the file as a whole
	Measure string // the number printed where it first happened; "" for the part as a whole
	Times   int    // how often it happened, at least 1
	Text    string
}

// String reports the warning as in "etude.xml: Piano, measure 3: chords: the top note
// was taken (12 times)".
func (w Warning) String() string {
	var b strings.Builder
	if w.File != "" {
		b.WriteString(w.File + ": ")
	}
	if b.WriteString(w.Part); w.Measure != "" {
		b.WriteString(", measure " + w.Measure)
	}
	if w.Part != "" {
		b.WriteString(": ")
	}
	b.WriteString(w.Text)
	if w.Times > 1 {
		fmt.Fprintf(&b, " (%d times)", w.Times)
	}
	return b.String()
}

// Read reads a MusicXML document, partwise or timewise: those of Write exactly, and
// parts by other programs. Each part becomes one line that has each measure once, in
// the order of the page: of several voices the first busy one, of a chord the top, and a
// warning says so; a warning names all else that was left out or read otherwise. Words stand
// at the start of a measure: those at its end are the next one's, but those that name a
// jump ("Fine", "D.C. al Fine") stay in theirs. Pitch
// stays as written, with the transposition beside it. A part that cannot be read is left
// out with a warning. What a part has that score.Check does not pass, a warning calls
// irregular; how others number measures, close and beam does not count.
//
// It fails, naming part, measure and line, where no part can be read, where the document
// is not MusicXML or not well-formed, defines entities, or passes a limit (limits.go):
// among them 64 MB, 400 parts, 10,000 measures and 200,000 notes in a part.
func Read(r io.Reader) (*score.Score, []Warning, error) {
	text, err := readAll(r, maxSize)
	if err != nil {
		return nil, nil, err
	}
	return read(text)
}

// ReadFile reads a MusicXML file of any suffix: plain XML, or the compressed form
// (.mxl), which is known by its first bytes. name stands in warnings and errors; size
// is the file's length in bytes. See Read.
func ReadFile(name string, r io.ReaderAt, size int64) (*score.Score, []Warning, error) {
	s, warnings, err := readFile(r, size)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	inFile(warnings, name)
	return s, warnings, nil
}

func inFile(warnings []Warning, name string) {
	for i := range warnings {
		warnings[i].File = name
	}
}

func readFile(r io.ReaderAt, size int64) (*score.Score, []Warning, error) {
	text, err := textOfFile(r, size)
	if err != nil {
		return nil, nil, err
	}
	return read(text)
}

func read(text []byte) (*score.Score, []Warning, error) {
	doc := document{parser: newParser(text)}
	var refused error // why the first part that could not be read could not
	err := doc.read(func(head partHead) taker {
		return &lineTaker{doc: &doc, refusal: &refused, head: head, reader: newPartReader(head)}
	})
	switch {
	case err != nil:
		return nil, nil, err
	case len(doc.score.Parts) > 0:
		return &doc.score, doc.warnings, nil
	case refused != nil:
		return nil, nil, refused
	}
	return nil, nil, fmt.Errorf("the score has no part with music in it")
}

// A lineTaker takes one part as a line into the document's score; one that cannot be read
// is left out.
type lineTaker struct {
	doc     *document
	refusal *error // of the first part
	head    partHead
	reader  *partReader
	refused error
}

func (t *lineTaker) measure(e *element) error {
	if t.refused == nil {
		t.refused = t.reader.measure(e)
	}
	return nil
}

func (t *lineTaker) done() error {
	d, name := t.doc, t.head.name
	part, err := t.reader.finish(t.refused)
	if err != nil {
		if *t.refusal == nil {
			*t.refusal = fmt.Errorf("part %.100s: %w", name, err)
		}
		d.warnings = append(d.warnings, Warning{Part: name, Times: 1, Text: "the part was left out: " + err.Error()})
		return nil
	}
	info := t.head.info
	part.Name, part.Abbreviation = oneLine(info.word("part-name")), oneLine(info.word("part-abbreviation"))
	if program, err := strconv.Atoi(info.kid("midi-instrument").word("midi-program")); err == nil && program >= 1 && program <= 128 {
		part.Program = program - 1
	}
	d.score.Parts = append(d.score.Parts, part)
	d.warnings = append(d.warnings, t.reader.warnings...)
	return nil
}
