package main

import (
	"fmt"
	"maps"
	"slices"

	"onward/cmd/internal/session"
	"onward/compose/figure"
	"onward/compose/progress"
	"onward/compose/survey"
)

// A dayPlan is the day's practice: how long it is to be, and its steps once they are made.
type dayPlan struct {
	minutes int
	steps   []session.Step
}

const (
	usualDay    = 40 // minutes
	leastDay    = 15
	mostDay     = 120
	weakFigure  = 0.75 // known less well than this is weak
	readMinutes = 4    // of a read: look-over, take, slips
)

// planned are the styles that a day's reads take in turn.
var planned = []string{"lyrical", "march"}

// plan puts the day's steps into the offer. They stay as they were made, but for what a read
// is to be: that follows from the takes before it.
func (d *dayPlan) plan(offer *session.Offer, c *climb) {
	if d.steps == nil {
		d.make(offer, c)
		d.tick(c)
	}
	for i := range d.steps {
		if s := &d.steps[i]; s.Kind == session.Read && !s.Done {
			minutes := s.Minutes
			s.Choice = offer.ByStyle[s.Style]
			s.Minutes, s.Why = minutes, fmt.Sprintf("rung %d, never seen", s.Rung)
		}
	}
	offer.Plan = slices.Clone(d.steps)
}

// tick takes as done what the journal has of today: reads, the warm-up, and what was to come
// ahead of a read that is done.
func (d *dayPlan) tick(c *climb) {
	left := maps.Clone(c.today)
	for i := range d.steps {
		s := &d.steps[i]
		if s.Done = s.Kind == session.Read && left[s.Style] > 0; s.Done {
			left[s.Style]--
		}
	}
	ahead := false
	for i := len(d.steps) - 1; i >= 0; i-- {
		switch s := &d.steps[i]; s.Kind {
		case session.Read:
			ahead = s.Done
		case session.WarmUp:
			s.Done = ahead || c.warmed
		default:
			s.Done = ahead
		}
	}
}

// make makes the steps: warm-up, drill of the two weakest figures, a lyrical read, a march,
// more of both in turn as there is time, and rests between, about as long as the playing was.
func (d *dayPlan) make(offer *session.Offer, c *climb) {
	proposal := offer.Proposal
	step := func(title, why string, minutes int, choice session.Choice) {
		choice.Minutes, choice.Instrument = minutes, proposal.Instrument
		if choice.Pressure == nil {
			choice.Pressure = []string{}
		}
		d.steps = append(d.steps, session.Step{Choice: choice, Title: title, Why: why})
	}
	rest := func(minutes int) {
		step("Rest", "about as long as you played", max(1, minutes), session.Choice{Kind: session.Pause, Percent: 100})
	}
	left := d.minutes
	warm := max(5, d.minutes/4)
	step("Warm-up", "another one each day; its rests are in it", warm, session.Choice{Kind: session.WarmUp, Percent: 100, Rung: proposal.Rung})
	rest(max(1, warm/4))
	left -= warm + max(1, warm/4)
	if weak, words := c.weakest(2); len(weak) > 0 {
		drill := max(2, d.minutes/10)
		step("Drill", words, drill, session.Choice{Kind: session.Drill, Percent: 100, Figures: weak, Key: proposal.Key})
		rest(drill)
		left -= 2 * drill
	}
	for i := 0; i < 2 || left >= 2*readMinutes; i++ {
		style := planned[i%len(planned)]
		choice := offer.ByStyle[style]
		if i > 0 {
			rest(readMinutes)
			left -= readMinutes
		}
		step("Read, "+style, fmt.Sprintf("rung %d, never seen", choice.Rung), readMinutes, choice)
		left -= readMinutes
	}
}

// weakest names the figures that were known least of those that were met before today, those
// that the model wants back first, at most so many.
func (c *climb) weakest(most int) (names []string, words string) {
	var wanted []figure.Figure
	for _, style := range planned {
		p := c.dawn.model.Next(progress.Ask{Style: style, Now: c.dawn.at, Known: c.dawn.known})
		wanted = append(wanted, p.Wanted...)
	}
	known := slices.Clone(c.dawn.known)
	slices.SortStableFunc(known, func(a, b figure.Known) int {
		switch {
		case a.Share < b.Share:
			return -1
		case a.Share > b.Share:
			return 1
		}
		return 0
	})
	for _, k := range known {
		if k.Share < weakFigure {
			wanted = append(wanted, k.Figure)
		}
	}
	for _, f := range wanted {
		shape, cell := c.catalogue.Shape(f.Shape), c.catalogue.Cell(f.Cell)
		if shape == nil || cell == nil || shape.Notes() < 3 || slices.Contains(names, figureName(f)) || len(names) == most {
			continue
		}
		names = append(names, figureName(f))
		if words != "" {
			words += "; "
		}
		words += survey.FigureWords(shape, cell)
	}
	return names, words
}
