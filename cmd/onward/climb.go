package main

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/compose/figure"
	"onward/compose/ladder"
	"onward/compose/progress"
	"onward/styles"
	"onward/theory"
)

// A climb is what the journal tells of the player: what the ladder's model makes of all
// takes, and how well the figures are known.
type climb struct {
	model     *progress.Model
	known     []figure.Known
	catalogue *figure.Catalogue // with the player's own shapes
	rungs     *ladder.Ladder
	last      *journal.PastTake // the latest of a read, nil before the first
	saved     bool              // something was learned
	today     map[string]int    // takes that were played to their end today, by style
	warmed    bool              // today's warm-up was given
	// dawn is what was known when the day began: the day's plan is made of that, so that it
	// stays the same all day.
	dawn struct {
		at    time.Time
		model *progress.Model
		known []figure.Known
	}
	e *env
}

// openClimb reads the journal.
func openClimb(ctx context.Context, e *env, j *journal.Journal) (*climb, error) {
	c := &climb{catalogue: figure.Default(), e: e}
	var err error
	if c.rungs, err = ladder.Default(c.catalogue); err != nil {
		return nil, err
	}
	reader := drillReader{ctx: ctx, catalogue: c.catalogue, journal: j, warn: e.err, now: e.now}
	if err := reader.knowOwn(); err != nil {
		return nil, err
	}
	c.catalogue = reader.catalogue
	practice, err := practised(ctx, j)
	if err != nil {
		return nil, err
	}
	c.known, c.saved = figure.Knowing(practice, e.now()), len(practice) > 0
	history, err := j.History(ctx)
	if err != nil {
		return nil, err
	}
	for i := range history {
		if history[i].Rung > 0 { // a printed piece says nothing of styles
			c.last = &history[i]
		}
	}
	day := e.now().Format(time.DateOnly)
	c.today = map[string]int{}
	for i := range history {
		if t := &history[i]; t.Outcome == journal.KeptGoing && t.Started.Local().Format(time.DateOnly) == day {
			c.today[t.Style]++
		}
	}
	warmups, err := j.Warmups(ctx, 1)
	if err != nil {
		return nil, err
	}
	c.warmed = len(warmups) > 0 && warmups[0].Day == day
	takes, err := c.takes(history, practice)
	if err != nil {
		return nil, err
	}
	c.model = progress.Read(takes, c.rungs)
	now := e.now()
	c.dawn.at = time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	c.dawn.known = figure.Knowing(slices.DeleteFunc(practice, func(p figure.Practice) bool { return !p.At.Before(c.dawn.at) }), c.dawn.at)
	c.dawn.model = progress.Read(slices.DeleteFunc(takes, func(t progress.Take) bool { return !t.At.Before(c.dawn.at) }), c.rungs)
	return c, nil
}

// takes are the journal's as the model wants them. A figure counts as known in a take if
// it was met before, or belongs to lower rungs than the read's.
func (c *climb) takes(history []journal.PastTake, practice []figure.Practice) ([]progress.Take, error) {
	practice = slices.SortedStableFunc(slices.Values(practice), func(a, b figure.Practice) int { return a.At.Compare(b.At) })
	met := map[figure.Figure]bool{}
	var all []progress.Take
	for i := range history {
		t := &history[i]
		for len(practice) > 0 && !practice[0].At.After(t.Started) {
			met[practice[0].Figure] = true
			practice = practice[1:]
		}
		if !t.Marked || t.Loads == nil || t.Figures == nil {
			continue
		}
		take, err := c.take(t, met)
		if err != nil {
			return nil, fmt.Errorf("take %d of the journal: %w", t.ID, err)
		}
		all = append(all, take)
	}
	return all, nil
}

// take is one of them. met are the figures met before.
func (c *climb) take(t *journal.PastTake, met map[figure.Figure]bool) (progress.Take, error) {
	out := progress.Take{At: t.Started, Style: t.Style, Rung: t.Rung, Percent: t.Percent, Pressure: t.Pressure,
		StoppedAt: t.StoppedAt, Marked: t.Marked}
	var loads []float64
	var figures []metFigure
	if err := json.Unmarshal(t.Loads, &loads); err != nil {
		return out, err
	}
	if err := json.Unmarshal(t.Figures, &figures); err != nil {
		return out, err
	}
	out.Measures = make([]progress.Measure, len(loads))
	notes, strange := make([]int, len(loads)), make([]int, len(loads))
	for i, l := range loads {
		out.Measures[i].Load = l
	}
	for _, f := range figures {
		key, err := theory.ParseKey(f.Key)
		if err != nil {
			return out, err
		}
		one := figure.Figure{Shape: f.Shape, Cell: f.Cell}
		size := 1
		if s := c.catalogue.Shape(f.Shape); s != nil {
			size = s.Notes()
		}
		for _, i := range f.Measures {
			if i < 0 || i >= len(loads) {
				return out, fmt.Errorf("a figure in measure index %d of %d", i, len(loads))
			}
			m := &out.Measures[i]
			m.Key, m.Figures = figure.FamilyOf(key), append(m.Figures, one)
			if notes[i] += size; !met[one] && c.level(one) >= t.Rung {
				strange[i] += size
			}
		}
	}
	for i, n := range notes {
		if n > 0 {
			out.Measures[i].Unknown = float64(strange[i]) / float64(n)
		}
	}
	for _, s := range t.Slips {
		if s.Measure < len(loads) {
			out.Measures[s.Measure].Pitch, out.Measures[s.Measure].Rhythm = s.Pitch, s.Rhythm
		}
	}
	return out, nil
}

// level is the rung from which a figure is used; of one that nobody knows the highest.
func (c *climb) level(f figure.Figure) int {
	shape, cell := c.catalogue.Shape(f.Shape), c.catalogue.Cell(f.Cell)
	if shape == nil || cell == nil {
		return len(c.rungs.Rungs)
	}
	return max(shape.Level, cell.Level)
}

// tempo is the percentage of the page's tempo at which a read that was proposed suits the
// player, now that it is composed: as proposed, or slower where it turned out hard.
func (c *climb) tempo(m *made, choice session.Choice) (int, error) {
	figures, err := metInRead(m.Read)
	if err != nil {
		return 0, err
	}
	loads, err := json.Marshal(m.Load)
	if err != nil {
		return 0, err
	}
	met := map[figure.Figure]bool{}
	for _, k := range c.known {
		met[k.Figure] = true
	}
	page, err := c.take(&journal.PastTake{Rung: m.Rung, Figures: figures, Loads: loads}, met)
	if err != nil {
		return 0, err
	}
	ask := progress.Ask{Style: m.Style.Name, Share: m.Style.Load, Now: c.e.now(), Known: c.known}
	percent, _ := c.model.Tempo(ask, progress.Proposal{Rung: m.Rung, Percent: choice.Percent, Coverage: choice.Coverage, Pressure: choice.Pressure}, page.Measures)
	return percent, nil
}

// next proposes the next read of a style on an instrument. rung is where a player without
// a history wants to start.
func (c *climb) next(sheet *styles.Sheet, in theory.Instrument, rung int) progress.Proposal {
	return c.model.Next(progress.Ask{Style: sheet.Name, Share: sheet.Load, Now: c.e.now(), Known: c.known, Rung: rung})
}

// choice is a proposal as the session has it.
func (c *climb) choice(p progress.Proposal, style string, in theory.Instrument) session.Choice {
	out := session.Choice{Kind: session.Read, Style: style, Rung: p.Rung, Instrument: in.ID, Percent: p.Percent, Pressure: p.Pressure}
	if out.Pressure == nil {
		out.Pressure = []string{}
	}
	for _, f := range p.Wanted {
		out.Figures = append(out.Figures, figureName(f))
	}
	if c.saved {
		out.Coverage = p.Coverage
	}
	if p.Key != nil {
		out.Key = c.keyIn(*p.Key, p.Rung, in)
	}
	return out
}

// keyIn is the concert key of the rung that is written in the family for the instrument;
// "" for none.
func (c *climb) keyIn(f figure.Family, rung int, in theory.Instrument) string {
	keys, err := keysOf(c.rungs, rung)
	if err != nil {
		return ""
	}
	for i := len(keys) - 1; i >= 0; i-- { // the latest that were added
		if figure.FamilyOf(keys[i].Transpose(in.Sounds.Neg())) == f {
			return keys[i].String()
		}
	}
	return ""
}

// figureName names a figure in a choice; figureNamed takes the name back.
func figureName(f figure.Figure) string { return f.Shape + "; " + f.Cell }

func figureNamed(name string) (figure.Figure, error) {
	shape, cell, found := strings.Cut(name, "; ")
	if !found {
		return figure.Figure{}, askedf("figure %q: name shape and cell, as in %q", name, "five up; five eighths")
	}
	return figure.Figure{Shape: shape, Cell: cell}, nil
}
