package musicxml

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"onward/compose/score"
)

// A Warning says what in a file was read otherwise than it stands there.
type Warning struct {
	File    string // "" from Read
	Part    string // the part's name or id
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
	b.WriteString(w.Part)
	if w.Measure != "" {
		b.WriteString(", measure " + w.Measure)
	}
	b.WriteString(": " + w.Text)
	if w.Times > 1 {
		fmt.Fprintf(&b, " (%d times)", w.Times)
	}
	return b.String()
}

// Read reads a MusicXML partwise document: those of Write exactly, and ordinary parts
// by other programs. Each part becomes one line: of several voices, staves and chords
// the top is taken, and a warning says so; a warning names all else that was left out
// or read otherwise. Pitch stays as written, with the transposition beside it. A part
// that cannot be read is left out with a warning.
//
// It fails, naming part and measure, where no part can be read, where the document is
// not MusicXML partwise or not well-formed, defines entities, or passes 64 MB.
func Read(r io.Reader) (*score.Score, []Warning, error) {
	text, err := readAll(r, maxSize)
	if err != nil {
		return nil, nil, err
	}
	return read(text)
}

func read(text []byte) (*score.Score, []Warning, error) {
	d := xml.NewDecoder(bytes.NewReader(inUTF8(text)))
	d.CharsetReader = charset
	doc := document{parser: parser{Decoder: d}, names: map[string]*element{}}
	if err := doc.root(); err != nil {
		return nil, nil, err
	}
	if err := doc.read(); err != nil {
		return nil, nil, err
	}
	if len(doc.score.Parts) == 0 {
		if doc.refused != nil {
			return nil, nil, doc.refused
		}
		return nil, nil, fmt.Errorf("the score has no part with music in it")
	}
	return &doc.score, doc.warnings, nil
}

// root opens the score.
func (d *document) root() error {
	root, err := d.next()
	switch {
	case err != nil:
		return err
	case root == nil || root.name == "score-timewise":
		return fmt.Errorf("the score is timewise; save it as MusicXML partwise, as most programs do")
	case root.name != "score-partwise":
		return fmt.Errorf("the file is not MusicXML: its root is <%s>, not <score-partwise>", root.name)
	}
	return nil
}

// A document is a file under way.
type document struct {
	parser
	score    score.Score
	names    map[string]*element // score-part by id
	parts    int
	warnings []Warning
	refused  error // why the first part that could not be read could not
}

func (d *document) read() error {
	for {
		e, err := d.next()
		if err != nil || e == nil {
			return err
		}
		if e.name == "part" {
			if d.parts++; d.parts > maxParts {
				return fmt.Errorf("more than %d parts", maxParts)
			}
			if err := d.part(e.attr("id")); err != nil {
				return err
			}
			continue
		}
		if err := d.whole(e); err != nil {
			return err
		}
		d.heading(e)
	}
}

// heading takes what stands ahead of the parts.
func (d *document) heading(e *element) {
	s := &d.score
	switch e.name {
	case "work":
		s.Title = e.word("work-title")
	case "movement-title":
		if s.Title == "" {
			s.Title = strings.TrimSpace(e.text)
		}
	case "identification":
		for _, c := range e.all("creator") {
			if c.attr("type") == "composer" && s.Composer == "" {
				s.Composer = strings.TrimSpace(c.text)
			}
		}
		for _, f := range e.kid("miscellaneous").all("miscellaneous-field") {
			if f.attr("name") == identityField {
				s.Identity = f.text
			}
		}
	case "credit":
		d.credit(e)
	case "part-list":
		for _, p := range e.all("score-part") {
			d.names[p.attr("id")] = p
		}
	}
}

func (d *document) credit(e *element) {
	text := strings.TrimSpace(e.word("credit-words"))
	switch e.word("credit-type") {
	case "title":
		if d.score.Title == "" {
			d.score.Title = text
		}
	case "subtitle":
		if d.score.Subtitle == "" {
			d.score.Subtitle = text
		}
	}
}

// part reads one part and takes it into the score, or says why not.
func (d *document) part(id string) error {
	p := partReader{id: id, name: id, divisions: 1}
	info := d.names[id]
	if info == nil {
		info = &element{}
	}
	if name := oneLine(info.word("part-name")); name != "" {
		p.name = name
	}
	var refused error
	for {
		e, err := d.next()
		if err != nil {
			return fmt.Errorf("part %s: %w", p.name, err)
		}
		if e == nil {
			break
		}
		if err := d.whole(e); err != nil {
			return fmt.Errorf("part %s, measure %s: %w", p.name, e.attr("number"), err)
		}
		if e.name == "measure" && refused == nil {
			refused = p.measure(e)
		}
	}
	part, refused := p.finish(refused)
	if refused != nil {
		d.refuse(p.name, refused)
		return nil
	}
	part.Name, part.Abbreviation = oneLine(info.word("part-name")), oneLine(info.word("part-abbreviation"))
	if program, err := strconv.Atoi(info.kid("midi-instrument").word("midi-program")); err == nil && program >= 1 && program <= 128 {
		part.Program = program - 1
	}
	d.score.Parts = append(d.score.Parts, part)
	d.warnings = append(d.warnings, p.warnings...)
	return nil
}

func (d *document) refuse(name string, err error) {
	if d.refused == nil {
		d.refused = fmt.Errorf("part %s: %w", name, err)
	}
	d.warnings = append(d.warnings, Warning{Part: name, Times: 1, Text: "the part was left out: " + err.Error()})
}

// oneLine brings a text that stands on several lines onto one.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
