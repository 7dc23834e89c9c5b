package musicxml

import (
	"fmt"
	"strings"

	"onward/compose/score"
)

// A document is a file under way.
type document struct {
	parser
	score    score.Score         // its heading
	names    map[string]*element // score-part by id
	parts    int
	measures int // of the longest part
	warnings []Warning
}

// A taker takes one part's measures one by one, then is told that they are through. An
// error of either ends the reading.
type taker interface {
	measure(e *element) error
	done() error
}

// A partHead is what stands of a part ahead of the music.
type partHead struct {
	id, name string   // the name, or the id where there is none
	info     *element // its score-part
}

// read goes through a document, partwise or timewise; begin makes what takes a part.
func (d *document) read(begin func(partHead) taker) error {
	root, err := d.root()
	if err != nil {
		return err
	}
	d.names = map[string]*element{}
	var turned timewise
	for {
		e, err := d.next()
		switch {
		case err != nil:
			return err
		case e == nil:
			if d.cut > 0 {
				d.warnings = append(d.warnings, Warning{Times: d.cut, Text: fmt.Sprintf("a text of more than %d bytes was cut", maxString)})
			}
			return turned.hand(d, begin)
		case e.name == "part" && root == "score-partwise":
			err = d.part(e.attr("id"), begin, d.inPart)
		default:
			if err = d.whole(e); err == nil && e.name == "measure" && root == "score-timewise" {
				err = turned.take(e)
			}
			d.heading(e)
		}
		if err != nil {
			return err
		}
	}
}

// root opens the score.
func (d *document) root() (string, error) {
	root, err := d.next()
	switch {
	case err != nil:
		return "", err
	case root == nil || root.name != "score-partwise" && root.name != "score-timewise":
		name := ""
		if root != nil {
			name = root.name
		}
		return "", fmt.Errorf("the file is not MusicXML: its root is <%.40s>, not <score-partwise>", name)
	}
	return root.name, nil
}

// part hands the measures that next reports, up to nil, to a taker of the part.
func (d *document) part(id string, begin func(partHead) taker, next func() (*element, error)) error {
	if d.parts++; d.parts > maxParts {
		return fmt.Errorf("more than %d parts", maxParts)
	}
	head := partHead{id: id, name: id, info: d.names[id]}
	if head.info == nil {
		head.info = &element{}
	}
	if name := oneLine(head.info.word("part-name")); name != "" {
		head.name = name
	}
	inPart := func(err error) error { return fmt.Errorf("part %.100s: %w", head.name, err) }
	t := begin(head)
	var repeats measureRepeats
	for count := 1; ; count++ {
		e, err := next()
		switch {
		case err != nil:
			return inPart(err)
		case e == nil:
			if repeats.times > 0 {
				d.warnings = append(d.warnings, Warning{Part: head.name, Measure: repeats.first, Times: repeats.times,
					Text: "a sign that repeats measures was read as the measures before it"})
			}
			return t.done()
		case count > maxMeasures:
			return inPart(fmt.Errorf("more than %d measures", maxMeasures))
		}
		if d.measures = max(d.measures, count); d.measures*d.parts > maxAll {
			return inPart(fmt.Errorf("more than %d measures in all parts", maxAll))
		}
		if err := t.measure(repeats.fill(e)); err != nil {
			return inPart(err)
		}
	}
}

// inPart reports the next measure of the part that is open.
func (d *document) inPart() (*element, error) {
	for {
		e, err := d.next()
		if err != nil || e == nil {
			return nil, err
		}
		if err := d.whole(e); err != nil {
			return nil, placed(e.attr("number"), err)
		}
		if e.name == "measure" {
			return e, nil
		}
	}
}

// A timewise score is turned into parts: measures hold what each part has in them.
type timewise struct {
	ids   []string
	parts map[string][]*element // measures by part
}

// take takes a measure of all parts.
func (t *timewise) take(e *element) error {
	if t.parts == nil {
		t.parts = map[string][]*element{}
	}
	for _, p := range e.all("part") {
		id := p.attr("id")
		if _, known := t.parts[id]; !known {
			if t.ids = append(t.ids, id); len(t.ids) > maxParts {
				return fmt.Errorf("more than %d parts", maxParts)
			}
		}
		t.parts[id] = append(t.parts[id], &element{name: "measure", attrs: e.attrs, kids: p.kids, line: p.line})
	}
	return nil
}

// hand hands the parts on, one by one.
func (t *timewise) hand(d *document, begin func(partHead) taker) error {
	for _, id := range t.ids {
		left := t.parts[id]
		err := d.part(id, begin, func() (*element, error) {
			if len(left) == 0 {
				return nil, nil
			}
			e := left[0]
			left = left[1:]
			return e, nil
		})
		if err != nil {
			return err
		}
	}
	return nil
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

// oneLine brings a text that stands on several lines onto one.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }
