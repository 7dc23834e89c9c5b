package musicxml

import (
	"fmt"
	"io"
	"strconv"

	"onward/compose/score"
	"onward/rhythm"
)

// identityField is the name under which a score's identity stands in its file.
const identityField = "onward-identity"

const prolog = `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
`

// Write writes the score as a MusicXML 4.0 partwise document. The same score gives
// the same bytes: no date is written. Stem directions are left to the engraver. The
// score should pass score.Check, which Write does not ask. It fails when w fails, or
// when the score has no part.
//
// A final barline beside a backward repeat is one sign on the page, so FinalBar is
// not kept where RepeatEnd is set.
func Write(w io.Writer, s *score.Score) error {
	if len(s.Parts) == 0 {
		return fmt.Errorf("musicxml: the score %q has no part to write", s.Title)
	}
	var p page
	p.text.WriteString(prolog)
	p.open("score-partwise", "version", "4.0")
	heading(&p, s)
	defaults(&p)
	credits(&p, s)
	partList(&p, s)
	for i := range s.Parts {
		writePart(&p, &s.Parts[i], partID(i))
	}
	p.end()
	if _, err := w.Write(p.text.Bytes()); err != nil {
		return fmt.Errorf("musicxml: %w", err)
	}
	return nil
}

func partID(i int) string { return "P" + strconv.Itoa(i+1) }

func heading(p *page, s *score.Score) {
	if s.Title != "" {
		p.open("work")
		p.leaf("work-title", s.Title)
		p.end()
	}
	p.open("identification")
	if s.Composer != "" {
		p.leaf("creator", s.Composer, "type", "composer")
	}
	p.open("encoding")
	p.leaf("software", "Onward")
	p.empty("supports", "element", "accidental", "type", "yes")
	p.empty("supports", "element", "beam", "type", "yes")
	p.empty("supports", "element", "print", "attribute", "new-system", "type", "yes", "value", "yes")
	p.empty("supports", "element", "stem", "type", "no")
	p.end()
	if s.Identity != "" {
		p.open("miscellaneous")
		p.leaf("miscellaneous-field", s.Identity, "name", identityField)
		p.end()
	}
	p.end()
}

// The page is A4, measured in tenths of a staff space: a staff of 40 tenths is 7 mm
// high, so 297 by 210 mm are 1697 by 1200 tenths, and a margin of 15 mm is 86.
const (
	pageHeight = 1697
	pageWidth  = 1200
	pageMargin = 86
)

func defaults(p *page) {
	p.open("defaults")
	p.open("scaling")
	p.leaf("millimeters", "7")
	p.leaf("tenths", "40")
	p.end()
	p.open("page-layout")
	p.leaf("page-height", strconv.Itoa(pageHeight))
	p.leaf("page-width", strconv.Itoa(pageWidth))
	p.open("page-margins", "type", "both")
	for _, side := range []string{"left", "right", "top", "bottom"} {
		p.leaf(side+"-margin", strconv.Itoa(pageMargin))
	}
	p.end()
	p.end()
	p.end()
}

// credits writes the title, the subtitle and the composer where they stand on the
// first page.
func credits(p *page, s *score.Score) {
	top := pageHeight - pageMargin
	credit := func(kind, text string, x, y int, justify, size string) {
		if text == "" {
			return
		}
		p.open("credit", "page", "1")
		p.leaf("credit-type", kind)
		p.leaf("credit-words", text, "default-x", strconv.Itoa(x), "default-y", strconv.Itoa(y),
			"justify", justify, "valign", "top", "font-size", size)
		p.end()
	}
	credit("title", s.Title, pageWidth/2, top, "center", "22")
	credit("subtitle", s.Subtitle, pageWidth/2, top-58, "center", "12")
	credit("composer", s.Composer, pageWidth-pageMargin, top-88, "right", "10")
}

func partList(p *page, s *score.Score) {
	p.open("part-list")
	for i := range s.Parts {
		part, id := &s.Parts[i], partID(i)
		p.open("score-part", "id", id)
		p.leaf("part-name", part.Name)
		if part.Abbreviation != "" {
			p.leaf("part-abbreviation", part.Abbreviation)
		}
		p.open("score-instrument", "id", id+"-I1")
		p.leaf("instrument-name", part.Name)
		p.end()
		p.open("midi-instrument", "id", id+"-I1")
		p.leaf("midi-channel", strconv.Itoa(channel(i)))
		p.leaf("midi-program", strconv.Itoa(part.Program+1)) // MusicXML counts programs from 1
		p.end()
		p.end()
	}
	p.end()
}

// channel reports the MIDI channel of part i as MusicXML counts them, 1 to 16, 10
// left to percussion.
func channel(i int) int {
	c := i%15 + 1
	if c >= 10 {
		c++
	}
	return c
}

// divisionsOf reports the smallest number of divisions of a quarter in which every
// duration and every place of the part is a whole number.
func divisionsOf(part *score.Part) int64 {
	unit := int64(rhythm.Quarter)
	take := func(ticks int64) {
		for ticks != 0 {
			unit, ticks = ticks, unit%ticks
		}
	}
	for i := range part.Measures {
		m := &part.Measures[i]
		for _, n := range m.Notes {
			take(int64(n.Duration(m)))
			take(int64(n.At))
		}
		for _, d := range m.Dynamics {
			take(int64(d.At))
		}
		for _, h := range m.Hairpins {
			take(int64(h.At))
		}
	}
	return int64(rhythm.Quarter) / unit
}
