package compose

import (
	"errors"
	"fmt"
	"math"

	"onward/compose/idiom"
	"onward/compose/score"
)

// attempts is how often a melody is drawn at most. Seams that no lattice sees, from a
// repeat sign back to its strain's start, are looked up on the finished page; where one
// makes a run that was heard before, the melody is drawn anew.
const attempts = 8

// Compose makes the read that the request asks for. A *RequestError says that it
// cannot be met and what to change; any other error is a fault of the program or of
// what remembers earlier reads.
func Compose(w *World, req Request) (*Read, error) {
	r, _, err := compose(w, req)
	return r, err
}

// settlings is how often at most what a request leaves open is drawn, such as meter and
// key, until a melody is found that nobody has read.
const settlings = 16

// refusals is in how many of them no melody is found until the request is refused.
const refusals = 4

// compose is Compose, and reports how often a melody was drawn.
func compose(w *World, req Request) (*Read, int, error) {
	if req.Aims.given() {
		return composeAims(w, req)
	}
	var p *piece
	var least *Read // of the reads that share too much with an earlier one, the one that shares least
	var first error // why no melody was found in what was drawn first
	draws, refused := 0, 0
	for times := 0; times < settlings && refused < refusals; times++ {
		next, err := settleAnew(w, req, times)
		if err != nil {
			return nil, draws, err
		}
		next.goOn(p)
		p = next
		r, err := p.read()
		draws += p.draws
		var refusal *RequestError
		var returned *returnedError
		switch {
		case err == nil && !r.Certificate.crowded():
			return r, draws, nil
		case err == nil:
			if !r.Certificate.sharesMoreThan(least) {
				least = r
			}
		case !errors.As(err, &refusal) && !errors.As(err, &returned):
			return nil, draws, err
		default:
			if refused++; first == nil {
				first = err
			}
		}
	}
	if least != nil {
		least.sayShared()
		return least, draws, nil
	}
	return nil, draws, first
}

// read draws the piece until it is a read that shares little with any earlier one, or,
// where none is found, the one that shares least.
func (p *piece) read() (*Read, error) {
	var least *Read
	for again := true; ; {
		if again {
			if err := p.plan(); err != nil {
				return p.giveUp(least, err)
			}
		}
		err := p.melody()
		if p.draws++; err != nil {
			if !p.otherRhythm(err) {
				return p.giveUp(least, err)
			}
			again = true
			continue
		}
		var r *Read
		if r, again = p.page(); again {
			continue
		}
		if err = r.Certificate.count(&r.Score.Parts[0], p.world.Measures); err == nil && !r.Certificate.sharesMoreThan(least) {
			err = p.finish(r)
		}
		var returned *returnedError
		p.attempt++
		switch {
		case err == nil && !r.Certificate.crowded():
			return r, nil
		case err == nil:
			if !r.Certificate.sharesMoreThan(least) {
				least = r
			}
			if p.crowded++; p.crowded == sharingTries {
				return least, nil
			}
			p.wearOut(r)
		case errors.As(err, &returned):
			if p.returns++; p.returns == attempts {
				return p.giveUp(least, err)
			}
		default:
			return nil, err
		}
		p.clear()
	}
}

// thousandths rounds a figure to what is worth saying, the same on every machine.
func thousandths(x float64) float64 { return math.Round(x*1000) / 1000 }

// keepsClear reports an error where the page has a run of a tune that was learned from. Where
// draw after draw has one, as few figures were drilled, the last of them is kept and says so.
func (p *piece) keepsClear(r *Read) error {
	for _, l := range Lines(&r.Score.Parts[0], idiom.RunLength-1) {
		runs := l.learnedRuns()
		if len(runs) == 0 {
			continue
		}
		if p.returns < attempts-1 {
			return &returnedError{p.req.Seed, idiom.RunLength, fmt.Sprintf("from note %d on, of a tune that was learned from", runs[0])}
		}
		r.Loosened = append(r.Loosened, fmt.Sprintf("%d notes in a row stand in a tune that was learned from", idiom.RunLength))
		break
	}
	return nil
}

// finish marks the page, measures it, and proves it.
func (p *piece) finish(r *Read) error {
	p.marks(r)
	part := &r.Score.Parts[0]
	score.SetTuplets(part)
	score.SetBeams(part)
	score.SetAccidentals(part)
	r.Fresh = p.fresh(r)
	for i, w := range p.weigh(part) {
		r.Load = append(r.Load, thousandths(p.loadOf(float64(w), part.Measures[i].Length)))
	}
	r.Coverage, r.LegalLog10 = thousandths(p.coverage(part)), thousandths(r.LegalLog10)
	r.Identity = p.req.Identity()
	r.Score.Identity = r.Identity
	if err := score.Check(r.Score).Err(); err != nil {
		return fmt.Errorf("compose: seed %d: %w", p.req.Seed, err)
	}
	var err error
	if err := p.keepsClear(r); err != nil {
		return err
	}
	r.Certificate, err = certify(r, p.world, p.req, p.run)
	return err
}
