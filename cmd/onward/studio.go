package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"onward/cmd/internal/journal"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/midi/band"
)

// A studio is where the reads of one invocation are made: what was asked, the journal,
// and what each read is to be kept clear of.
type studio struct {
	e       *env
	o       *requestOptions
	journal *journal.Journal
	world   compose.World
	req     compose.Request
	mark    string // see sheetMark
	sheet   []byte // of the player's own style, nil for one of the program's
	lengths []int  // of the runs that the journal remembers
	past    journal.Past
	memory  *memory
	recent  [][]compose.Line // of the latest reads, newest first
	earlier int              // reads before the next one
	current bool             // nothing was kept since past was read
}

// A made read is one that has been composed.
type made struct {
	*compose.Read
	document compose.Document
	id       int64 // in the journal; 0 until it is added
	// repeat says that the player has had this read before, on had.
	repeat   bool
	had      time.Time
	runs     []compose.Run
	measures []uint64
	past     journal.Past // what it was kept clear of, beside reads made here and not kept yet
	rests    []band.Rest  // where the band drops out
}

// openStudio settles what was asked and reads what the journal and the exercises bring.
func openStudio(ctx context.Context, e *env, o *requestOptions) (*studio, error) {
	sweepDrafts(o.Out)
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		return nil, err
	}
	s := &studio{e: e, o: o, world: compose.NewWorld(catalogue, rungs), lengths: rungs.Runs()}
	if s.journal, err = e.openJournal(ctx, o.Journal); err != nil {
		return nil, err
	}
	if err := s.settle(ctx); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *studio) settle(ctx context.Context) (err error) {
	if s.o.Again != 0 {
		return s.settleAgain(ctx)
	}
	if s.req, s.sheet, err = s.o.request(ctx, s.journal); err != nil {
		return err
	}
	s.mark = sheetMark(s.sheet)
	reader := drillReader{ctx: ctx, catalogue: s.world.Catalogue, journal: s.journal, back: longestRun(s.world.Ladder) - 1, warn: s.e.err, now: s.e.now}
	learned, err := reader.all(s.o.Figures)
	if err != nil {
		return err
	}
	if learned != nil {
		s.req.Vocabulary, s.req.Drills = &learned.vocabulary, learned.lines
		if s.world.Catalogue, err = s.world.Catalogue.With(learned.vocabulary.Own); err != nil {
			return asked(err, "")
		}
		if err := want(s.req.Vocabulary, s.o.Wanted); err != nil {
			return err
		}
	}
	if !s.o.Seeded {
		if err := s.drawSeed(ctx); err != nil {
			return err
		}
	}
	return s.remember(ctx)
}

// remember brings in what was read before, as the journal is now: what other programs add
// while a read is made, AddReads sees.
func (s *studio) remember(ctx context.Context) (err error) {
	if s.past, err = s.journal.Now(ctx); err != nil {
		return err
	}
	s.memory = newMemory(ctx, s.past)
	if s.recent, err = recentLines(ctx, s.past); err != nil {
		return err
	}
	s.earlier, err = s.past.Count(ctx)
	s.current = err == nil
	return err
}

// wantedCount is the count that a wanted figure has at least: as if known by heart, several
// times over.
const wantedCount = 300

// want makes figures of the vocabulary come oftener.
func want(v *figure.Vocabulary, names []string) error {
	for _, name := range names {
		f, err := figureNamed(name)
		if err != nil {
			return err
		}
		for i := range v.Figures {
			if e := &v.Figures[i]; e.Figure == f && e.Count < wantedCount {
				e.Notes = e.Notes / max(e.Count, 1) * wantedCount
				e.Count = wantedCount
			}
		}
	}
	return nil
}

// seedTries is how often a seed is drawn before one that makes a repeat is taken.
const seedTries = 100

// drawSeed draws a seed of which no read has been had, nor of those that follow it.
func (s *studio) drawSeed(ctx context.Context) error {
	for range seedTries {
		s.req.Seed = s.e.random(seedsDrawn)
		had := false
		for i := 0; i < s.o.Count && !had; i++ {
			req := s.req
			req.Seed += uint64(i)
			var err error
			if _, had, err = s.journal.Find(ctx, req.Identity()+s.mark); err != nil {
				return err
			}
		}
		if !had {
			return nil
		}
	}
	return nil
}

func (s *studio) close() error { return s.journal.Close() }

// longestRun reports the longest of the runs that any rung compares.
func longestRun(l *ladder.Ladder) int { return slices.Max(l.Runs()) }

// recentLines reads the latest reads' lines, newest first.
func recentLines(ctx context.Context, past journal.Past) ([][]compose.Line, error) {
	reads, err := past.Recent(ctx, recentReads)
	if err != nil {
		return nil, err
	}
	var all [][]compose.Line
	for _, r := range reads {
		lines, err := decodeLines(r.Melody)
		if err != nil {
			return nil, fmt.Errorf("read %d of the journal: %w", r.ID, err)
		}
		all = append(all, lines)
	}
	return all, nil
}

// compose makes the read of the seed. A read that the player has had before is made
// again as it was, kept clear of the reads before it alone.
func (s *studio) compose(ctx context.Context, seed uint64) (*made, error) {
	req := s.req
	req.Seed = seed
	before, repeat, err := s.journal.Find(ctx, req.Identity()+s.mark)
	if err != nil {
		return nil, err
	}
	if repeat {
		return s.again(ctx, req, before)
	}
	if !s.current {
		if err := s.remember(ctx); err != nil {
			return nil, err
		}
	}
	m, err := s.make(req, s.memory, s.recent, s.earlier)
	if err != nil {
		return nil, err
	}
	m.past = s.past
	m.runs = compose.Runs(&m.Score.Parts[0], s.lengths)
	m.measures = compose.MeasuresOf(&m.Score.Parts[0])
	s.memory.add(m.runs, m.measures)
	s.recent = append([][]compose.Line{s.lines(m)}, s.recent[:min(len(s.recent), recentReads-1)]...)
	s.earlier++
	return m, nil
}

// again makes a read that the journal has.
func (s *studio) again(ctx context.Context, req compose.Request, before journal.Read) (*made, error) {
	if err := s.o.refuseAgain(before.Made); err != nil {
		return nil, err
	}
	past, err := s.journal.PastOf(ctx, before.ID)
	if err != nil {
		return nil, err
	}
	recent, err := recentLines(ctx, past)
	if err != nil {
		return nil, err
	}
	earlier, err := past.Count(ctx)
	if err != nil {
		return nil, err
	}
	m, err := s.make(req, newMemory(ctx, past), recent, earlier)
	if err != nil {
		return nil, err
	}
	m.id, m.repeat, m.had = before.ID, true, before.Made
	return m, nil
}

// make composes one read.
func (s *studio) make(req compose.Request, seen *memory, recent [][]compose.Line, earlier int) (*made, error) {
	world := s.world
	world.Seen, world.Measures = seen, seen
	for _, lines := range recent {
		world.Recent = append(world.Recent, lines...)
	}
	r, err := compose.Compose(&world, req)
	if err != nil {
		return nil, err
	}
	r.Identity += s.mark
	r.Score.Identity = r.Identity
	return &made{Read: r, document: r.Document(earlier)}, nil
}

// lines reports a read's lines as the journal keeps them.
func (s *studio) lines(m *made) []compose.Line {
	return compose.Lines(&m.Score.Parts[0], longestRun(s.world.Ladder)-1)
}

// keep adds the reads to the journal and reports how many, from the first on, are in it:
// all, unless other programs added reads that touch one; it and those after it are to be
// made again. Repeats are there already.
func (s *studio) keep(ctx context.Context, reads []*made) (int, error) {
	s.current = false
	var rows []journal.Read
	for _, m := range reads {
		if m.repeat {
			continue
		}
		row, err := s.row(m)
		if err != nil {
			return 0, err
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		return len(reads), nil
	}
	ids, err := s.journal.AddReads(ctx, rows)
	if err != nil {
		return 0, err
	}
	for i, m := range reads {
		switch {
		case m.repeat:
		case len(ids) == 0:
			return i, nil
		default:
			m.id, ids = ids[0], ids[1:]
		}
	}
	return len(reads), nil
}

// row is a read as the journal keeps it.
func (s *studio) row(m *made) (journal.Read, error) {
	figures, err := metInRead(m.Read)
	if err != nil {
		return journal.Read{}, err
	}
	loads, err := json.Marshal(m.Load)
	if err != nil {
		return journal.Read{}, err
	}
	request, drilled, err := encodeRequest(m.Request, s.sheet)
	c := m.Certificate
	return journal.Read{
		Identity: m.Identity, Title: m.Title, Style: m.Style.Name, Rung: m.Rung, Instrument: m.Request.Instrument.ID,
		Melody: encodeLines(s.lines(m)), Runs: journalRuns(m.runs), Measures: m.measures,
		Length: len(m.Score.Parts[0].Measures), Figures: figures, Loads: loads, Request: request, Drilled: drilled,
		Past: &m.past, Clear: c.Length, Shared: max(c.Shared, c.MayShare()),
	}, err
}
