package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/report"
	"onward/cmd/internal/session"
	"onward/compose/musicxml"
	"onward/compose/score"
	"onward/midi/live"
	"onward/midi/timeline"
	"onward/styles"
	"onward/theory"
)

// A practice is the studio of a session: it makes the pages, plays them and keeps what
// became of them. What the flags of read and today ask for holds for all its reads.
type practice struct {
	e       *env
	o       *readOptions
	to      found
	latency latency
	day     *dayPlan                  // the plan that is followed, nil for none
	sheets  map[string]string         // the player's own sheet: its path by its name
	seeded  bool                      // the seed that was given is still to be used
	first   bool                      // nothing was made yet
	mu      sync.Mutex                // of what follows: a page may be made while another is kept
	studio  *studio                   // of the latest read
	offered map[string]session.Choice // by style
	begin   sync.Once                 // see begun
	refused error                     // what the flags asked for and cannot be had
	refuse  func()                    // ends the practice for that
}

// openPractice finds out where the sound goes.
func openPractice(ctx context.Context, e *env, o *readOptions) (*practice, error) {
	sink, err := sinkOf(o.Port, o.Sound)
	if err != nil {
		return nil, err
	}
	p := &practice{e: e, o: o, seeded: o.Seeded, first: true, offered: map[string]session.Choice{}}
	if p.to, err = e.sinks.try(sink); err != nil {
		return nil, asked(err, "")
	}
	if ownFile(o.Style) {
		sheet, _, err := openStyle(ctx, o.Style)
		if err != nil {
			return nil, err
		}
		p.sheets = map[string]string{sheet.Name: o.Style}
	}
	err = p.withJournal(ctx, func(j *journal.Journal) error {
		p.latency, err = o.latencyOption.of(ctx, j, p.to)
		return err
	})
	return p, err
}

// withJournal opens the journal for what is asked of it.
func (p *practice) withJournal(ctx context.Context, do func(*journal.Journal) error) error {
	return p.e.withJournal(ctx, p.o.Journal, do)
}

// close lets go of the journal. A page that is still being made, as the session has given it
// up, keeps its own to the end of the process.
func (p *practice) close() error {
	if !p.mu.TryLock() {
		return nil
	}
	defer p.mu.Unlock()
	if p.studio == nil {
		return nil
	}
	return p.studio.close()
}

// Make is session.Studio's.
func (p *practice) Make(ctx context.Context, c session.Choice) (page *session.Page, perform session.Performance, err error) {
	defer func() { p.begun(err); err = public(err) }()
	switch c.Kind {
	case session.Pause:
		return &session.Page{Kind: session.Pause, Title: "Rest", Minutes: c.Minutes, Lines: restLines}, nil, nil
	case session.WarmUp:
		page, err = p.warmUp(ctx, c)
		return page, nil, err
	case session.Drill:
		page, err = p.drill(ctx, c)
		return page, nil, err
	}
	return p.read(ctx, c)
}

// restLines are shown while the player rests (teaching sources: as long as you play).
var restLines = []string{"Put the horn down.", "Rest as long as you played.", "Stop at pain, or when the lip tires."}

// options are what the flags and the choice ask of a read together.
func (p *practice) options(c session.Choice) (*requestOptions, error) {
	o := p.o.requestOptions
	o.Rung, o.Instrument, o.Count = c.Rung, c.Instrument, 1
	switch own := p.sheets[c.Style]; {
	case own != "":
		o.Style = own
	case ownFile(c.Style): // a screen names what is listed, no file
		return nil, askedf("a style is chosen from those that are listed")
	default:
		o.Style = c.Style
	}
	o.Seeded = p.seeded
	if !p.first {
		o.Again = 0
	}
	p.seeded, p.first = false, false
	if c.Percent > 0 {
		o.Slower = percent(c.Percent)
	}
	how := o.Company
	o.pressureOptions = pressureOptions{}
	if err := o.press(c.Pressure); err != nil {
		return nil, err
	}
	if o.Company != 0 && how != 0 {
		o.Company = how
	}
	if c.Coverage > 0 && o.Coverage == nil {
		o.Coverage = &c.Coverage
	}
	if c.Key != "" && o.Key == "" {
		o.Key = c.Key
	}
	if o.Wanted = c.Figures; len(o.Figures) == 0 && len(c.Figures) > 0 {
		o.Figures = []string{knownFigures}
	}
	return &o, nil
}

// read makes a read, its files and its page.
func (p *practice) read(ctx context.Context, c session.Choice) (*session.Page, session.Performance, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	o, err := p.options(c)
	if err != nil {
		return nil, nil, err
	}
	f, err := p.perform(ctx, o, c)
	if err != nil && unasked(o, c, err) {
		f, err = p.perform(ctx, o, c)
	}
	if err != nil {
		return nil, nil, err
	}
	if p.studio != nil {
		if err := p.studio.close(); err != nil {
			return nil, nil, err
		}
	}
	p.studio = f.studio
	return f.page(), f, nil
}

// perform makes a read ready to be played.
func (p *practice) perform(ctx context.Context, o *requestOptions, c session.Choice) (f *performance, err error) {
	s, err := openStudio(ctx, p.e, o)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	font, err := o.font(ctx)
	if err != nil {
		return nil, err
	}
	var roll *live.Roll
	m, draft, err := s.deliverOne(ctx, func() (m *made, draft *files, err error) {
		if m, err = s.compose(ctx, s.req.Seed); err != nil {
			return nil, nil, err
		}
		if err = p.slower(ctx, s, m, c); err != nil {
			return nil, nil, err
		}
		var band *timeline.Timeline
		if band, roll, err = s.rehearse(m, p.latency); err == nil {
			draft, err = o.draft(m, band, font)
		}
		return m, draft, err
	})
	if err != nil {
		return nil, err
	}
	return &performance{practice: p, studio: s, made: m, roll: roll, file: draft.path(pageSuffix)}, nil
}

// slower settles the tempo of a read where it is to be as proposed.
func (p *practice) slower(ctx context.Context, s *studio, m *made, c session.Choice) error {
	if !p.proposed(c) {
		return nil
	}
	climb, err := openClimb(ctx, p.e, s.journal)
	if err != nil {
		return err
	}
	slower, err := climb.tempo(m, c)
	s.o.Slower = percent(slower)
	return err
}

// proposed reports whether rung and tempo are those that were proposed.
func (p *practice) proposed(c session.Choice) bool {
	was, ok := p.offered[c.Style]
	return ok && c.Rung == was.Rung && c.Percent == was.Percent
}

// A performance is a read that can be played.
type performance struct {
	practice *practice
	studio   *studio
	made     *made
	roll     *live.Roll
	file     string
	taken    *playedTake // the latest one
}

// page is what a screen shows of the read.
func (f *performance) page() *session.Page {
	m := f.made
	part := &m.Score.Parts[0]
	page := &session.Page{Kind: session.Read, Title: m.Title, File: f.file, For: f.pageFor,
		Words: fmt.Sprintf("%s, rung %d, %s", m.Style.Name, m.Rung, m.Request.Instrument.Name),
		Again: f.studio.againCommand("read", m, f.practice.more()...)}
	for _, l := range lookOver(m, &f.studio.o.takeOptions) {
		page.Hints = append(page.Hints, session.Hint{Word: l.word, Text: l.text})
	}
	for i := range part.Measures {
		page.Measures = append(page.Measures, session.Measure{Number: part.Measures[i].Number})
	}
	for _, s := range m.Sections {
		page.Measures[s.First].First = true
		for i := s.First; i < s.First+s.Measures; i++ {
			page.Measures[i].Section = s.Name
		}
	}
	return page
}

// more are the flags of read alone that make the take so again.
func (p *practice) more() []string {
	if p.o.Port == "" {
		return nil
	}
	return []string{"--port", quote(p.o.Port)}
}

// pageFor is the page as another instrument's player reads it.
func (f *performance) pageFor(instrument string) ([]byte, error) {
	return pageFor(f.made.Score, f.made.Request.Instrument, instrument)
}

func pageFor(page *score.Score, of theory.Instrument, instrument string) ([]byte, error) {
	if instrument != "" && instrument != of.ID {
		in, err := theory.InstrumentByID(instrument)
		if err != nil {
			return nil, asked(err, "`onward instruments` lists them")
		}
		page = writtenFor(page, in)
	}
	var b bytes.Buffer
	err := musicxml.Write(&b, page)
	return b.Bytes(), err
}

// writtenFor is the page written for another instrument: the same melody in the octave that
// its usual range holds best.
func writtenFor(page *score.Score, in theory.Instrument) *score.Score {
	p := page.Parts[0]
	room := in.Ranges[theory.Intermediate]
	best, least := p, -1
	for octave := -4; octave <= 4; octave++ {
		by := p.Sounds.Add(in.Sounds.Neg()).Add(theory.Interval{Steps: 7 * octave, Semitones: 12 * octave})
		moved := score.Transpose(p, by)
		outside := 0
		eachNote(&moved, func(_ *score.Measure, n *score.Note) {
			outside += max(0, room.Low.MIDI()-n.Pitch.MIDI(), n.Pitch.MIDI()-room.High.MIDI())
		})
		if least < 0 || outside < least {
			best, least = moved, outside
		}
	}
	best.Name, best.Program, best.Sounds = in.Name, in.Program, in.Sounds
	if best.Measures[0].Clef != nil {
		best.Measures[0].Clef = &in.Clef
	}
	out := *page
	out.Parts = []score.Part{best}
	return &out
}

// Play is session.Performance's.
func (f *performance) Play(ctx context.Context) (session.Band, error) {
	t, err := f.studio.begin(ctx, f.made.id, f.roll, f.practice.to.sink)
	if err != nil {
		return nil, err
	}
	return &playing{f, t, f.running(t)}, nil
}

// running is when the take started, and its beats.
func (f *performance) running(t take) session.Running {
	r := session.Running{End: f.roll.End}
	if at, ok := t.Started(); ok {
		r.Start = at
	} else {
		r.Start = f.practice.e.clock() - f.practice.e.now().Sub(t.StartedAt())
	}
	for _, b := range f.roll.Beats {
		r.Beats = append(r.Beats, session.Beat{At: b.At, Measure: b.Measure, Number: b.Number, Pass: b.Pass, Beat: b.Beat, Of: b.Of})
	}
	return r
}

// A playing is a take under way.
type playing struct {
	*performance
	take    *playedTake
	running session.Running
}

func (b *playing) Running() session.Running { return b.running }

// Wait is session.Band's. The take is in the journal when it returns.
func (b *playing) Wait() (words []string, left bool, err error) {
	report, err := b.take.Wait()
	if errors.Is(err, live.ErrHanging) {
		b.practice.e.hush(b.practice.to.sink, b.roll)
	}
	said, kept := b.take.keep(context.Background(), report, err)
	b.performance.taken, b.made.id = b.take, b.take.read
	words = bandWords(b.roll, report)
	if report.Sink != "" {
		words = append(words, report.Sink)
	}
	if rested := restWords(b.made); rested != "" {
		words = append(words, "the band "+rested)
	}
	if said != "" {
		words = append(words, said)
	}
	return words, report.Left, errors.Join(err, kept)
}

// Record is session.Studio's.
func (p *practice) Record(ctx context.Context) (lines []string, err error) {
	err = p.withJournal(ctx, func(j *journal.Journal) error {
		weeks, err := summarize(ctx, p.e, j, recordWeeks)
		if err != nil {
			return err
		}
		var b strings.Builder
		err = weeks.WriteText(&b, report.Narrow)
		lines = strings.Split(strings.TrimRight(b.String(), "\n"), "\n")
		return err
	})
	return lines, err
}

// recordWeeks is how many weeks the record shows.
const recordWeeks = 4

// named lists what there is to choose.
func (p *practice) named(ctx context.Context) (offer session.Offer, err error) {
	for _, name := range styles.Names() {
		sheet, err := styles.Shipped(name)
		if err != nil {
			return offer, err
		}
		offer.Styles = append(offer.Styles, session.Named{ID: name, Words: sheet.Words})
	}
	for name, path := range p.sheets {
		sheet, _, err := openStyle(ctx, path)
		if err != nil {
			return offer, err
		}
		offer.Styles = append(offer.Styles, session.Named{ID: name, Words: sheet.Words})
	}
	for _, p := range pressures {
		offer.Pressures = append(offer.Pressures, session.Named{ID: p.name, Words: p.words})
	}
	for _, in := range theory.Instruments() {
		offer.Instruments = append(offer.Instruments, session.Named{ID: in.ID, Words: in.Name})
	}
	return offer, nil
}
