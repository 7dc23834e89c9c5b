package musicxml

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"strings"
)

// An element is one XML element with what is in it.
type element struct {
	name  string
	attrs []attribute
	text  string
	kids  []*element
	line  int // of the file, from 1
}

type attribute struct{ name, value string }

// attr reports an attribute's value, "" where there is none.
func (e *element) attr(name string) string {
	for _, a := range e.attrs {
		if a.name == name {
			return a.value
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

// atLine adds the element's line to an error.
func (e *element) atLine(err error) error { return fmt.Errorf("%w (line %d)", err, e.line) }

// A parser takes a document apart, element by element.
type parser struct {
	*xml.Decoder
	guard    *guard
	depth    int
	elements int
	cut      int // texts that were longer than maxString
}

func newParser(text []byte) parser {
	g := &guard{Reader: bytes.NewReader(inUTF8(text))}
	return parser{Decoder: guarded(g), guard: g}
}

// token reports the next token; its error says the line.
func (p *parser) token() (xml.Token, error) {
	p.guard.run = 0
	token, err := p.Token()
	if err != nil {
		return nil, p.broken(err)
	}
	if d, is := token.(xml.Directive); is && bytes.Contains(bytes.ToUpper(d), []byte("<!ENTITY")) {
		return nil, fmt.Errorf("the file defines entities of its own; save it without them")
	}
	return token, nil
}

// opened makes an element of its tag.
func (p *parser) opened(t xml.StartElement) (*element, error) {
	line, _ := p.InputPos()
	p.depth++
	p.elements++
	switch {
	case p.depth > maxDepth:
		return nil, fmt.Errorf("line %d: more than %d elements inside each other", line, maxDepth)
	case p.elements > maxElements:
		return nil, fmt.Errorf("line %d: more than %d elements", line, maxElements)
	case len(t.Attr) > maxAttrs:
		return nil, fmt.Errorf("line %d: <%s> has more than %d attributes", line, p.short(t.Name.Local), maxAttrs)
	}
	e := &element{name: p.short(t.Name.Local), line: line}
	if len(t.Attr) > 0 {
		e.attrs = make([]attribute, len(t.Attr))
	}
	for i, a := range t.Attr {
		e.attrs[i] = attribute{p.short(a.Name.Local), p.short(a.Value)}
	}
	return e, nil
}

// short cuts a text that is too long.
func (p *parser) short(text string) string {
	if len(text) <= maxString {
		return text
	}
	p.cut++
	return strings.Clone(strings.ToValidUTF8(text[:maxString], ""))
}

// next reports the next child of the element that was opened last, its tag only; nil
// at that element's end.
func (p *parser) next() (*element, error) {
	for {
		token, err := p.token()
		if err != nil {
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			return p.opened(t)
		case xml.EndElement:
			p.depth--
			return nil, nil
		}
	}
}

// whole reads what is in the element that was opened last, to its end.
func (p *parser) whole(e *element) error {
	var text strings.Builder
	for {
		token, err := p.token()
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.StartElement:
			kid, err := p.opened(t)
			if err != nil {
				return err
			}
			if err := p.whole(kid); err != nil {
				return err
			}
			e.kids = append(e.kids, kid)
		case xml.CharData:
			if len(e.kids) == 0 && text.Len() <= maxString {
				text.Write(t)
			}
		case xml.EndElement:
			p.depth--
			if len(e.kids) == 0 {
				e.text = p.short(text.String())
			}
			return nil
		}
	}
}

func (p *parser) broken(err error) error {
	line, _ := p.InputPos()
	if errors.Is(err, errToken) {
		return fmt.Errorf("line %d: a tag or text of more than %d bytes", line, maxToken)
	}
	return fmt.Errorf("line %d: not well-formed XML: %.200s", line, err)
}
