package main

import (
	"fmt"
	"slices"

	"onward/cmd/internal/session"
	"onward/compose/figure"
	"onward/compose/survey"
)

// A dayPlan is how long the day's practice is to be.
type dayPlan struct{ minutes int }

const (
	usualDay   = 40 // minutes
	leastDay   = 15
	mostDay    = 120
	weakFigure = 0.75 // known less well than this is weak
	readTakes  = 4    // minutes of a read: look-over, take, slips
)

// plan puts the day's steps into the offer: warm-up, drill of the two weakest figures, a
// lyrical read, a march, and rests between about as long as the playing was.
func (d *dayPlan) plan(offer *session.Offer, c *climb) error {
	proposal := offer.Proposal
	step := func(title, why string, minutes int, choice session.Choice) {
		choice.Minutes, choice.Instrument = minutes, proposal.Instrument
		if choice.Pressure == nil {
			choice.Pressure = []string{}
		}
		offer.Plan = append(offer.Plan, session.Step{Choice: choice, Title: title, Why: why})
	}
	rest := func(minutes int) {
		step("Rest", "about as long as you played", max(1, minutes), session.Choice{Kind: session.Pause, Percent: 100})
	}
	warm := d.minutes / 4
	drill := max(2, d.minutes/10)
	step("Warm-up", "another one each day; its rests are in it", max(5, warm), session.Choice{Kind: session.WarmUp, Percent: 100, Rung: proposal.Rung})
	rest(warm / 3)
	if weak, words := c.weakest(2); len(weak) > 0 {
		step("Drill", words, drill, session.Choice{Kind: session.Drill, Percent: 100, Figures: weak, Key: c.drillKey(offer)})
		rest(drill)
	}
	reads := []string{"lyrical", "march"}
	for rounds := max(1, (d.minutes-warm-warm/3-2*drill)/(4*readTakes)); rounds > 0; rounds-- {
		for i, style := range reads {
			choice, ok := offer.ByStyle[style]
			if !ok {
				continue
			}
			step(fmt.Sprintf("Read, %s", style), fmt.Sprintf("rung %d, never seen", choice.Rung), readTakes, choice)
			if rounds > 1 || i+1 < len(reads) {
				rest(readTakes)
			}
		}
	}
	return nil
}

// drillKey is a concert key for the day's drill: that of the proposal, B-flat at first.
func (c *climb) drillKey(offer *session.Offer) string { return offer.Proposal.Key }

// weakest names the figures that are known least of those that were met, those that the
// model wants back first, at most so many.
func (c *climb) weakest(most int) (names []string, words string) {
	wanted := slices.Clone(c.wanted)
	known := slices.Clone(c.known)
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
