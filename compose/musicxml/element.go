package musicxml

import (
	"encoding/xml"
	"fmt"
	"strings"
)

// An element is one XML element with what is in it.
type element struct {
	name  string
	attrs []xml.Attr
	text  string
	kids  []*element
}

// attr reports an attribute's value, "" where there is none.
func (e *element) attr(name string) string {
	for _, a := range e.attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// kid reports the first child of the name, or an empty element that stands for none.
func (e *element) kid(name string) *element {
	for _, k := range e.kids {
		if k.name == name {
			return k
		}
	}
	return &element{}
}

// has reports whether there is a child of the name.
func (e *element) has(name string) bool { return e.kid(name).name != "" }

// all reports the children of the name.
func (e *element) all(name string) []*element {
	var list []*element
	for _, k := range e.kids {
		if k.name == name {
			list = append(list, k)
		}
	}
	return list
}

// word reports the text of the first child of the name, trimmed.
func (e *element) word(name string) string { return strings.TrimSpace(e.kid(name).text) }

// A parser takes a document apart, element by element.
type parser struct {
	*xml.Decoder
	depth int
}

// next reports the next child of the element that was opened last, its tag only; nil
// at that element's end.
func (p *parser) next() (*element, error) {
	for {
		token, err := p.Token()
		if err != nil {
			return nil, p.broken(err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if p.depth++; p.depth > maxDepth {
				return nil, fmt.Errorf("more than %d elements inside each other", maxDepth)
			}
			return &element{name: t.Name.Local, attrs: t.Copy().Attr}, nil
		case xml.EndElement:
			p.depth--
			return nil, nil
		case xml.Directive:
			if strings.Contains(string(t), "<!ENTITY") {
				return nil, fmt.Errorf("the file defines entities of its own; save it without them")
			}
		}
	}
}

// whole reads what is in the element that was opened last, to its end.
func (p *parser) whole(e *element) error {
	var text strings.Builder
	for {
		token, err := p.Token()
		if err != nil {
			return p.broken(err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if p.depth++; p.depth > maxDepth {
				return fmt.Errorf("more than %d elements inside each other", maxDepth)
			}
			kid := &element{name: t.Name.Local, attrs: t.Copy().Attr}
			if err := p.whole(kid); err != nil {
				return err
			}
			e.kids = append(e.kids, kid)
		case xml.CharData:
			if len(e.kids) == 0 {
				text.Write(t)
			}
		case xml.EndElement:
			p.depth--
			if len(e.kids) == 0 {
				e.text = text.String()
			}
			return nil
		}
	}
}

func (p *parser) broken(err error) error {
	line, _ := p.InputPos()
	return fmt.Errorf("line %d: not well-formed XML: %w", line, err)
}
