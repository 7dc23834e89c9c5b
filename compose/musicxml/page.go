package musicxml

import (
	"bytes"
	"encoding/xml"
	"strings"
)

// A page is an XML text under way, indented by two spaces a level.
type page struct {
	text bytes.Buffer
	in   []string // names of the open elements
}

// attr is the attributes of an element, name and value in turn.
type attr []string

func (p *page) tag(name string, attrs attr, end string) {
	p.text.WriteString(strings.Repeat("  ", len(p.in)))
	p.text.WriteByte('<')
	p.text.WriteString(name)
	for i := 0; i+1 < len(attrs); i += 2 {
		p.text.WriteString(" " + attrs[i] + `="`)
		p.escape(attrs[i+1])
		p.text.WriteByte('"')
	}
	p.text.WriteString(end)
}

func (p *page) escape(s string) {
	_ = xml.EscapeText(&p.text, []byte(s)) // writing to a buffer cannot fail
}

// open begins an element that holds others; end closes it.
func (p *page) open(name string, attrs ...string) {
	p.tag(name, attrs, ">\n")
	p.in = append(p.in, name)
}

// end closes the innermost open element.
func (p *page) end() {
	name := p.in[len(p.in)-1]
	p.in = p.in[:len(p.in)-1]
	p.text.WriteString(strings.Repeat("  ", len(p.in)) + "</" + name + ">\n")
}

// leaf writes an element that holds text.
func (p *page) leaf(name, text string, attrs ...string) {
	p.tag(name, attrs, ">")
	p.escape(text)
	p.text.WriteString("</" + name + ">\n")
}

// empty writes an element that holds nothing.
func (p *page) empty(name string, attrs ...string) { p.tag(name, attrs, "/>\n") }
