package compose

import (
	"errors"
	"fmt"
	"math"

	"onward/compose/figure"
	"onward/compose/score"
	"onward/rhythm"
)

// slackest is how much slower than a style's slowest tempo a read may be taken so that
// it bears what its rung asks, in percent.
const slackest = 93

// crowded is how many times as many notes as planned a measure may bear, on average.
const crowded = 1.15

// noteWeight is what a note weighs in most reads, all told, in hundredths of a figure.
const noteWeight = 52.0

// choosePaces sets the tempos that rung and style have, and how many notes a measure
// bears: as many as the style likes, where some tempo then gives the rung's load.
func (p *piece) choosePaces() error {
	slow, fast := p.rung.Tempo[0], p.rung.Tempo[1]
	if slow == 0 {
		slow, fast = p.sheet.Tempo[0]*slackest/100, p.sheet.Tempo[1]*p.rung.Pace/100
	} else if b := p.meter.Beat(); b != rhythm.Quarter { // the bound counts quarters
		slow, fast = slow*int(rhythm.Quarter)/int(b), fast*int(rhythm.Quarter)/int(b)
	}
	p.paces, p.tempo = [2]int{slow + slow%2, max(fast-fast%2, slow+slow%2)}, (slow+fast)/2
	most, least := p.bearing(p.paces[0])/noteWeight, p.bearing(p.paces[1])/noteWeight
	onsets := min(max(p.sheet.Onsets, least*(1+nearly)), most*(1-nearly))
	if p.rung.Tempo[0] == 0 { // rather brisk than crowded
		calmest := int(p.bearing(1) / (noteWeight * onsets * crowded))
		p.paces[0] = min(max(p.paces[0], calmest+calmest%2), p.paces[1])
	}
	if p.req.Tempo == 0 {
		return nil
	}
	if p.req.Tempo < 30 || p.req.Tempo > 240 {
		return refuse("tempo %d: write felt beats a minute, 30 to 240", p.req.Tempo)
	}
	if p.rung.Tempo[0] != 0 && (p.req.Tempo < slow || p.req.Tempo > fast) {
		return refuse("tempo %d: rung %d keeps to %d to %d beats a minute; leave the tempo to the read, or take a rung from 5 on", p.req.Tempo, p.req.Rung, slow, fast)
	}
	return nil
}

// bearing reports what a measure bears at the tempo when it has the rung's load, in
// hundredths of a figure.
func (p *piece) bearing(tempo int) float64 {
	beats := float64(p.meter.Measure()) / float64(p.meter.Beat())
	return p.rung.Aim * p.styleLoad() * 100 * beats * 60 / float64(tempo)
}

// styleLoad reports how much a read of the style bears against the rung's aim.
func (p *piece) styleLoad() float64 {
	load := 1.0
	if p.req.Style.Load != 0 {
		load = p.req.Style.Load
	}
	if p.sheet.Load != 0 {
		load *= p.sheet.Load
	}
	return load
}

// rhythmTries is how often form and rhythm are drawn at most, and plansJudged how many that
// give the rung's load the critic chooses among.
const (
	rhythmTries = 16
	plansJudged = 8
)

// plan makes form, harmony and rhythm. As the rhythm tells most of what a read gives to
// take in, it is drawn again with more or fewer notes a measure until its load can be met;
// of several that meet it the critic chooses, and where none does, the nearest is taken. What
// was drilled comes first: with a vocabulary its cells say how many notes there are.
func (p *piece) plan() error {
	type drawn struct {
		try   int
		tilt  float64
		far   float64 // from the load, 0 where it is met
		liked float64 // by the critic
	}
	var best *drawn
	met := 0
	for range rhythmTries {
		if err := p.planned(); err != nil {
			return err
		}
		off, shows := p.off(p.expected()), p.mayShow() || p.keepsBack()
		d := &drawn{p.try, p.tilt, math.Abs(off), p.judgeRhythm()}
		if !shows {
			d.far += hidden
		}
		if p.drilled != nil {
			d.far = 0
		}
		if best == nil || d.far < best.far || d.far == best.far && d.liked > best.liked {
			best = d
		}
		p.try++
		if d.far == 0 {
			if met++; met == p.plansJudged() {
				break
			}
			continue
		}
		p.tilt += even(min(max(bend*off, -mostBend), mostBend))
	}
	last := p.try
	p.try, p.tilt = best.try, best.tilt
	err := p.planned()
	p.try = last
	return err
}

// planned makes form, harmony and rhythm once.
func (p *piece) planned() error {
	p.sections, p.loosened = nil, nil
	for _, stage := range []func() error{p.form, p.rhythms} {
		if err := stage(); err != nil {
			return err
		}
	}
	return nil
}

const (
	nearly   = 0.04 // how far off the load is let be
	bend     = 0.7  // how far the density is bent at once
	mostBend = 0.5
	hidden   = 0.2 // how far off a rhythm counts in which nothing of what it is to bring can show
)

// off reports how much more a measure should bear for some tempo to meet the load nearly,
// given what it bears, in hundredths: as a natural logarithm, below 0 for less.
func (p *piece) off(hundredths float64) float64 {
	low, high := p.bearing(p.paces[1]), p.bearing(p.paces[0])
	switch {
	case hundredths < low*(1-nearly):
		return math.Log(low * (1 + nearly) / hundredths)
	case hundredths > high*(1+nearly):
		return math.Log(high * (1 - nearly) / hundredths)
	}
	return 0
}

// expected reports what a measure of the rhythm is likely to weigh, in hundredths: its
// cells, with shapes of the level that the rung uses most.
func (p *piece) expected() float64 {
	sum, time := 0, rhythm.Duration(0)
	long, usual := p.world.Catalogue.ShapesOf(1)[0], &figure.Shape{Level: 1 + p.req.Rung/3}
	for _, s := range p.sections {
		for _, b := range p.onPage(s) {
			for _, l := range b.cells {
				time += l.cell.Span
				t := p.placed(s.key, l.cell)
				if t.Notes == 0 {
					continue
				}
				if t.Shape = usual; t.Notes == 1 {
					t.Shape = long
				}
				t.Known = !p.bounds.FreshCells[l.cell.Name]
				sum += t.Hundredths()
			}
		}
	}
	return p.heavier * float64(sum) * float64(p.meter.Measure()) / float64(max(time, 1))
}

// redraws is how often a whole read is drawn again at most to meet its rung's load.
const redraws = 2

// page writes the notes and takes the tempo at which they bear the rung's load. Where none
// does, it reports that the read is to be planned again, with another density.
func (p *piece) page() (r *Read, again bool) {
	r = p.assemble()
	part := &r.Score.Parts[0]
	score.SetAccidentals(part)
	weight := p.mean(part, p.weigh(part))
	p.setTempo(r, p.meeting(weight))
	if load := p.loadOf(weight, p.meter.Measure()); p.drilled == nil && (load < p.rung.Load[0]*p.styleLoad() || load > p.rung.Load[1]*p.styleLoad()) {
		if p.draws <= redraws {
			p.heavier *= weight / p.expected()
			return r, true
		}
		r.Loosened = append(r.Loosened, fmt.Sprintf("it bears %.2f figures a second, where rung %d has %.2f to %.2f",
			load, p.rung.Number, p.rung.Load[0]*p.styleLoad(), p.rung.Load[1]*p.styleLoad()))
	}
	if p.req.Tempo != 0 {
		p.setTempo(r, p.req.Tempo)
	}
	return r, false
}

// meeting reports the tempo at which a page whose measures weigh so much bears the load of
// the rung most nearly: an even number, as metronomes have.
func (p *piece) meeting(hundredths float64) int {
	return min(max(2*int(math.Round(p.bearing(1)/hundredths/2)), p.paces[0]), p.paces[1])
}

// setTempo writes the tempo on the page.
func (p *piece) setTempo(r *Read, tempo int) {
	p.tempo, r.Tempo = tempo, tempo
	r.Score.Parts[0].Measures[0].Tempo.BPM = tempo
}

// otherRhythms is how many rhythms are tried where no melody is found.
const otherRhythms = 4

// otherRhythm lets a read that no melody was found for take another rhythm, and reports
// whether it may.
func (p *piece) otherRhythm(err error) bool {
	var refused *RequestError
	p.try++
	return p.drilled == nil && p.draws <= otherRhythms && errors.As(err, &refused)
}
