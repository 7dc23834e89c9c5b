package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/compose/figure"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/compose/survey"
	"onward/compose/warmup"
	"onward/rhythm"
	"onward/theory"
)

const (
	screenWidth = 40 // of the lines of an exercise, so that they can be large
	drillTempo  = 88 // felt beats a minute that a drill goes up to
)

// warmUp makes the day's warm-up, and its page for the stand.
func (p *practice) warmUp(ctx context.Context, c session.Choice) (page *session.Page, err error) {
	o := &warmupOptions{Minutes: c.Minutes, Instrument: c.Instrument, Rung: c.Rung, Journal: p.o.Journal,
		Day: p.e.now().Format(time.DateOnly), given: func(flag string) bool { return flag == "minutes" || flag == "instrument" }}
	err = p.withJournal(ctx, func(j *journal.Journal) error {
		w := warmupBook{ctx: ctx, e: p.e, o: o, journal: j}
		d, fresh, err := w.open()
		if err != nil {
			return playersError(err)
		}
		if fresh {
			if err := w.keep(d); err != nil {
				return err
			}
		}
		doc := newWarmupDocument(o.Day, d)
		s := d.Score("Warm-up, "+doc.Date.Format("2 January 2006"), warmup.KeyWords(d.Written)+concertWords(d), doc.Identity.Request)
		page = exercisePage(session.WarmUp, s, d.Instrument, d.Minutes)
		page.Words = fmt.Sprintf("%s%s, %d minutes", warmup.KeyWords(d.Written), concertWords(d), d.Minutes)
		page.Lines = exerciseLines(d, screenWidth, false)
		page.Again = "onward warmup --day " + o.Day
		return nil
	})
	return page, err
}

// drill makes a page of drills of the figures, through one key.
func (p *practice) drill(ctx context.Context, c session.Choice) (page *session.Page, err error) {
	in, err := theory.InstrumentByID(c.Instrument)
	if err != nil {
		return nil, asked(err, "")
	}
	concert := theory.Key{Fifths: -2}
	if c.Key != "" {
		if concert, err = theory.ParseKey(c.Key); err != nil {
			return nil, asked(err, "")
		}
	}
	written := concert.Transpose(in.Sounds.Neg())
	catalogue := figure.Default()
	err = p.withJournal(ctx, func(j *journal.Journal) error {
		reader := drillReader{ctx: ctx, catalogue: catalogue, journal: j, warn: p.e.err, now: p.e.now}
		err := reader.knowOwn()
		catalogue = reader.catalogue
		return err
	})
	if err != nil {
		return nil, err
	}
	drilled, lines, err := drillsOf(catalogue, c.Figures)
	if err != nil {
		return nil, err
	}
	room := in.Ranges[theory.Intermediate]
	d := survey.DrillPage{Title: "Drill", Subtitle: "slowly up the key, then down it in tempo", Key: written, Instrument: in,
		Room: [2]int{room.Low.MIDI(), room.High.MIDI()}, BPM: drillTempo}
	s := d.Of(drilled, catalogue)
	if s == nil {
		return nil, askedf("these figures have no room in %s: drill others", written)
	}
	s.Identity = fmt.Sprintf("drill figures=%q key=%q instrument=%s", c.Figures, concert, in.ID)
	page = exercisePage(session.Drill, s, in, max(c.Minutes, 1))
	page.Words = "through " + written.String()
	page.Lines = append([]string{fmt.Sprintf("In %s, from each note of the scale,", written), "slowly up, then down in tempo:"}, lines...)
	page.Lines = append(page.Lines, "Rest as long as you play.")
	page.File, err = p.savePage("drill-"+p.e.now().Format("2006-01-02-150405"), s)
	return page, err
}

// drillsOf finds the figures by name, each with the meter that it is drilled in, and tells
// them line by line.
func drillsOf(c *figure.Catalogue, names []string) (all []survey.Drilled, lines []string, err error) {
	for _, name := range names {
		f, err := figureNamed(name)
		if err != nil {
			return nil, nil, err
		}
		shape, cell := c.Shape(f.Shape), c.Cell(f.Cell)
		if shape == nil || cell == nil {
			return nil, nil, askedf("figure %q: there is none of this name; `onward figures` lists them", name)
		}
		words := survey.FigureWords(shape, cell)
		all = append(all, survey.Drilled{Figure: f, Words: words, Meter: drillMeter(cell)})
		for i, line := range wrap(words, screenWidth-2) {
			lead := "  "
			if i == 0 {
				lead = fmt.Sprintf("%d ", len(all))
			}
			lines = append(lines, lead+line)
		}
	}
	return all, lines, nil
}

// drillMeter is the plainest meter that the cell is at home in.
func drillMeter(cell *rhythm.Cell) rhythm.Meter {
	for _, name := range []string{"2/4", "6/8", "3/4", "4/4", "2/2", "9/8", "12/8", "5/4"} {
		m, err := rhythm.ParseMeter(name)
		if err != nil || cell.Span > m.Measure() || m.Measure()%cell.Span != 0 {
			continue
		}
		if len(cell.Meters) == 0 && cell.Span%m.Beat() == 0 || slices.Contains(cell.Meters, name) {
			return m
		}
	}
	m, _ := rhythm.ParseMeter("4/4")
	return m
}

// exercisePage is what a screen shows of a warm-up or drill.
func exercisePage(kind session.Kind, s *score.Score, in theory.Instrument, minutes int) *session.Page {
	page := &session.Page{Kind: kind, Title: s.Title, Minutes: minutes,
		For: func(instrument string) ([]byte, error) { return pageFor(s, in, instrument) }}
	for i := range s.Parts[0].Measures {
		page.Measures = append(page.Measures, session.Measure{Number: s.Parts[0].Measures[i].Number})
	}
	return page
}

// savePage writes a page alone into the folder of reads.
func (p *practice) savePage(name string, s *score.Score) (path string, err error) {
	if err := openFolder(p.o.Out); err != nil {
		return "", err
	}
	f := &files{folder: p.o.Out, name: name}
	if err := f.writeAll(part{pageSuffix, func(w io.Writer) error { return musicxml.Write(w, s) }}); err != nil {
		return "", err
	}
	return f.path(pageSuffix), f.place()
}
