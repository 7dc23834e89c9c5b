package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"strings"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
)

// drilled is what a player has drilled: the figures, and the lines that no read may copy.
type drilled struct {
	vocabulary figure.Vocabulary
	drills     []journal.Drill
	lines      []compose.Line
}

// A drillReader reads what was drilled. A line that a second ending begins takes along as
// many notes as the longest run compared has.
type drillReader struct {
	ctx       context.Context
	catalogue *figure.Catalogue
	journal   *journal.Journal
	back      int
	warn      io.Writer
}

// all reads and merges what the names of --figures mean; nil for no names.
func (r *drillReader) all(names []string) (*drilled, error) {
	if len(names) == 0 {
		return nil, nil
	}
	var d drilled
	for _, name := range names {
		one, err := r.one(name)
		if err != nil {
			return nil, err
		}
		d.vocabulary = d.vocabulary.Merge(one.vocabulary)
		d.drills = append(d.drills, one.drills...)
		d.lines = append(d.lines, one.lines...)
	}
	return &d, nil
}

// one reads a vocabulary file, drilled exercises, or what was saved under a name.
func (r *drillReader) one(name string) (*drilled, error) {
	switch {
	case strings.HasSuffix(name, ".toml"):
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, unreadable("vocabulary", name, err)
		}
		v, err := r.catalogue.ReadVocabulary(bytes.NewReader(text), name)
		return &drilled{vocabulary: v}, asked(err, "")
	case strings.ContainsAny(name, `/\.`):
		return r.exercises(name)
	}
	return r.saved(name)
}

// exercises learns a MusicXML file.
func (r *drillReader) exercises(name string) (*drilled, error) {
	s, err := r.openScore(name)
	if err != nil {
		return nil, err
	}
	var d drilled
	var parts []*score.Part
	for i := range s.Parts {
		p := &s.Parts[i]
		parts = append(parts, p)
		lines := compose.Lines(p, r.back)
		d.lines = append(d.lines, lines...)
		title := s.Title
		if title == "" {
			title = name
		}
		if len(s.Parts) > 1 {
			title += ", " + p.Name
		}
		d.drills = append(d.drills, journal.Drill{Title: title, Melody: encodeLines(lines)})
	}
	d.vocabulary = r.catalogue.Learn(parts...)
	return &d, nil
}

// openScore reads a MusicXML file and says what of it was left out.
func (r *drillReader) openScore(name string) (*score.Score, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, unreadable("exercises", name, err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, unreadable("exercises", name, err)
	}
	if info.IsDir() {
		return nil, askedf("exercises %s: this is a folder: give a MusicXML file in it", name)
	}
	s, warnings, err := musicxml.ReadFile(name, f, info.Size())
	if err != nil {
		return nil, asked(err, "give a MusicXML file (.musicxml, .xml or .mxl), or a vocabulary (.toml)")
	}
	for _, w := range warnings {
		fmt.Fprintln(r.warn, w)
	}
	return s, nil
}

// saved finds what was saved under a name.
func (r *drillReader) saved(name string) (*drilled, error) {
	v, err := r.journal.Vocabulary(r.ctx, name)
	if err != nil {
		return nil, err
	}
	d := drilled{drills: v.Drills}
	if d.vocabulary, err = r.catalogue.ReadVocabulary(bytes.NewReader(v.Sheet), "vocabulary "+name); err != nil {
		return nil, asked(err, "learn it again: onward learn FILE --save "+name)
	}
	for _, each := range v.Drills {
		lines, err := decodeLines(each.Melody)
		if err != nil {
			return nil, askedf("vocabulary %s, %s: %v: learn it again: onward learn FILE --save %s", name, each.Title, err, name)
		}
		d.lines = append(d.lines, lines...)
	}
	return &d, nil
}
