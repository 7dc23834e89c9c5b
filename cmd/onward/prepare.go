package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/userfile"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/compose/survey"
)

const (
	figuresDrilled = 6 // on a page of drills
	readsPrepared  = 2
	// preparedName begins the names under which a part's figures are saved. They are not
	// drilled yet, and so no survey takes them for known unless they are named.
	preparedName = "prepare "
)

// A preparation is what --prepare wrote.
type preparation struct {
	studio *studio
	drills *files
	reads  []*made
	drafts []*files
	name   string // of the figures in the journal
}

// A preparationDocument says where it lies.
type preparationDocument struct {
	Drills  string   `json:"drills"`
	Reads   []string `json:"reads"`
	Figures string   `json:"figures"` // the name for --figures
}

// prepare writes a page of drills of the part's hard figures, saves them for --figures,
// and writes reads made of them.
func (o *surveyOptions) prepare(ctx context.Context, e *env, l *surveyed) (p *preparation, err error) {
	figures := l.Hard(figuresDrilled)
	page := l.Drills(figures, l.instrument, l.catalogue)
	if page == nil {
		return nil, askedf("%s: it has no figure to drill: leave --prepare out", l.piece.file)
	}
	paper, err := o.openPrinter(ctx, e)
	if err != nil {
		return nil, err
	}
	if paper != nil {
		defer paper.Close()
	}
	p = &preparation{name: preparedName + fmt.Sprintf("%s %d", baseName(l.piece.file), l.piece.index+1)}
	if err := l.save(ctx, e, o.Journal, p.name, figures); err != nil {
		return nil, err
	}
	drills, err := draftDrills(o.Out, l.piece, page)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			drills.discard()
		}
	}()
	s, err := openStudio(ctx, e, l.request(o, p.name))
	if err != nil {
		return nil, err
	}
	defer func() {
		if shut := s.close(); err == nil {
			err = shut
		}
	}()
	p.drills, p.studio = drills, s
	if err := o.print(ctx, paper, []*files{p.drills}); err != nil {
		return nil, err
	}
	for tries := 0; len(p.reads) < readsPrepared; tries++ {
		reads, drafts, err := (&batch{studio: s}).some(ctx, len(p.reads), readsPrepared-len(p.reads))
		if err == nil {
			err = o.print(ctx, paper, drafts)
		}
		if err == nil && tries == keepTries {
			err = errTouched
		}
		if err != nil {
			discard(drafts)
			return nil, err
		}
		kept, err := s.deliver(ctx, reads, drafts)
		if err != nil {
			return nil, err
		}
		p.reads, p.drafts = append(p.reads, reads[:kept]...), append(p.drafts, drafts[:kept]...)
	}
	return p, p.drills.place()
}

// request asks for reads of the figures on the rung, a march, or a song where the part
// sings.
func (l *surveyed) request(o *surveyOptions, name string) *requestOptions {
	r := &requestOptions{Style: usualStyle, Rung: l.Rung.Rung, Instrument: l.instrument.ID, Count: readsPrepared,
		Figures: []string{name}, Out: o.Out, usualOut: ".", Sound: usualSound, Journal: o.Journal}
	if o.Rung > 0 {
		r.Rung = o.Rung
	}
	if l.sings() {
		r.Style = "lyrical"
	}
	return r
}

// sings reports whether the part is a song rather than a march: slow, in three, or slurred
// in one measure of four.
func (l *surveyed) sings() bool {
	slurs := 0
	eachNote(l.Page, func(_ *score.Measure, n *score.Note) {
		if n.SlurStart {
			slurs++
		}
	})
	return l.Tempo.BPM < songTempo || l.Beat.Count() == 3 || 4*slurs >= len(l.Page.Measures)
}

// save keeps the figures in the journal with the lines of the part, and of what was drilled
// before, so that no read copies them.
func (l *surveyed) save(ctx context.Context, e *env, path, name string, figures []survey.Figure) (err error) {
	all := l.catalogue.Learn(l.Page)
	v := all
	v.Figures = nil
	for _, entry := range all.Figures {
		for _, f := range figures {
			if entry.Figure == f.Figure {
				v.Figures = append(v.Figures, entry)
			}
		}
	}
	if len(v.Figures) == 0 {
		v = all
	}
	var sheet bytes.Buffer
	if err := figure.WriteVocabulary(&sheet, v); err != nil {
		return err
	}
	j, err := e.openJournal(ctx, path)
	if err != nil {
		return err
	}
	defer func() {
		if shut := j.Close(); err == nil {
			err = shut
		}
	}()
	drills := []journal.Drill{{Title: l.Title, Melody: encodeLines(compose.Lines(l.Page, l.run-1))}}
	if len(l.lines) > 0 {
		drills = append(drills, journal.Drill{Title: "drilled before", Melody: encodeLines(l.lines)})
	}
	return j.SaveVocabulary(ctx, journal.Vocabulary{Name: name, Sheet: sheet.Bytes(), Drills: drills})
}

// baseName is the plain name of a file, without its suffix.
func baseName(file string) string {
	base := filepath.Base(file)
	return plainName(strings.TrimSuffix(base, filepath.Ext(base)))
}

// draftDrills writes the page of drills beside its place, under a name that no other file
// has but an earlier page of the same part.
func draftDrills(folder string, piece *printedPiece, page *score.Score) (f *files, err error) {
	if err := openFolder(folder); err != nil {
		return nil, err
	}
	page.Identity = strings.Replace(piece.identity(), "piece", "drills", 1)
	base := fmt.Sprintf("%s-part-%d-drills", baseName(piece.file), piece.index+1)
	f = &files{folder: folder, name: base}
	for i := 2; ; i++ {
		text, err := userfile.Read(context.Background(), f.path(pageSuffix), userfile.MaxScore)
		if os.IsNotExist(err) || err == nil && bytes.Contains(text, []byte(page.Identity)) {
			break
		}
		if err != nil {
			return nil, unreadable("file", f.path(pageSuffix), err)
		}
		f.name = fmt.Sprintf("%s-%d", base, i)
	}
	return f, f.writeAll(part{pageSuffix, func(w io.Writer) error { return musicxml.Write(w, page) }})
}

// tell says what was written, and how to play it.
func (p *preparation) tell(b *strings.Builder) {
	if p == nil {
		return
	}
	b.WriteString("\nTo prepare it:\n")
	field(b, "drills", p.drills.path(pageSuffix))
	for i, m := range p.reads {
		field(b, "read", p.drafts[i].path(pageSuffix))
		fmt.Fprintf(b, "%-*s%s\n", fieldWidth, "", p.studio.againCommand("read", m))
	}
}

func (p *preparation) document() *preparationDocument {
	if p == nil {
		return nil
	}
	d := &preparationDocument{Drills: p.drills.path(pageSuffix), Figures: p.name}
	for _, f := range p.drafts {
		d.Reads = append(d.Reads, f.path(pageSuffix))
	}
	return d
}
