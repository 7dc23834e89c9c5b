package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"onward/cmd/internal/journal"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/warmup"
	"onward/theory"
)

const (
	daysApart   = 14   // on so many days no line comes again
	warmupsBack = 2000 // so many of the latest warm-ups are looked at
	figuresKept = 60   // of the weakest figures so many are offered to a day
)

// A keptWarmup is what the journal keeps of a day's warm-up: all that made it, and what it
// drilled.
type keptWarmup struct {
	Generator  int             `json:"generator"`
	Seed       uint64          `json:"seed"`
	Turn       int             `json:"turn"`
	Minutes    int             `json:"minutes"`
	Instrument string          `json:"instrument"`
	Rung       int             `json:"rung"`
	Bracket    string          `json:"bracket"`
	Keys       []theory.Key    `json:"keys"`
	Key        *theory.Key     `json:"key,omitempty"` // asked for
	Concert    theory.Key      `json:"concert"`       // as it came out
	Asked      []string        `json:"asked"`         // the names after --figures
	Figures    []figure.Figure `json:"figures"`       // the weakest first
	Own        []figure.Own    `json:"own,omitempty"` // the player's own shapes among the figures
	Drilled    []figure.Figure `json:"drilled"`
	Avoid      []uint64        `json:"avoid"`
}

// A warmupBook finds the warm-ups of a journal and makes new ones.
type warmupBook struct {
	ctx     context.Context
	e       *env
	o       *warmupOptions
	journal *journal.Journal
	past    []pastWarmup // newest first
	kept    keptWarmup   // what makes the day's
}

type pastWarmup struct {
	journal.Warmup
	kept keptWarmup
}

// open reports the day's warm-up: the latest of that day that is as asked, else a fresh one.
func (w *warmupBook) open() (d *warmup.Day, fresh bool, err error) {
	if err := w.readPast(); err != nil {
		return nil, false, err
	}
	key, err := w.o.key()
	if err != nil {
		return nil, false, err
	}
	for _, p := range w.past {
		if p.Day == w.o.Day && w.o.agrees(&p.kept, key) {
			w.kept = p.kept
			if p.kept.Generator != warmup.Version {
				fmt.Fprintf(w.e.err, "the warm-up of %s was made by an earlier generator (%d; this is %d): it may come out otherwise\n",
					p.Day, p.kept.Generator, warmup.Version)
			}
			d, err = w.make()
			return d, false, err
		}
	}
	if err := w.settle(key); err != nil {
		return nil, false, err
	}
	d, err = w.make()
	return d, true, err
}

func (w *warmupBook) readPast() error {
	rows, err := w.journal.Warmups(w.ctx, warmupsBack)
	if err != nil {
		return err
	}
	for _, r := range rows {
		p := pastWarmup{Warmup: r}
		if err := json.Unmarshal(r.Request, &p.kept); err != nil {
			return fmt.Errorf("warm-up %d of the journal: %w", r.ID, err)
		}
		w.past = append(w.past, p)
	}
	return nil
}

// key reads the key asked for, nil where none is.
func (o *warmupOptions) key() (*theory.Key, error) {
	if o.Key == "" {
		return nil, nil
	}
	k, err := theory.ParseKey(o.Key)
	return &k, asked(err, "")
}

// agrees says whether a warm-up is as the flags that were given ask.
func (o *warmupOptions) agrees(k *keptWarmup, key *theory.Key) bool {
	return (!o.given("minutes") || o.Minutes == k.Minutes) &&
		(!o.given("instrument") || o.Instrument == k.Instrument) &&
		(!o.given("rung") || o.Rung == k.Rung) &&
		(!o.given("figures") || slices.Equal(o.Figures, k.Asked)) &&
		(key == nil || *key == k.Concert)
}

// settle settles what makes a fresh warm-up.
func (w *warmupBook) settle(key *theory.Key) error {
	in, rung, err := w.player()
	if err != nil {
		return err
	}
	catalogue := figure.Default()
	rungs, err := ladder.Default(catalogue)
	if err != nil {
		return err
	}
	r, err := rungs.Rung(rung)
	if err != nil {
		return asked(err, "")
	}
	w.kept = keptWarmup{
		Generator: warmup.Version, Seed: w.e.random(seedsDrawn), Turn: w.turn(), Minutes: w.o.Minutes,
		Instrument: in.ID, Rung: rung, Bracket: r.Bracket, Key: key, Asked: w.o.Figures, Avoid: w.lately(),
	}
	if w.kept.Keys, err = keysOf(rungs, rung); err != nil {
		return err
	}
	return w.weakest(catalogue, rungs)
}

// player finds instrument and rung: those asked for, else those of the last read.
func (w *warmupBook) player() (theory.Instrument, int, error) {
	in, err := (&requestOptions{Instrument: w.o.Instrument}).instrument(w.ctx, w.journal)
	if err != nil || w.o.Rung > 0 {
		return in, w.o.Rung, err
	}
	last, had, err := w.journal.LastRead(w.ctx)
	if err != nil || !had {
		return in, usualRung, err
	}
	return in, last.Rung, nil
}

// turn counts the days before, going on from the latest.
func (w *warmupBook) turn() int {
	for _, p := range w.past {
		if p.Day == w.o.Day {
			return p.kept.Turn
		}
	}
	if len(w.past) == 0 {
		return 0
	}
	return w.past[0].kept.Turn + 1
}

// lately lists the lines of the latest days, and of this one.
func (w *warmupBook) lately() []uint64 {
	days := map[string]bool{}
	lines := []uint64{}
	for _, p := range w.past {
		if days[p.Day] = true; len(days) > daysApart {
			break
		}
		lines = append(lines, p.Lines...)
	}
	return lines
}

// keysOf lists a rung's concert keys, in the order in which the rungs add them.
func keysOf(l *ladder.Ladder, rung int) ([]theory.Key, error) {
	names := slices.Clone(l.Ground.Keys)
	for _, r := range l.Rungs[:rung] {
		for _, thing := range r.Adds {
			names = append(names, thing.Keys...)
		}
	}
	var keys []theory.Key
	for _, name := range names {
		k, err := theory.ParseKey(name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(keys, k) {
			keys = append(keys, k)
		}
	}
	return keys, nil
}

// weakest settles the figures of what the player drills: first those that stood in the
// fewest warm-ups, of these first those that were drilled least.
func (w *warmupBook) weakest(catalogue *figure.Catalogue, rungs *ladder.Ladder) error {
	names := w.o.Figures
	if len(names) == 0 {
		saved, err := w.journal.Vocabularies(w.ctx)
		if err != nil {
			return err
		}
		for _, v := range saved {
			names = append(names, v.Name)
		}
	}
	reader := drillReader{ctx: w.ctx, catalogue: catalogue, journal: w.journal, back: longestRun(rungs) - 1, warn: w.e.err, now: w.e.now}
	learned, err := reader.all(names)
	if err != nil || learned == nil {
		return err
	}
	w.kept.Own = learned.vocabulary.Own
	if catalogue, err = catalogue.With(w.kept.Own); err != nil {
		return asked(err, "")
	}
	had := map[figure.Figure]int{}
	for _, p := range w.past {
		for _, f := range p.kept.Drilled {
			had[f]++
		}
	}
	entries := slices.Clone(learned.vocabulary.Figures)
	slices.SortStableFunc(entries, func(a, b figure.Entry) int {
		return cmp.Or(cmp.Compare(had[a.Figure], had[b.Figure]), cmp.Compare(2*a.Count+a.Within, 2*b.Count+b.Within))
	})
	for _, e := range entries {
		if s := catalogue.Shape(e.Shape); s != nil && s.Notes() >= 3 && len(w.kept.Figures) < figuresKept {
			w.kept.Figures = append(w.kept.Figures, e.Figure)
		}
	}
	return nil
}

// make makes the warm-up of what was settled or kept.
func (w *warmupBook) make() (*warmup.Day, error) {
	k := &w.kept
	in, err := theory.InstrumentByID(k.Instrument)
	if err != nil {
		return nil, err
	}
	bracket, err := theory.ParseBracket(k.Bracket)
	if err != nil {
		return nil, err
	}
	catalogue, err := figure.Default().With(k.Own)
	if err != nil {
		return nil, err
	}
	return warmup.Make(catalogue, warmup.Request{
		Instrument: in, Rung: k.Rung, Bracket: bracket, Keys: k.Keys, Key: k.Key, Minutes: k.Minutes,
		Figures: k.Figures, Turn: k.Turn, Seed: k.Seed, Avoid: k.Avoid,
	})
}

// keep adds a fresh warm-up to the journal.
func (w *warmupBook) keep(d *warmup.Day) error {
	w.kept.Concert = d.Concert
	var lines []uint64
	for i := range d.Exercises {
		e := &d.Exercises[i]
		if e.Figure != nil {
			w.kept.Drilled = append(w.kept.Drilled, *e.Figure)
		}
		for k := range e.Lines {
			lines = append(lines, e.Lines[k].Hash())
		}
	}
	request, err := json.Marshal(w.kept)
	if err != nil {
		return err
	}
	_, err = w.journal.AddWarmup(w.ctx, journal.Warmup{Day: w.o.Day, Request: request, Lines: lines})
	return err
}
