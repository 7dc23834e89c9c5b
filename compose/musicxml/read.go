package musicxml

import (
	"fmt"
	"io"
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
	doc, err := readLines(text)
	if err != nil {
		return nil, nil, err
	}
	return &doc.score, doc.warnings, nil
}
