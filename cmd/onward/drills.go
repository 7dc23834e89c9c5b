package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/score"
)

// drilled is what a player has drilled: the figures, and the lines that no read may copy.
type drilled struct {
	vocabulary figure.Vocabulary
	drills     []journal.Drill
	lines      []compose.Line
	parts      []*score.Part // of exercises, to be learned together
	lesson     figure.Lesson // what they hold
}

// A drillReader reads what was drilled. A line that a second ending begins takes along as
// many notes as the longest run compared has.
type drillReader struct {
	ctx       context.Context
	catalogue *figure.Catalogue
	journal   *journal.Journal
	back      int
	warn      io.Writer
	now       func() time.Time
	track     string // of MIDI files; "" for the highest voice
	choice    string // of the parts of MusicXML files; "" for those of one player
	tracks    int    // MIDI files so far
	scores    int    // MusicXML files so far
}

// all reads and merges what the names of --figures mean; nil for no names. Exercises are
// learned together, after what was saved.
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
		d.add(one)
	}
	r.learn(&d)
	return &d, nil
}

// add takes in what another name stands for.
func (d *drilled) add(one *drilled) {
	d.vocabulary = d.vocabulary.Merge(one.vocabulary)
	d.drills = append(d.drills, one.drills...)
	d.lines = append(d.lines, one.lines...)
	d.parts = append(d.parts, one.parts...)
}

// manyNotes take over a second to learn.
const manyNotes = 10_000

// learn finds the figures of the exercises and adds them to the vocabulary.
func (r *drillReader) learn(d *drilled) {
	if n := d.notes(); n > manyNotes {
		fmt.Fprintf(r.warn, "finding the figures of %d notes\n", n)
	}
	if len(d.parts) > 0 {
		d.lesson = r.catalogue.Study(d.parts...)
		d.vocabulary = d.vocabulary.Merge(d.lesson.Vocabulary)
	}
}

// one reads a vocabulary file, drilled exercises, what was saved under a name, or all that
// is known.
func (r *drillReader) one(name string) (*drilled, error) {
	switch {
	case strings.HasSuffix(name, ".toml"):
		text, err := userfile.Read(r.ctx, name, userfile.MaxVocabulary)
		if err != nil {
			return nil, unreadable("vocabulary", name, err)
		}
		v, err := r.catalogue.ReadVocabulary(bytes.NewReader(text), name)
		return &drilled{vocabulary: v}, asked(err, "")
	case strings.ContainsAny(name, `/\.`):
		return r.exercises(name)
	}
	if name == knownFigures {
		return r.known()
	}
	return r.saved(name)
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
