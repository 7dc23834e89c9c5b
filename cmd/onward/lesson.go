package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"onward/cmd/internal/journal"
	"onward/cmd/internal/session"
	"onward/compose"
	"onward/compose/figure"
	"onward/compose/score"
	"onward/compose/survey"
	"onward/rhythm"
	"onward/styles"
)

const (
	figuresBehind = 4 // are told of those behind slips
	drillMinutes  = 4
)

// Keep is session.Performance's: it puts the marks into the journal and says what they
// mean.
func (f *performance) Keep(ctx context.Context, marks []session.Mark, stopped int) (*session.Lesson, error) {
	f.practice.mu.Lock()
	defer f.practice.mu.Unlock()
	kept := journal.Marks{StoppedAt: stopped}
	for i, m := range marks {
		if m.Slipped() {
			kept.Slips = append(kept.Slips, journal.Slip{Measure: i, Pitch: m.Pitch, Rhythm: m.Rhythm})
		}
	}
	// What kept the journal from taking it, a full disk perhaps, may be mended by now.
	if _, err := f.taken.keepAgain(ctx); err != nil {
		return nil, err
	}
	j := f.studio.journal
	if err := j.Mark(ctx, f.taken.id, kept); err != nil {
		return nil, err
	}
	l := f.lesson(marks, stopped)
	c, err := openClimb(ctx, f.practice.e, j)
	if err != nil {
		return nil, err
	}
	m := f.made
	p := c.next(m.Style, m.Request.Instrument, m.Rung)
	l.Next, l.Why = f.practice.asked(c.choice(p, m.Style.Name, m.Request.Instrument)), p.Why
	f.practice.offered[m.Style.Name] = l.Next
	wanted, err := json.Marshal(p.Wanted)
	if err != nil {
		return nil, err
	}
	return l, j.KeepProposal(ctx, journal.Proposal{TakeID: f.taken.id, Style: m.Style.Name, Rung: p.Rung, Coverage: p.Coverage,
		New: p.New, Percent: p.Percent, Pressure: p.Pressure, Wanted: wanted, Why: strings.Join(p.Why, "\n")})
}

// lesson says what the slips mean.
func (f *performance) lesson(marks []session.Mark, stopped int) *session.Lesson {
	part := &f.made.Score.Parts[0]
	l := &session.Lesson{Of: len(marks), Right: rightOf(marks, stopped)}
	l.Lines = append(l.Lines, keptWords(l, stopped, part.Measures))
	l.Lines = append(l.Lines, slipWords(marks)...)
	l.Figures = f.behind(marks, stopped)
	for _, t := range f.made.Traps {
		words := fmt.Sprintf("measure %d starts like %q and leaves it: %s", printed(part, t.Measure), t.Like, t.Words)
		if marks[t.Measure].Slipped() {
			words += ". It caught you"
		}
		l.Traps = append(l.Traps, words)
	}
	if len(l.Figures) > 0 {
		l.Drill = &session.Choice{Kind: session.Drill, Instrument: f.made.Request.Instrument.ID, Minutes: drillMinutes,
			Percent: 100, Pressure: []string{}, Key: f.made.Key.String()}
		for _, b := range l.Figures {
			l.Drill.Figures = append(l.Drill.Figures, b.ID)
		}
	}
	return l
}

// rightOf counts the measures that came out as written: none from where the player stopped.
func rightOf(marks []session.Mark, stopped int) int {
	right := 0
	for i, m := range marks {
		if !m.Slipped() && (stopped == session.Kept || i < stopped) {
			right++
		}
	}
	return right
}

// keptWords say what the pulse did, which is judged by itself.
func keptWords(l *session.Lesson, stopped int, measures []score.Measure) string {
	switch {
	case stopped != session.Kept:
		return fmt.Sprintf("You stopped at %s; the band did not. Next time leave notes out, and come in on the next downbeat",
			measureWords(measures[stopped].Number))
	case l.Right == l.Of:
		return "All of it came out, and you kept going"
	}
	return "You kept going: what slipped cost only itself"
}

// slipWords say what slipped, pitch or rhythm, where that tells something.
func slipWords(marks []session.Mark) []string {
	pitch, rhythm := 0, 0
	for _, m := range marks {
		if m.Pitch {
			pitch++
		}
		if m.Rhythm {
			rhythm++
		}
	}
	switch {
	case pitch+rhythm < 2:
		return nil
	case rhythm >= 2*pitch:
		return []string{fmt.Sprintf("It was the rhythm, %d of %d times: count the next one before you play it", rhythm, pitch+rhythm)}
	case pitch >= 2*rhythm:
		return []string{fmt.Sprintf("It was the pitch, %d of %d times: key and accidentals are what to look over first", pitch, pitch+rhythm)}
	}
	return []string{fmt.Sprintf("Pitch slipped %s, rhythm %s", times(pitch), times(rhythm))}
}

// times says how often: "once", "3 times".
func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// behind finds the figures that stood where the player slipped: those that slipped the
// larger share of the times that they came, and oftener, first.
func (f *performance) behind(marks []session.Mark, stopped int) []session.Behind {
	bad := func(i int) bool { return marks[i].Slipped() || i == stopped }
	came, slipped := map[figure.Figure]int{}, map[figure.Figure]int{}
	var order []figure.Figure
	first := map[figure.Figure]compose.Placed{}
	where := map[figure.Figure][]int{}
	for _, p := range f.made.Figures {
		if p.Notes < 2 { // a single note is a matter of its beat, not a figure
			continue
		}
		came[p.Figure]++
		if !bad(p.Measure) {
			continue
		}
		if slipped[p.Figure] == 0 {
			order, first[p.Figure] = append(order, p.Figure), p
		}
		slipped[p.Figure]++
		if n := printed(&f.made.Score.Parts[0], p.Measure); !slices.Contains(where[p.Figure], n) {
			where[p.Figure] = append(where[p.Figure], n)
		}
	}
	// how surely the figure is behind it: the lower end of the share, not the share itself
	sure := func(x figure.Figure) float64 { return float64(slipped[x]) / float64(came[x]+1) }
	slices.SortStableFunc(order, func(a, b figure.Figure) int {
		return cmp.Or(cmp.Compare(sure(b), sure(a)), cmp.Compare(first[b].Notes, first[a].Notes))
	})
	var out []session.Behind
	for _, x := range order[:min(figuresBehind, len(order))] {
		out = append(out, f.behindOne(first[x], where[x], slipped[x]))
	}
	return out
}

// behindOne says which figure it is, in words and notes.
func (f *performance) behindOne(p compose.Placed, where []int, times int) session.Behind {
	c := f.studio.world.Catalogue
	shape, cell := c.Shape(p.Shape), c.Cell(p.Cell)
	b := session.Behind{ID: figureName(p.Figure), Name: survey.FigureWords(shape, cell), Rhythm: rhythmWords(cell),
		Measures: where, Times: times}
	for i, left := p.Measure, p.Notes; left > 0 && i < len(f.made.Score.Parts[0].Measures); i++ {
		for _, n := range f.made.Score.Parts[0].Measures[i].Notes {
			if left > 0 && !n.Rest && !n.TieStop && (i > p.Measure || n.At >= p.At) {
				b.Notes = append(b.Notes, n.Pitch.String())
				left--
			}
		}
	}
	return b
}

// rhythmWords spell a cell out: "dotted eighth, sixteenth".
func rhythmWords(cell *rhythm.Cell) string {
	var words []string
	for _, e := range cell.Events {
		w := valueWords(e.Value)
		switch {
		case e.Rest:
			w += " rest"
		case e.Tied:
			w += " tied to"
		}
		words = append(words, w)
	}
	return strings.ReplaceAll(strings.Join(words, ", "), "tied to,", "tied to")
}

// Offer is session.Studio's.
func (p *practice) Offer(ctx context.Context) (*session.Offer, error) {
	offer, err := p.named(ctx)
	if err == nil {
		err = p.withJournal(ctx, func(j *journal.Journal) error { return p.offer(ctx, j, &offer) })
	}
	p.begun(err)
	return &offer, public(err)
}

// offer puts in what the journal proposes.
func (p *practice) offer(ctx context.Context, j *journal.Journal, offer *session.Offer) error {
	c, err := openClimb(ctx, p.e, j)
	if err != nil {
		return err
	}
	for _, r := range c.rungs.Rungs {
		offer.Rungs = append(offer.Rungs, session.Named{ID: fmt.Sprint(r.Number), Words: r.Name})
	}
	in, err := p.o.instrument(ctx, j)
	if err != nil {
		return err
	}
	offer.ByStyle = map[string]session.Choice{}
	for _, s := range offer.Styles {
		sheet, _, err := openStyle(ctx, cmp.Or(p.sheets[s.ID], s.ID))
		if err != nil {
			return err
		}
		proposal := c.next(sheet, in, p.o.Rung)
		choice := p.asked(c.choice(proposal, s.ID, in))
		offer.ByStyle[s.ID] = choice
		if s.ID == p.styleNow(c) {
			offer.Proposal, offer.Why = choice, proposal.Why
		}
	}
	p.mu.Lock()
	p.offered = maps.Clone(offer.ByStyle)
	p.mu.Unlock()
	if p.day != nil {
		p.day.plan(offer, c)
	}
	return nil
}

// asked puts into what is proposed what the flags ask of every take.
func (p *practice) asked(c session.Choice) session.Choice {
	c.LookOver = p.o.LookOver
	for _, name := range p.o.kinds() {
		if !slices.Contains(c.Pressure, name) {
			c.Pressure = append(c.Pressure, name)
		}
	}
	return c
}

// styleAsked is the style that the flags name, as it is listed: never the path of a sheet.
func (p *practice) styleAsked() string {
	for name := range p.sheets {
		return name
	}
	return p.o.Style
}

// styleNow is the style that is proposed: the one asked for, else the other than last time.
func (p *practice) styleNow(c *climb) string {
	if len(p.sheets) > 0 || p.o.styled || c.last == nil {
		return p.styleAsked()
	}
	names := styles.Names()
	return names[(slices.Index(names, c.last.Style)+1)%len(names)]
}
